"""Commands that look things up: machines, checks, schema; and ``new``, which begins a card."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from cli.conftest import Run

from chargewright.checks.load import load_book
from chargewright.jobs.files import load_card
from chargewright.machine.classes import class_ids


def test_classes_are_listed(cw: Run) -> None:
    done = cw("machines")
    assert done.exit_code == 0
    for name in class_ids():
        assert f"\n{name}\n" in f"\n{done.output}"
    assert [one["id"] for one in json.loads(cw("machines", "--json").output)] == list(class_ids())


def test_a_class_tells_limits_with_their_source(cw: Run) -> None:
    text = " ".join(cw("machines", "atv").output.split())
    # Service-manual type specification, class 750-850 ATV: 14-15 V; the class's limit is wider.
    assert "charging voltage at the battery (running): at least 13.8 V" in text
    assert "at most 15 V" in text
    assert "service-manual type specifications, class 750-850 ATV" in text
    assert "burnt contact in the alternator plug (connector)" in text


@pytest.mark.parametrize("class_id", class_ids())
def test_a_class_as_json_gives_every_figure_a_source(cw: Run, class_id: str) -> None:
    found: dict[str, Any] = json.loads(cw("machines", class_id, "--json").output)
    assert cw("machines", class_id).exit_code == 0
    assert {one["source"] for one in found["typical"]} <= set(found["sources"])
    assert {one["source"] for one in found["limits"]} <= set(found["sources"])
    assert all(one["kind"] and one["text"] for one in found["sources"].values())
    shares = [cause["share"] for cause in found["causes"]]
    assert min(shares) > 0.0


def test_a_single_coil_machine_has_no_third_lead(cw: Run) -> None:
    ids = {
        one["id"]
        for one in json.loads(cw("checks", "--machine", "outboard-small-single", "--json").output)
    }
    assert "pair_ohm_ab" in ids
    assert "pair_ohm_bc" not in ids


def test_checks_are_listed_with_minutes(cw: Run) -> None:
    done = cw("checks")
    for check in load_book().checks:
        assert check.id in done.output
    found = json.loads(cw("checks", "--json").output)
    assert len(found) == len(load_book().checks)
    assert all(one["minutes"] > 0 and one["how"] and one["cautions"] for one in found)


def test_one_check_tells_how_and_what_to_take_care_of(cw: Run) -> None:
    text = " ".join(cw("checks", "ac_open_high_v_ab").output.split())
    assert "AC volts" in text
    assert "alternator lead A, alternator side of the plug" in text
    assert "can pass 60 V rms" in text
    assert text.endswith("come before this text.")


@pytest.mark.parametrize(
    ("given", "hint"),
    [
        (("checks", "rest_vv"), "did you mean 'rest_v'"),
        (("machines", "atvv"), "did you mean 'atv'"),
        (("checks", "--machine", "atvv"), "did you mean 'atv'"),
        (("checks", "--checks", "nowhere.toml"), "nowhere.toml: cannot be read"),
    ],
)
def test_unknown_names_get_the_nearest(cw: Run, given: tuple[str, ...], hint: str) -> None:
    done = cw(*given)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert done.stderr.startswith("chargewright: ")
    assert done.stderr.count("\n") == 1
    assert hint in done.stderr


def test_schema_is_the_published_one(cw: Run) -> None:
    published = Path(__file__).parents[2] / "docs" / "job-card.schema.json"
    assert cw("schema").output == published.read_text(encoding="utf-8")


def test_new_by_options(cw: Run, tmp_path: Path) -> None:
    path = tmp_path / "red quad.json"
    options = (
        *("--class", "atv", "--label", "red 3", "--complaint", "no_start", "--words", "it’s dead"),
        *("--meter", "trms-6000", "--nulled", "--battery", "agm", "--ah", "14", "--cca", "200"),
        *("--cca-standard", "en", "--age", "3", "--ambient", "-5", "--title", "Quad"),
    )
    done = cw("new", path, *options)
    assert done.exit_code == 0, done.output
    card = load_card(path)
    assert card.id.startswith("red-quad-20")
    assert (card.machine.class_id, card.machine.label, card.title) == ("atv", "red 3", "Quad")
    assert (card.complaint.kind, card.complaint.text) == ("no_start", "it’s dead")
    assert card.meter is not None
    assert (card.meter.card, card.meter.leads_nulled) == ("trms-6000", True)
    assert (card.battery.capacity_ah, card.battery.age_years, card.ambient_c) == (14.0, 3.0, -5.0)


def test_new_never_writes_over_a_card(cw: Run, bike: Path) -> None:
    before = bike.read_bytes()
    done = cw("new", bike, "--class", "atv")
    assert done.exit_code == 2
    assert "exists already" in done.stderr
    assert bike.read_bytes() == before
    assert cw("new", bike, "--class", "atv", "--force").exit_code == 0


@pytest.mark.parametrize(
    ("options", "hint"),
    [
        (("--class", "boat"), "does not exist"),
        (("--class", "atv", "--complaint", "noise"), "complaint.kind 'noise' is unknown"),
        (("--class", "atv", "--meter", "good-one"), "expected a built-in card"),
        (("--class", "atv", "--ambient", "70"), "ambient_c"),
        (("--class", "atv", "--ah", "-3"), "battery.capacity_ah"),
        (("--class", "atv", "--ah", "nan"), "--ah"),
        (("--class", "atv", "--battery", "wood"), "not one of"),
    ],
)
def test_new_refuses_what_no_card_can_hold(
    cw: Run, tmp_path: Path, options: tuple[str, ...], hint: str
) -> None:
    path = tmp_path / "new.json"
    done = cw("new", path, *options)
    assert done.exit_code == 2
    assert done.stderr.count("\n") == 1
    assert hint.lower() in done.stderr.lower()
    assert not path.exists()


def test_new_by_questions(cw: Run, tmp_path: Path) -> None:
    path = tmp_path / "asked.json"
    number = class_ids().index("snowmobile") + 1
    typed = f"99\n{number}\nyellow\nroutine\nbefore the winter\n\nagm\n"
    done = cw("new", path, typed=typed)
    assert done.exit_code == 0, done.output
    card = load_card(path)
    assert (card.machine.class_id, card.machine.label) == ("snowmobile", "yellow")
    assert card.complaint.kind == "routine"
    assert card.meter is None
    assert card.battery.chemistry is not None
    assert f"expected 1 to {len(class_ids())}" in done.output


def test_new_broken_off_writes_nothing(cw: Run, tmp_path: Path) -> None:
    path = tmp_path / "broken.json"
    assert cw("new", path, typed="1\n").exit_code == 130
    assert cw("new", path, typed="\n").exit_code == 2
    assert not path.exists()


def test_own_meter_file_goes_onto_the_card_whole(cw: Run, tmp_path: Path) -> None:
    import chargewright.meters.load as meters

    text = (Path(meters.__file__).parent / "data" / "trms-6000.toml").read_text()
    own = tmp_path / "mine.toml"
    own.write_text(text.replace('id = "trms-6000"', 'id = "bench-meter"'))
    path = tmp_path / "own.json"
    assert cw("new", path, "--class", "atv", "--meter", own).exit_code == 0
    use = load_card(path).meter
    assert use is not None
    assert use.own_card is not None
    assert use.own_card["id"] == "bench-meter"
