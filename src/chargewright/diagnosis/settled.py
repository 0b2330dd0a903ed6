"""Answers as this machine and this meter stand: speeds, lamps and the meter's leads settled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from chargewright.diagnosis.advise import as_it_stands
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.question import Answer, with_known_speed
from chargewright.machine.points import Function


def settled(case: Case, answers: Sequence[Answer]) -> tuple[Answer, ...]:
    """Return answers as this machine stands: speeds, lamps and the meter's leads settled."""
    machine = case.machine
    ready = [
        replace(
            answer,
            question=as_it_stands(
                with_known_speed(answer.question, machine.speeds), machine.lights_always_on
            ),
        )
        for answer in answers
    ]
    return tuple(with_leads(swept(answer), ready) for answer in ready)


def swept(answer: Answer) -> Answer:
    """Return a span read over a range of speeds as its upper figure at the upper speeds.

    "14 to 17 at any throttle" tells where the reading ends up, not that any figure between
    was steady.
    """
    state, shown = answer.question.state, answer.shown
    if shown is None or shown.kind != "between" or shown.value_max is None:
        return answer
    if state.rpm is None or state.rpm_max is None:
        return answer
    upper = replace(state, rpm=(state.rpm * state.rpm_max) ** 0.5)
    return replace(
        answer,
        question=replace(answer.question, state=upper),
        shown=replace(shown, kind="about", value=shown.value_max, value_max=None),
    )


def with_leads(answer: Answer, answers: Sequence[Answer]) -> Answer:
    """Return an ohms answer whose meter has the lead resistance read with the leads together."""
    if answer.question.function is not Function.OHM or answer.nulled or answer.question.same_point:
        return answer
    own = [
        other.shown
        for other in answers
        if other.question.same_point and other.meter.id == answer.meter.id and other.shown
    ]
    if not own or own[-1].kind not in ("value", "about"):
        return answer
    card = answer.meter.function(Function.OHM)
    doubt = max(card.contact_ohm_u, own[-1].lsd / 12.0**0.5)
    functions = dict(answer.meter.functions)
    functions[Function.OHM] = replace(card, lead_ohm=own[-1].value, lead_ohm_u=doubt)
    return replace(answer, meter=replace(answer.meter, functions=functions))
