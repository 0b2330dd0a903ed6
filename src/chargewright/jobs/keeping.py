"""What an assessment leaves on the card: the decision, and how far a repair is proved."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from chargewright.checks.catalogue import Check
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.findings import Assessment, ProofFinding
from chargewright.diagnosis.prove import ENOUGH
from chargewright.diagnosis.question import Answer
from chargewright.jobs.assessment_json import snapshot_dict
from chargewright.jobs.card import JobCard
from chargewright.jobs.proved import ProofRead, ProvedRepair
from chargewright.jobs.proving import points_to_done, read_since, under_way
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
    if not repairs:
        return None
    if under_way(case, found):
        checks = tuple(_read(one, read_since(case, found)) for one in found.proof)
    else:  # broken off: what was asked for stands, with what it read
        held = () if card.proved is None else card.proved.checks
        checks = tuple(_read_last(one, case) for one in held)
    sure = found.remaining is not None and found.remaining < ENOUGH
    return ProvedRepair(
        at=at.replace(microsecond=0),
        repairs=repairs,
        checks=checks,
        remaining=found.remaining,
        proved=sure and points_to_done(card, found),
        versions={"chargewright": __version__},
    )


def _read(one: ProofFinding, answers: Sequence[Answer]) -> ProofRead:
    """Return a check of the proof with the reading that answers it, the last one counting."""
    asked = ProofRead(
        check=one.check.id,
        low=round(one.low, 4),
        high=round(one.high, 4),
        remaining=round(min(max(one.remaining, 0.0), 1.0), 4),
    )
    return _answered(asked, one.check, answers)


def _read_last(held: ProofRead, case: Case) -> ProofRead:
    """Return a check kept on the card with what answers it after the last repair."""
    if held.check not in case.catalogue:
        return held
    return _answered(held, case.catalogue.get(held.check), case.mended[-1].answers)


def _answered(one: ProofRead, check: Check, answers: Sequence[Answer]) -> ProofRead:
    asked = (check.function, check.plus, check.minus)
    for answer in reversed(answers):
        question, shown = answer.question, answer.shown
        if (question.function, question.plus, question.minus) == asked:
            has_value = shown is not None and shown.has_value
            inside = one.low <= shown.middle <= one.high if shown and has_value else None
            return one.model_copy(update={"reading": answer.id, "inside": inside})
    return one
