"""Any check of the catalogue as a step from where the machine stands now."""

from __future__ import annotations

import math

from chargewright.checks.catalogue import Check
from chargewright.checks.cautions import cautions_for
from chargewright.checks.cost import minutes, state_in
from chargewright.checks.safety import refuse
from chargewright.diagnosis.advise import as_it_stands
from chargewright.diagnosis.expected import bands
from chargewright.diagnosis.findings import Assessment, NextStep
from chargewright.diagnosis.population import SOUND
from chargewright.diagnosis.question import question_of
from chargewright.errors import InputError
from chargewright.workbench import Job

LEADING = 4


def step_for(job: Job, found: Assessment, check: Check) -> NextStep:
    """Return ``check`` as the step to do next; ``total_min`` is not known for it.

    Raises ``InputError`` for an act or a reading that can no longer be had, and
    ``UnsafeCheckError`` for what must not be measured.
    """
    planned = next((step for step in found.steps if step.check.id == check.id), None)
    if planned is not None:
        return planned
    if check.function is None:
        raise InputError(f"{check.id} is something to do, not to read; c notes that it is done")
    case = job.case
    question = as_it_stands(
        question_of(check, state_in(check, case.situation)), case.machine.lights_always_on
    )
    state = question.state
    refuse(check.function, check.plus, check.minus, state, layout=case.machine.layout)
    if question.sign is None:
        case.meter.function(check.function)
    price = minutes(check, case.situation, case.effort)
    if not math.isfinite(price.total):
        why = next(what for what, cost in price.parts if not math.isfinite(cost))
        raise InputError(f"{check.id}: {why}")
    told = [(cause.id, cause.title) for cause in found.causes[:LEADING] if cause.id != SOUND]
    told.append((SOUND, "nothing wrong"))
    return NextStep(
        check=check,
        question=question,
        minutes=price.total,
        parts=price.parts,
        wait_h=price.wait_h,
        cautions=cautions_for(check, case.book.cautions),
        expected=bands(job.session.belief, question, told, meter=case.meter, nulled=case.nulled),
        total_min=math.nan,
        act_now_min=found.end_min,
    )
