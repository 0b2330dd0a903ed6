"""What an assessment leaves on the card: the decision, and how far a repair is proved."""

from __future__ import annotations

from datetime import UTC, datetime

from chargewright.diagnosis.case import Case
from chargewright.diagnosis.findings import Assessment, Decision, ProofFinding
from chargewright.diagnosis.prove import ENOUGH
from chargewright.diagnosis.question import Answer
from chargewright.jobs.assessment_json import snapshot_dict
from chargewright.jobs.card import JobCard
from chargewright.jobs.proved import ProofRead, ProvedRepair
from chargewright.version import __version__


def with_assessment(
    card: JobCard, case: Case, found: Assessment, *, at: datetime | None = None
) -> JobCard:
    """Return the card with the decision and the state of the proof; the same card when neither
    has changed. ``at`` is the time of a new proof, now when None.
    """
    snapshot = snapshot_dict(case, found)
    proved = proved_repair(card, case, found, at=at or datetime.now(UTC))
    held = card.proved
    if proved is not None and held is not None and proved.at != held.at:
        proved = held if proved.model_copy(update={"at": held.at}) == held else proved
    if card.decision == snapshot and held == proved:
        return card
    return card.changed(decision=snapshot, proved=proved)


def proved_repair(
    card: JobCard, case: Case, found: Assessment, *, at: datetime
) -> ProvedRepair | None:
    """Return the state of the proof of the repairs on the card, None where nothing is repaired."""
    repairs = tuple(dict.fromkeys(one.repair for one in card.repairs if one.repair is not None))
    if not repairs or found.decision is not Decision.REPAIR:
        return card.proved if repairs else None
    return ProvedRepair(
        at=at.replace(microsecond=0),
        repairs=repairs,
        checks=tuple(_read(one, case.proof) for one in found.proof),
        remaining=found.remaining,
        proved=found.remaining is not None and found.remaining < ENOUGH,
        versions={"chargewright": __version__},
    )


def _read(one: ProofFinding, answers: tuple[Answer, ...]) -> ProofRead:
    """Return a check of the proof with the reading that answers it, the last one counting."""
    question = one.question
    asked = (question.function, question.plus, question.minus)
    answer = next(
        (
            answer
            for answer in reversed(answers)
            if (answer.question.function, answer.question.plus, answer.question.minus) == asked
        ),
        None,
    )
    inside = None
    if answer is not None and answer.shown is not None and answer.shown.has_value:
        inside = one.low <= answer.shown.middle <= one.high
    return ProofRead(
        check=one.check.id,
        low=round(one.low, 4),
        high=round(one.high, 4),
        remaining=round(min(max(one.remaining, 0.0), 1.0), 4),
        reading=None if answer is None else answer.id,
        inside=inside,
    )
