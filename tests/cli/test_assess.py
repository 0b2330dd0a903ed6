"""``chargewright assess``: what it prints, what it keeps, and its JSON by someone else's check."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from cli.conftest import RUNNING, Run, dc_volts, raw_card

from chargewright.jobs.files import load_card

ROOT = Path(__file__).parents[2]
SCHEMA = ROOT / "docs" / "assessment.schema.json"
DEMO = ROOT / "examples" / "demo-job.json"


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(found)
    return found


def test_the_page_begins_with_the_machine_and_what_to_do(cw: Run, bike: Path) -> None:
    done = cw("assess", bike)
    assert done.exit_code == 0
    assert done.output.startswith("green 7\n")
    order = [done.output.index(word) for word in ("DO NOW", "MOST LIKELY", "READINGS", "WHY")]
    assert order == sorted(order)
    assert "service manual, local codes and licensed practice come before" in " ".join(
        done.output.split()
    )


def test_verdicts_name_limit_and_source(cw: Run, bike: Path) -> None:
    text = " ".join(cw("assess", bike).output.split())

    assert "r1 12.31 V" in text
    assert re.search(r"r2 12\.94 V .*? OUTSIDE should be at least 13\.8 V, p <1% \(", text)
    assert "INSIDE should be at most 15 V, p >99% (" in text


def test_a_reading_on_the_limit_says_what_would_decide(cw: Run, tmp_path: Path) -> None:
    path = tmp_path / "edge.json"
    path.write_text(json.dumps(raw_card(readings=[dc_volts("r1", 13.78, **RUNNING)])))
    text = cw("assess", path).output
    assert "NOT DECIDABLE" in text
    assert "to decide it:" in text
    found = json.loads(cw("assess", path, "--json").output)
    verdict = next(
        v for v in found["readings"][0]["verdicts"] if v["limit"]["id"] == "regulated_low"
    )
    # By hand: 0.8 % of 13.78 V + 2 x 0.01 V = 0.130 V to either side, all errors alike:
    # the share above 13.8 V is (13.78 + 0.130 - 13.80) / (2 x 0.130).
    half = 0.008 * 13.78 + 0.02
    assert math.isclose(verdict["p_inside"], (half - 0.02) / (2 * half), abs_tol=0.005)
    assert verdict["would_decide"]


@pytest.mark.parametrize("name", ["bike", "bare", "demo", "case"])
def test_json_holds_to_its_schema(
    cw: Run, schema: dict[str, Any], name: str, request: pytest.FixtureRequest
) -> None:
    shipped = {"demo": DEMO, "case": ROOT / "tests" / "cases" / "w-08.json"}
    path = shipped[name] if name in shipped else request.getfixturevalue(name)
    done = cw("assess", path, "--json", "--no-save")
    assert done.exit_code == 0
    found = json.loads(done.output)
    jsonschema.Draft202012Validator(schema).validate(found)
    card = load_card(path)
    assert [one["id"] for one in found["readings"]] == [one.id for one in card.readings]
    assert found["format"] == 1


@pytest.mark.parametrize(
    "change", [{"format": 2}, {"decision": {}}, {"seed": -1}, {"surprise": 1}, {"remaining": 1.5}]
)
def test_the_schema_refuses_what_is_no_assessment(
    cw: Run, bare: Path, schema: dict[str, Any], change: dict[str, Any]
) -> None:
    found = json.loads(cw("assess", bare, "--json").output)
    assert not jsonschema.Draft202012Validator(schema).is_valid(found | change)


def test_every_field_of_the_schema_is_described(schema: dict[str, Any]) -> None:
    text = (ROOT / "docs" / "assessment-json.md").read_text(encoding="utf-8")
    documented = set(re.findall(r"`([^`\n]+)`", text))
    fields = set(schema["properties"])
    for part in schema["$defs"].values():
        fields |= set(part.get("properties", {}))
    assert len(fields) > 50
    assert fields - documented == set()


def test_page_and_json_name_the_same_causes(cw: Run, bike: Path) -> None:
    found = json.loads(cw("assess", bike, "--json").output)
    text = " ".join(cw("assess", bike, "--verbose").output.split())
    for cause in found["causes"]:
        assert f"{cause['share']:.0%}" in text
        assert cause["title"] in text
    assert found["decision"]["kind"] in ("check", "repair", "cannot_tell")
    shares = [cause["share"] for cause in found["causes"]]
    assert shares == sorted(shares, reverse=True)


def test_the_decision_is_kept_on_the_card(cw: Run, bike: Path) -> None:
    found = json.loads(cw("assess", bike, "--json").output)
    card = load_card(bike)
    assert card.decision is not None
    assert card.decision["kind"] == found["decision"]["kind"]
    assert card.decision["readings"] == ["r1", "r2"]
    assert "chargewright" in card.versions


def test_no_save_and_invented_cards_leave_the_file_alone(cw: Run, bike: Path) -> None:
    before = bike.read_bytes()
    assert cw("assess", bike, "--no-save").exit_code == 0
    assert bike.read_bytes() == before
    demo = DEMO.read_bytes()
    assert "Invented" in cw("assess", DEMO).output
    assert DEMO.read_bytes() == demo


def test_what_cannot_be_saved_is_told_after_the_page(
    cw: Run, bike: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("chargewright.jobs.files.os.replace", full)
    before = bike.read_bytes()
    done = cw("assess", bike)
    assert done.exit_code == 4
    assert "DO NOW" in done.stdout
    assert done.stderr.count("\n") == 1
    assert "No space left on device" in done.stderr
    assert bike.read_bytes() == before


def test_own_prices_are_read_and_checked(cw: Run, bike: Path, tmp_path: Path) -> None:
    prices = tmp_path / "prices.toml"
    prices.write_text("comeback_mins = 3\n")
    done = cw("assess", bike, "--prices", prices)
    assert done.exit_code == 2
    assert done.stderr.startswith("chargewright: ")
    assert "prices.toml" in done.stderr
    assert "did you mean 'comeback_min'?" in done.stderr


def test_own_minutes_change_the_next_check(cw: Run, bike: Path, tmp_path: Path) -> None:
    steps = json.loads(cw("assess", bike, "--json").output)["steps"]
    own = tmp_path / "own.toml"
    own.write_text('[[check]]\nid = "{}"\nminutes = 300\n'.format(steps[0]["check"]))
    done = cw("assess", bike, "--checks", own, "--json")
    assert done.exit_code == 0
    assert json.loads(done.output)["steps"][0]["check"] != steps[0]["check"]


def test_an_unsafe_reading_on_the_card_is_refused(cw: Run, tmp_path: Path) -> None:
    path = tmp_path / "unsafe.json"
    state = {"engine": "running", "rpm": 3000.0, "key_on": True, "battery_in": False}
    path.write_text(json.dumps(raw_card(readings=[dc_volts("r1", 14.0, **state)])))
    done = cw("assess", path)
    assert done.exit_code == 3
    assert "leave the battery on, or stop the engine first" in done.stderr


def test_why_answers_both_questions(cw: Run, bare: Path) -> None:
    cw("guide", bare, typed="s rest_v\n12.31\nq\n")
    plain = cw("why", bare)
    assert plain.exit_code == 0
    assert "WHAT WOULD CHANGE THE DECISION" in plain.output
    asked = cw("why", bare, "--if", "battery_worn")
    assert asked.exit_code == 0
    assert "12.31 V" in asked.output
    assert "as far out or further" in asked.output
    wrong = cw("why", bare, "--if", "battery_wor")
    assert wrong.exit_code == 2
    assert "battery_worn" in wrong.output
