"""After the repair: the checks that prove it, one at a time."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

from chargewright.checks.cautions import cautions_for
from chargewright.checks.cost import minutes
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.expected import Band
from chargewright.diagnosis.findings import Assessment, Decision, NextStep, ProofFinding
from chargewright.diagnosis.population import SOUND
from chargewright.diagnosis.prove import ENOUGH
from chargewright.jobs.card import JobCard, Repair
from chargewright.meters.verdict import Outcome


def repair_done(card: JobCard, found: Assessment) -> bool:
    """Tell whether the card says that what is advised has been repaired."""
    done = {repair.repair for repair in card.repairs}
    return found.decision is Decision.REPAIR and set(found.ending.split("+")) <= done


def points_to_done(card: JobCard, found: Assessment) -> bool:
    """Tell whether what the readings point to has been done, though more measuring may pay."""
    done = {repair.repair for repair in card.repairs} | {act.act for act in card.done}
    return bool(card.repairs) and set(found.ending.split("+")) <= done


def outside_after(case: Case, found: Assessment) -> tuple[str, ...]:
    """Return the ids of readings after the repair that lie outside a limit."""
    after = {answer.id for answer in case.proof}
    return tuple(
        dict.fromkeys(
            one.answer.id
            for one in found.judged
            if one.answer.id in after and one.verdict.outcome is Outcome.OUTSIDE
        )
    )


def is_proved(case: Case, found: Assessment) -> bool:
    """Tell whether readings after the repair leave little doubt, none of them outside a limit.

    Only for a repair that is what the readings point to: ``remaining`` speaks of no other.
    """
    sure = found.remaining is not None and found.remaining <= ENOUGH
    return sure and not outside_after(case, found)


def next_after(case: Case, found: Assessment) -> NextStep | None:
    """Return a check to do after a repair that nothing advised: the plan's best not done since.

    What it would read under each cause is left out: those bands speak of the fault before.
    """
    read = {(a.question.function, a.question.plus, a.question.minus) for a in case.proof}
    for one in found.steps:
        question = one.question
        if (question.function, question.plus, question.minus) not in read:
            return replace(one, expected=(), total_min=math.nan, act_now_min=math.nan)
    return None


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
