"""What can be said at once: the machines at hand weighed again, before any are drawn anew.

A full assessment draws fresh machines where few are left and plans ahead, which takes seconds of
computing at times. Verdicts and ranked causes need neither.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from chargewright.diagnosis.assess import (
    components_of,
    judged,
    likely_causes,
    to_repeat,
)
from chargewright.diagnosis.belief import Belief, believe, weigh
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.explain import Evidence, evidence
from chargewright.diagnosis.findings import CauseFinding, ComponentFinding, Judged, NextStep
from chargewright.diagnosis.population import Ints
from chargewright.diagnosis.question import Answer
from chargewright.diagnosis.settled import settled
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function

BELIEVED = 1e-9  # weight from which a machine is worth solving in advance
AT_ONCE = 6000  # machines that can be solved within a tenth of a second or so
SPEAKERS = 100  # machines that speak for one hypothesis where there are more


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """Verdicts, ranked causes and what the readings say, without a plan."""

    components: tuple[ComponentFinding, ...]
    causes: tuple[CauseFinding, ...]
    judged: tuple[Judged, ...]
    evidence: tuple[Evidence, ...]
    repeat: tuple[str, ...]


def glance(belief: Belief, case: Case, *, behind: int = 0) -> Glance:
    """Return what the readings of ``case`` say to the machines of an earlier ``belief``.

    ``behind`` counts the rounds of repair that the belief has behind it; the readings after the
    last of them speak.

    Where a reading asks what nothing was worked out for ahead, a few machines of each hypothesis
    speak for the rest.
    """
    read = case.mended[behind - 1].answers if behind else case.answers
    before = (answer for answer in belief.answers if answer.before)
    answers = (*before, *settled(case, read))
    at_hand = _at_hand(belief, answers)
    now = believe(at_hand.population, answers, at_hand)
    causes = likely_causes(now)
    said = evidence(now, [(cause.id, cause.title) for cause in causes])
    return Glance(
        components=components_of(now),
        causes=causes,
        judged=judged(case),
        evidence=said,
        repeat=to_repeat(said),
    )


def _at_hand(belief: Belief, answers: Sequence[Answer]) -> Belief:
    """Return the belief to weigh again: of all machines, or of some that speak for the rest."""
    predictions = belief.population.predictions
    believed = np.flatnonzero(belief.weights > BELIEVED)
    unknown = [
        answer
        for answer in answers
        if predictions.missing(answer.question, answer.meter, believed) > AT_ONCE
    ]
    if not unknown:
        return belief
    rows, weights = _some(belief, believed)
    for answer in unknown:
        predictions.prepare([answer.question], answer.meter, rows)
    kept = predictions.of(rows, [(answer.question, answer.meter) for answer in answers])
    logs = belief.log_likelihood[:, rows]
    fewer = replace(
        belief.population,
        member=belief.population.member[rows],
        z=belief.population.z[rows],
        params=kept.params,
        log_base=np.log(weights) - logs.sum(axis=0),
        predictions=kept,
    )
    return weigh(fewer, belief.answers, logs)


def _some(belief: Belief, believed: Ints) -> tuple[Ints, Array]:
    """Return up to ``SPEAKERS`` machines of each hypothesis: rows (k,) and weights (k,)."""
    member = belief.population.member[believed]
    rows, weights = [], []
    for number in np.unique(member):
        own = believed[member == number]
        running = np.cumsum(belief.weights[own])
        ticks = (np.arange(SPEAKERS) + 0.5) / SPEAKERS * running[-1]
        places, counts = np.unique(np.searchsorted(running, ticks), return_counts=True)
        rows.append(own[places])
        weights.append(counts / SPEAKERS * running[-1])
    return np.concatenate(rows), np.concatenate(weights)


def anticipate(belief: Belief, case: Case, steps: Sequence[NextStep]) -> None:
    """Work out what the offered checks read on every machine believed in, for the next glance."""
    rows = np.flatnonzero(belief.weights > BELIEVED)
    asked = [
        step.question
        for step in steps
        if step.question.function is not Function.LOOK and not step.question.same_point
    ]
    belief.population.predictions.prepare(asked, case.meter, rows)
