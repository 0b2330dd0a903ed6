"""The door of the job card: what comes in whole, and what is refused in one clear line."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jobs.card_strategies import cards

from chargewright.errors import InputError
from chargewright.jobs.card import JobCard
from chargewright.jobs.codec import (
    canonical_json,
    card_dict,
    card_from_dict,
    card_from_json,
    pretty_json,
)
from chargewright.jobs.upgrades import upgraded
from chargewright.machine.points import Engine, Point, State

RECORDS = Path(__file__).with_name("records")
ALL_RECORDS = sorted(RECORDS.glob("*.json"))
Raw = dict[str, Any]
Damage = Callable[[Raw], object]


def a_raw_card() -> Raw:
    return {
        "card_version": 1,
        "id": "job-1",
        "created": "2026-08-01T10:00:00+02:00",
        "machine": {"class": "atv", "spec": {"idle": None, "limits": [1, 2.0, {"low": None}]}},
        "readings": [
            {
                "id": "r1",
                "function": "dc_v",
                "plus": "battery_pos",
                "minus": "battery_neg",
                "state": {"engine": "running", "rpm": "idle", "key_on": True},
                "shown": {"value": 12.6, "unit": "V", "lsd": 0.1, "text": "12.6"},
            },
            {"id": "r2", "check": "plug_brown", "function": "look", "sign": True},
        ],
    }


def first(raw: Raw) -> Raw:
    reading: Raw = raw["readings"][0]
    return reading


DAMAGES: list[tuple[Damage, tuple[str, ...]]] = [
    (lambda raw: raw.update(reading=1), ("reading: unknown field", "'readings'")),
    (lambda raw: raw["machine"].update(labl="x"), ("machine.labl", "did you mean 'label'?")),
    (lambda raw: raw["machine"].update(class_id="x"), ("machine.class_id", "'class'")),
    (
        lambda raw: first(raw)["state"].update(engine="runing"),
        ("readings[0].state.engine", "'running'"),
    ),
    (
        lambda raw: first(raw)["state"].update(rpm="fast"),
        ("readings[0].state.rpm", "'fast'", "idle"),
    ),
    (
        lambda raw: first(raw)["state"].update(rpm=50000),
        ("readings[0].state.rpm", "50000", "20000"),
    ),
    (lambda raw: first(raw)["state"].update(rpm=True), ("readings[0].state.rpm", "True")),
    (lambda raw: first(raw)["state"].update(engine="off"), ("rpm is idle", "'off'")),
    (lambda raw: first(raw)["state"].update(rpm_max=3000), ("rpm_max is 3000", "number")),
    (lambda raw: first(raw).update(plus="batery_pos"), ("readings[0].plus", "'battery_pos'")),
    (lambda raw: first(raw).update(plus=3), ("readings[0].plus", "given 3")),
    (lambda raw: first(raw).update(minus="battery_pos"), ("both battery_pos", "own leads")),
    (lambda raw: first(raw)["shown"].update(value="12.6"), ("shown.value", "'12.6'", "number")),
    (lambda raw: first(raw)["shown"].update(value=126), ("126 V", "decimal point")),
    (lambda raw: first(raw)["shown"].update(value=None), ("'exact' needs a value",)),
    (lambda raw: first(raw)["shown"].update(value_max=13), ("value_max is 13", "between")),
    (lambda raw: first(raw)["shown"].update(unit="ohm"), ("'ohm'", "dc_v is read in 'V'")),
    (lambda raw: first(raw)["shown"].update(qualifier="overload"), ("'overload' has no figure",)),
    (lambda raw: first(raw).update(function="look"), ("a look needs 'check'", "'sign'")),
    (lambda raw: first(raw).update(excluded=""), ("readings[0].excluded", "at least 1")),
    (lambda raw: raw["readings"].append(first(raw)), ("'r1' occurs twice",)),
    (lambda raw: raw.update(card_version=3), ("card_version 3", "newer program")),
    (lambda raw: raw.update(card_version="1"), ("card_version", "'1'", "whole number")),
    (lambda raw: raw.pop("card_version"), ("card_version", "None")),
    (lambda raw: raw.update(ambient_c=90), ("ambient_c", "90", "55")),
    (lambda raw: raw.update(ambient_c=float("nan")), ("JSON",)),
    (lambda raw: raw["machine"]["spec"].update(x=float("inf")), ("JSON",)),
    (lambda raw: raw.update(created="2026-08-01"), ("created", "'2026-08-01'", "zone")),
    (lambda raw: raw.update(created="2026-13-01T00:00:00Z"), ("created", "real date")),
    (lambda raw: raw.update(created=1785570000), ("created", "1785570000", "zone")),
    (lambda raw: raw.update(title="a\x1b[2Jb"), ("title", "control characters")),
    (lambda raw: raw.update(notes="\ud800"), ("JSON",)),
    (lambda raw: raw.update(invented=1), ("invented", "given 1", "true or false")),
    (lambda raw: raw.update(id="a b"), ("id", "'a b'", "letters, digits")),
    (lambda raw: raw.pop("machine"), ("machine: is missing",)),
    (lambda raw: raw.update(meter={"leads_nulled": True}), ("meter", "'card'", "'own_card'")),
    (lambda raw: raw.update(repairs=[{"note": "x"}]), ("repairs[0]", "'cause' or 'repair'")),
    (lambda raw: raw.update(opened=["seat", "seat"]), ("opened names 'seat' twice",)),
    (lambda raw: raw.update(seed=-1), ("seed", "-1", "0")),
]


@pytest.mark.parametrize(("damage", "expected"), DAMAGES)
def test_damaged_card_is_refused_in_one_line(damage: Damage, expected: tuple[str, ...]) -> None:
    raw = a_raw_card()
    damage(raw)
    with pytest.raises(InputError) as caught:
        card_from_dict(raw, source="bay 2.json")
    message = str(caught.value)
    assert message.startswith("bay 2.json: ")
    assert "\n" not in message
    assert len(message) < 300
    for part in expected:
        assert part in message


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "line 1, column 1"),
        ("[1]", "one JSON object"),
        ('{"id": "a", "id": "b"}', "'id' occurs twice"),
        ('{"card_version": 1, "seed": NaN}', "NaN"),
        ('{"card_version": 1, "seed": 1e999}', "JSON"),
        ("[" * 100_000, "nested too deeply"),
        ('{"card_version": 1, "seed": ' + "9" * 5000 + "}", "digits"),
        (" " * 5_000_001, "5000001 characters"),
    ],
)
def test_text_that_is_no_card_is_refused(text: str, expected: str) -> None:
    with pytest.raises(InputError, match="card: ") as caught:
        card_from_json(text)
    assert expected in str(caught.value)


@given(text=st.text(max_size=200))
def test_any_text_is_a_card_or_an_input_error(text: str) -> None:
    with pytest.raises(InputError):
        card_from_json(text)


@settings(max_examples=150, deadline=None)
@given(raw=cards, data=st.data())
def test_any_damage_to_any_field_gives_a_card_or_an_input_error(
    raw: Raw, data: st.DataObject
) -> None:
    damaged = copy.deepcopy(raw)
    place: Any = damaged
    while True:
        keys = sorted(place) if isinstance(place, dict) else list(range(len(place)))
        key = data.draw(st.sampled_from(keys))
        inner = place[key]
        if not (isinstance(inner, dict | list) and inner and data.draw(st.booleans())):
            break
        place = inner
    place[key] = data.draw(st.sampled_from([None, True, -1, 1e308, "x", [], {}, [[]], {"a": 1}]))
    try:
        outcome: JobCard | InputError = card_from_dict(damaged)
    except InputError as error:
        outcome = error
    assert isinstance(outcome, JobCard) or "\n" not in str(outcome)


@settings(max_examples=150, deadline=None)
@given(raw=cards)
def test_a_card_survives_text_and_back_byte_for_byte(raw: Raw) -> None:
    card = card_from_dict(raw)
    assert canonical_json(card_from_json(pretty_json(card))) == canonical_json(card)
    assert canonical_json(card_from_dict(card_dict(card))) == canonical_json(card)


@settings(max_examples=100, deadline=None)
@given(raw=cards)
def test_nothing_that_was_sent_is_lost(raw: Raw) -> None:
    # Everything sent is in what comes out; only times are rewritten, to UTC.
    assert_contains(card_dict(card_from_dict(raw)), raw)


def assert_contains(whole: object, part: object) -> None:
    if isinstance(part, dict) and isinstance(whole, dict):
        for name, value in part.items():
            if name not in ("at", "created"):
                assert_contains(whole[name], value)
    elif isinstance(part, list) and isinstance(whole, list):
        assert len(whole) == len(part)
        for left, right in zip(whole, part, strict=True):
            assert_contains(left, right)
    else:
        assert whole == part


def test_nulls_inside_free_dictionaries_are_kept() -> None:
    spec = card_dict(card_from_dict(a_raw_card()))["machine"]["spec"]
    assert json.dumps(spec) == '{"idle": null, "limits": [1, 2.0, {"low": null}]}'


def test_times_become_utc() -> None:
    assert card_dict(card_from_dict(a_raw_card()))["created"] == "2026-08-01T08:00:00Z"


@pytest.mark.parametrize("path", ALL_RECORDS, ids=lambda path: path.name)
def test_records_of_every_version_still_open_and_say_the_same(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    card = card_from_json(text, source=path.name)
    assert_contains(card_dict(card), json.loads(text) | {"card_version": card.card_version})


def test_there_is_a_record_of_each_version() -> None:
    versions = {
        json.loads(path.read_text(encoding="utf-8"))["card_version"] for path in ALL_RECORDS
    }
    assert versions == {1, 2}


def test_upgrades_run_in_order_and_leave_the_old_card_alone() -> None:
    steps = {
        1: lambda raw: {**raw, "trail": raw["trail"] + "a"},
        2: lambda raw: {**raw, "trail": raw["trail"] + "b"},
    }
    old = {"card_version": 1, "trail": ""}
    new = upgraded(old, current=3, source="card", steps=steps)
    assert new == {"card_version": 3, "trail": "ab"}
    assert old == {"card_version": 1, "trail": ""}


def test_changed_checks_the_whole_card_again() -> None:
    card = card_from_dict(a_raw_card())
    assert card.changed(title="new").title == "new"
    assert card.title == ""
    with pytest.raises(InputError, match="job job-1: ambient_c: given 99"):
        card.changed(ambient_c=99)
    with pytest.raises(InputError, match="'r1' occurs twice"):
        card.changed(readings=(*card.readings, card.readings[0]))


def test_evidence_leaves_out_what_was_excluded_or_taken_after_the_repair() -> None:
    raw = a_raw_card()
    late = {**first(raw), "id": "late", "stage": "after_repair"}
    doubtful = {**first(raw), "id": "doubtful", "excluded": "probe slipped"}
    raw["readings"] += [late, doubtful]
    card = card_from_dict(raw)
    assert [reading.id for reading in card.evidence] == ["r1", "r2"]
    assert [reading.id for reading in card.proof] == ["late"]


def test_ohms_of_the_own_leads_are_read_at_one_point() -> None:
    raw = a_raw_card()
    shown = {"value": 0.2, "unit": "ohm"}
    first(raw).update(function="ohm", plus="frame", minus="frame", state={}, shown=shown)
    assert card_from_dict(raw).readings[0].plus is Point.FRAME


SPEEDS = {"idle": 1200.0, "mid": 3000.0, "high": 5000.0}


@pytest.mark.parametrize(
    ("state", "rpm", "rpm_max"),
    [
        ({"engine": "running", "rpm": "mid"}, 3000.0, None),
        ({"engine": "running", "rpm": 4000}, 4000.0, None),
        ({"engine": "running", "rpm": 4000, "rpm_max": 5000}, 4000.0, 5000.0),
        ({"engine": "running"}, 1200.0, 5000.0),
        ({"engine": "off"}, None, None),
    ],
)
def test_speed_words_become_speeds(state: Raw, rpm: float | None, rpm_max: float | None) -> None:
    raw = a_raw_card()
    first(raw)["state"] = state
    found = card_from_dict(raw).readings[0].state.machine_state(SPEEDS)
    assert found == State(engine=Engine(state["engine"]), rpm=rpm, rpm_max=rpm_max)
