"""After the repair: the checks that prove it, one at a time."""

from __future__ import annotations

import math
from datetime import UTC, datetime

from chargewright.checks.cautions import cautions_for
from chargewright.checks.cost import minutes
from chargewright.diagnosis.case import Case, Mended
from chargewright.diagnosis.decisions import CHARGE
from chargewright.diagnosis.expected import Band
from chargewright.diagnosis.findings import Assessment, NextStep, ProofFinding
from chargewright.diagnosis.population import SOUND
from chargewright.diagnosis.prove import ENOUGH
from chargewright.diagnosis.question import Answer, Question
from chargewright.jobs.card import JobCard, Repair
from chargewright.jobs.rounds import repair_id, rounds
from chargewright.machine.points import Function, Point
from chargewright.meters.verdict import Outcome


def under_way(case: Case, found: Assessment) -> tuple[Mended, ...]:
    """Return the repair being proved, as a round of its own; none where none is."""
    return case.mended[found.behind :]


def read_since(case: Case, found: Assessment) -> tuple[Answer, ...]:
    """Return the readings that prove the repair under way; all of the proof where none is noted."""
    if not case.mended:
        return case.proof
    return tuple(answer for one in under_way(case, found) for answer in one.answers)


def done_ids(card: JobCard, found: Assessment) -> set[str]:
    """Return the ids of repairs done on the machine that ``found`` speaks of.

    Those it has behind it are not among them: each may be needed again. Charging is one, noted as
    an act or as a repair.
    """
    fresh = (repair for one in rounds(card)[found.behind :] for repair in one.repairs)
    return {name for name in map(repair_id, fresh) if name} | {
        act.act for act in card.done if act.act == CHARGE
    }


def points_to_done(card: JobCard, found: Assessment) -> bool:
    """Tell whether what the readings point to has been done, though more measuring may pay."""
    if not rounds(card)[found.behind :]:
        return False
    return set(found.ending.split("+")) <= done_ids(card, found)


def outside_after(case: Case, found: Assessment) -> tuple[str, ...]:
    """Return the ids of readings after the last repair that lie outside a limit."""
    last = case.mended[-1].answers if case.mended else case.proof
    after = {answer.id for answer in last}
    return tuple(
        dict.fromkeys(
            one.answer.id
            for one in found.judged
            if one.answer.id in after and one.verdict.outcome is Outcome.OUTSIDE
        )
    )


def is_proved(case: Case, found: Assessment) -> bool:
    """Tell whether readings after the repair leave little doubt, none of them outside a limit.

    Only a repair that is what the readings point to is proved so (``points_to_done``).
    """
    sure = found.remaining is not None and found.remaining <= ENOUGH
    return sure and not outside_after(case, found)


def with_repairs(card: JobCard, found: Assessment) -> JobCard:
    """Return the card with the advised repairs noted as done now."""
    done, now = done_ids(card, found), datetime.now(UTC)
    fresh = [Repair(repair=name, at=now) for name in found.ending.split("+") if name not in done]
    return card.changed(repairs=(*card.repairs, *fresh))


def next_proof(case: Case, found: Assessment) -> ProofFinding | None:
    """Return the proof that has not been read yet."""
    read = {_asked(answer.question) for answer in read_since(case, found)}
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
