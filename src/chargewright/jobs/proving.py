"""After the repair: the checks that prove it, one at a time."""

from __future__ import annotations

import math
from datetime import UTC, datetime

from chargewright.checks.cautions import cautions_for
from chargewright.checks.cost import minutes
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.expected import Band
from chargewright.diagnosis.findings import Assessment, Decision, NextStep, ProofFinding
from chargewright.diagnosis.population import SOUND
from chargewright.jobs.card import JobCard, Repair


def repair_done(card: JobCard, found: Assessment) -> bool:
    """Tell whether the card says that what is advised has been repaired."""
    done = {repair.repair for repair in card.repairs}
    return found.decision is Decision.REPAIR and set(found.ending.split("+")) <= done


def with_repairs(card: JobCard, found: Assessment) -> JobCard:
    """Return the card with the advised repairs noted as done now."""
    done = {repair.repair for repair in card.repairs}
    now = datetime.now(UTC).replace(microsecond=0)
    fresh = [Repair(repair=name, at=now) for name in found.ending.split("+") if name not in done]
    return card.changed(repairs=(*card.repairs, *fresh))


def next_proof(case: Case, found: Assessment) -> ProofFinding | None:
    """Return the proof that has not been read yet."""
    read = {(a.question.function, a.question.plus, a.question.minus) for a in case.proof}
    for one in found.proof:
        question = one.question
        if (question.function, question.plus, question.minus) not in read:
            return one
    return None


def proof_step(case: Case, one: ProofFinding) -> NextStep:
    """Return a proof as a step for the bench."""
    price = minutes(one.check, case.situation, case.effort)
    known = math.isfinite(price.total)
    return NextStep(
        check=one.check,
        question=one.question,
        minutes=price.total if known else one.check.minutes,
        parts=price.parts if known else (),
        wait_h=price.wait_h,
        cautions=cautions_for(one.check, case.book.cautions),
        expected=(Band(cause=SOUND, title="a sound machine", low=one.low, high=one.high),),
        total_min=math.nan,
        act_now_min=math.nan,
    )
