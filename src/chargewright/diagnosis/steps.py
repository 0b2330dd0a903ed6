"""A check as the step to do next: what it costs from here and what it would read.

One builder for the steps a plan names and for any other check somebody asks for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from chargewright.checks.catalogue import Check
from chargewright.checks.cautions import cautions_for
from chargewright.checks.cost import minutes, state_in
from chargewright.checks.safety import refuse
from chargewright.diagnosis.advise import Advice, as_it_stands
from chargewright.diagnosis.belief import Belief
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.expected import bands
from chargewright.diagnosis.findings import NextStep
from chargewright.diagnosis.population import SOUND
from chargewright.diagnosis.question import Question, question_of
from chargewright.errors import InputError
from chargewright.machine.parameters import Array

LEADING = 4  # causes whose expected readings are shown
SHOWN_STEPS = 5
Told = Sequence[tuple[str, str]]  # (cause id, title)


def planned_steps(case: Case, belief: Belief, advice: Advice, told: Told) -> tuple[NextStep, ...]:
    """Return the plan's best first steps, the chosen one first."""
    by_id = {option.check.id: option for option in advice.options}
    plan = advice.plan
    order = [advice.problem.checks[candidate.index].name for candidate in plan.candidates]
    if plan.step.kind == "check":
        order = [plan.step.name, *(name for name in order if name != plan.step.name)]
    cost = {candidate.name: candidate.cost_min for candidate in plan.candidates}
    weights = np.zeros(len(belief.weights))  # the planner's machines are solved for every option
    weights[advice.worlds] = advice.world_weights
    return tuple(
        _step(
            case,
            belief,
            by_id[name].check,
            by_id[name].question,
            told,
            weights=weights,
            total_min=cost[name],
            act_now_min=plan.act_now_min,
        )
        for name in order[:SHOWN_STEPS]
    )


def step_for(
    case: Case, belief: Belief, check: Check, told: Told, *, act_now_min: float
) -> NextStep:
    """Return any check of the catalogue as a step; its ``total_min`` is not known (NaN).

    Raises ``InputError`` for an act, a function the meter lacks or a reading that can no
    longer be had, and ``UnsafeCheckError`` for what must not be measured.
    """
    if check.function is None:
        raise InputError(f"{check.id} is something to do, not to read; note it as done")
    state = state_in(check, case.situation)
    question = as_it_stands(question_of(check, state), case.machine.lights_always_on)
    layout = case.machine.layout
    refuse(check.function, check.plus, check.minus, question.state, layout=layout)
    if question.sign is None:
        case.meter.function(check.function)
    price = minutes(check, case.situation, case.effort)
    if not math.isfinite(price.total):
        why = next(what for what, cost in price.parts if not math.isfinite(cost))
        raise InputError(f"{check.id}: {why}")
    return _step(
        case,
        belief,
        check,
        question,
        told,
        weights=belief.weights,
        total_min=math.nan,
        act_now_min=act_now_min,
    )


def _step(
    case: Case,
    belief: Belief,
    check: Check,
    question: Question,
    told: Told,
    *,
    weights: Array,
    total_min: float,
    act_now_min: float,
) -> NextStep:
    price = minutes(check, case.situation, case.effort)
    shown = [*(one for one in told[:LEADING] if one[0] != SOUND), (SOUND, "nothing wrong")]
    return NextStep(
        check=check,
        question=question,
        minutes=price.total,
        parts=price.parts,
        wait_h=price.wait_h,
        cautions=cautions_for(check, case.book.cautions),
        expected=bands(
            belief, question, shown, meter=case.meter, nulled=case.nulled, weights=weights
        ),
        total_min=total_min,
        act_now_min=act_now_min,
    )
