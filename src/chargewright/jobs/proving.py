"""After the repair: the checks that prove it, one at a time."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

from chargewright.checks.cautions import cautions_for
from chargewright.checks.cost import minutes
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.decisions import CHARGE
from chargewright.diagnosis.expected import Band
from chargewright.diagnosis.findings import Assessment, Decision, NextStep, ProofFinding
from chargewright.diagnosis.population import SOUND
from chargewright.diagnosis.prove import ENOUGH
from chargewright.diagnosis.question import Question
from chargewright.errors import InputError
from chargewright.jobs.card import JobCard, Repair
from chargewright.machine.cause_file import catalogue
from chargewright.machine.points import Function, Point
from chargewright.meters.verdict import Outcome


def repair_id(repair: Repair) -> str | None:
    """Return the id of a repair, found by its cause where the card names only that."""
    if repair.repair is not None:
        return repair.repair
    try:
        return catalogue().get(str(repair.cause)).repair.id
    except InputError:
        return None


def done_ids(card: JobCard) -> set[str]:
    """Return the ids of repairs done; charging is one of them, noted as an act or as a repair."""
    return {name for name in map(repair_id, card.repairs) if name} | {
        act.act for act in card.done if act.act == CHARGE
    }


def points_to_done(card: JobCard, found: Assessment) -> bool:
    """Tell whether what the readings point to has been done, though more measuring may pay."""
    return bool(card.repairs) and set(found.ending.split("+")) <= done_ids(card)


def repair_done(card: JobCard, found: Assessment) -> bool:
    """Tell whether what was advised to repair has been noted as done."""
    return found.decision is Decision.REPAIR and points_to_done(card, found)


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
    read = {_asked(answer.question) for answer in case.proof}
    for one in found.steps:
        if _asked(one.question) not in read:
            return replace(one, expected=(), total_min=math.nan, act_now_min=math.nan)
    return None


def with_repairs(card: JobCard, found: Assessment) -> JobCard:
    """Return the card with the advised repairs noted as done now."""
    done = {repair_id(repair) for repair in card.repairs}
    now = datetime.now(UTC).replace(microsecond=0)
    fresh = [Repair(repair=name, at=now) for name in found.ending.split("+") if name not in done]
    return card.changed(repairs=(*card.repairs, *fresh))


def next_proof(case: Case, found: Assessment) -> ProofFinding | None:
    """Return the proof that has not been read yet."""
    read = {_asked(answer.question) for answer in case.proof}
    return next((one for one in found.proof if _asked(one.question) not in read), None)


def _asked(question: Question) -> tuple[Function, Point | None, Point | None]:
    return question.function, question.plus, question.minus


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
