"""Which reading followed which repair, told from a card's times."""

from __future__ import annotations

from typing import Any

import pytest

from chargewright.jobs.codec import card_from_dict
from chargewright.jobs.rounds import rounds

HEAD = {
    "card_version": 2,
    "id": "x",
    "created": "2026-08-01T08:00:00Z",
    "machine": {"class": "sport-600-1000"},
}


def reading(name: str, at: str | None, stage: str = "after_repair") -> dict[str, Any]:
    """Return battery volts taken at an hour of the day."""
    return {
        "id": name,
        "function": "dc_v",
        "plus": "battery_pos",
        "minus": "battery_neg",
        "stage": stage,
        "at": None if at is None else f"2026-08-01T{at}:00Z",
        "shown": {"value": 12.5, "unit": "V", "lsd": 0.01, "text": "12.50"},
    }


def repair(name: str, at: str | None) -> dict[str, Any]:
    """Return a repair done at an hour of the day."""
    return {"repair": name, "at": None if at is None else f"2026-08-01T{at}:00Z"}


def told(repairs: list[dict[str, Any]], readings: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """Return the rounds as words: repairs, and readings after them."""
    card = card_from_dict({**HEAD, "repairs": repairs, "readings": readings})
    return [
        ("+".join(str(one.repair) for one in found.repairs), "+".join(sorted(found.readings)))
        for found in rounds(card)
    ]


BATTERY, FUSE = "replace_battery", "replace_fuse"


@pytest.mark.parametrize(
    ("repairs", "readings", "expected"),
    [
        ([], [reading("p1", "10:00")], []),
        ([repair(BATTERY, "09:00")], [], [(BATTERY, "")]),
        ([repair(BATTERY, "09:00")], [reading("p1", "10:00")], [(BATTERY, "p1")]),
        (  # nothing read between them: done together
            [repair(BATTERY, "09:00"), repair(FUSE, "09:30")],
            [reading("p1", "10:00")],
            [(f"{BATTERY}+{FUSE}", "p1")],
        ),
        (
            [repair(BATTERY, "09:00"), repair(FUSE, "11:00")],
            [reading("p1", "10:00"), reading("p2", "12:00")],
            [(BATTERY, "p1"), (FUSE, "p2")],
        ),
        (  # the order on the card does not count, the times do
            [repair(FUSE, "11:00"), repair(BATTERY, "09:00")],
            [reading("p2", "12:00"), reading("p1", "10:00")],
            [(BATTERY, "p1"), (FUSE, "p2")],
        ),
        (  # the same repair done again is a round of its own
            [repair(BATTERY, "09:00"), repair(BATTERY, "11:00")],
            [reading("p1", "10:00")],
            [(BATTERY, "p1"), (BATTERY, "")],
        ),
        (  # without a time: taken when the one before it was, at first after the first repair
            [repair(BATTERY, "09:00"), repair(FUSE, "11:00")],
            [reading("p1", None), reading("p2", "12:00"), reading("p3", None)],
            [(BATTERY, "p1"), (FUSE, "p2+p3")],
        ),
        (
            [repair(BATTERY, None)],
            [reading("p1", None), reading("r1", "10:00", stage="fault")],
            [(BATTERY, "p1")],
        ),
    ],
)
def test_a_reading_belongs_to_the_last_repair_before_it(
    repairs: list[dict[str, Any]],
    readings: list[dict[str, Any]],
    expected: list[tuple[str, str]],
) -> None:
    assert told(repairs, readings) == expected
