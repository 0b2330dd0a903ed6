"""Repairs in the order they were done, each with what was read after it.

A card lists repairs and readings apart; their times tell which reading followed which repair.
Repairs with no reading between them were done together.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from chargewright.errors import InputError
from chargewright.jobs.card import JobCard, Repair
from chargewright.machine.cause_file import catalogue

FIRST = datetime.min.replace(tzinfo=UTC)  # of a repair whose time nobody noted


@dataclass(frozen=True, slots=True)
class Round:
    """Repairs done together, and the ids of the readings taken after them."""

    repairs: tuple[Repair, ...]
    readings: frozenset[str]


def repair_id(repair: Repair) -> str | None:
    """Return the id of a repair, found by its cause where the card names only that."""
    if repair.repair is not None:
        return repair.repair
    try:
        return catalogue().get(str(repair.cause)).repair.id
    except InputError:
        return None


def rounds(card: JobCard) -> tuple[Round, ...]:
    """Return the rounds of repair and proof on a card, none where nothing is repaired.

    A reading without a time was taken when the one before it was; the first of a card, and one
    that is older than every repair, speaks about the first of them.
    """
    repairs = sorted(card.repairs, key=lambda one: one.at or FIRST)
    if not repairs:
        return ()
    after: list[set[str]] = [set() for _ in repairs]
    now = FIRST
    for reading in card.proof:
        now = reading.at or now
        done = sum((one.at or FIRST) <= now for one in repairs)
        after[max(done, 1) - 1].add(reading.id)
    found: list[Round] = []
    together: list[Repair] = []
    for place, (repair, readings) in enumerate(zip(repairs, after, strict=True)):
        together.append(repair)
        if readings or place == len(repairs) - 1:
            found.append(Round(tuple(together), frozenset(readings)))
            together = []
    return tuple(found)
