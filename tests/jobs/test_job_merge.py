"""Two copies of one card become one, or the field in dispute is named."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from jobs.card_strategies import cards

from chargewright.errors import InputError
from chargewright.jobs.codec import canonical_json, card_from_dict
from chargewright.jobs.merge import merge_cards

BARE: dict[str, Any] = {
    "card_version": 1,
    "id": "job-1",
    "created": "2026-08-01T10:00:00Z",
    "machine": {"class": "atv"},
}


def look(reading_id: str, sign: bool) -> dict[str, Any]:
    return {"id": reading_id, "check": "fuse_blown", "function": "look", "sign": sign}


def merged(ours: dict[str, Any], theirs: dict[str, Any]) -> Any:  # noqa: ANN401
    return merge_cards(card_from_dict(BARE | ours), card_from_dict(BARE | theirs))


@settings(max_examples=40, deadline=None)
@given(raw=cards)
def test_a_card_merged_with_itself_is_itself(raw: dict[str, Any]) -> None:
    card = card_from_dict(raw)
    assert canonical_json(merge_cards(card, card)) == canonical_json(card)


def test_lists_are_joined_ours_first() -> None:
    card = merged(
        {"readings": [look("a", True), look("b", True)], "opened": ["seat"], "notes": "n"},
        {"readings": [look("b", True), look("c", False)], "opened": ["panel", "seat"], "seed": 4},
    )
    assert [reading.id for reading in card.readings] == ["a", "b", "c"]
    assert card.opened == ("seat", "panel")
    assert (card.notes, card.seed) == ("n", 4)


def test_advice_from_half_of_the_readings_is_dropped() -> None:
    same = {"decision": {"best": "x"}}
    assert merged(same, same).decision == {"best": "x"}
    assert merged(same, {"decision": {"best": "y"}}).decision is None
    assert merged(same, {}).decision is None


@pytest.mark.parametrize(
    ("ours", "theirs", "expected"),
    [
        (
            {"readings": [look("a", True)]},
            {"readings": [look("a", False)]},
            "readings: 'a' differs",
        ),
        ({"title": "x"}, {"title": "y"}, "title: given 'x' and 'y'"),
        ({}, {"machine": {"class": "outboard"}}, "machine: given"),
        ({}, {"created": "2026-08-02T10:00:00Z"}, "created: given"),
        ({}, {"id": "job-2"}, "two jobs"),
    ],
)
def test_a_dispute_is_named(ours: dict[str, Any], theirs: dict[str, Any], expected: str) -> None:
    with pytest.raises(InputError, match=expected):
        merged(ours, theirs)
