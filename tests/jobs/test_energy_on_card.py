"""Answers of the energy room on the job card: kept, shown, merged, and read back."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from chargewright import open_job
from chargewright.cli.main import main
from chargewright.energy.capacity import PEUKERT
from chargewright.errors import InputError
from chargewright.jobs.card import JobCard, with_energy
from chargewright.jobs.codec import card_dict, card_from_dict
from chargewright.jobs.files import load_card, save_card
from chargewright.jobs.merge import merge_cards
from chargewright.machine.layout import Chemistry

BARE = {
    "card_version": 2,
    "id": "job-1",
    "created": "2026-08-01T08:00:00Z",
    "machine": {"class": "atv"},
    "battery": {"chemistry": "agm", "capacity_ah": 14, "cca_a": 200, "cca_standard": "sae"},
}
NOON = datetime(2026, 8, 1, 12, tzinfo=UTC)


@pytest.fixture
def card_file(tmp_path: Path) -> Path:
    path = tmp_path / "job.json"
    save_card(card_from_dict(BARE), path)
    return path


def asked(card: JobCard, volts: float) -> JobCard:
    return with_energy(
        card,
        "battery",
        inputs={"rested": volts, "temp": None},
        result={"peukert": PEUKERT[Chemistry.AGM], "days": float("inf")},
        said=["GOOD", "a\x1b[2Jb " + "x" * 300],
        at=NOON,
    )


CALLS = [
    ["battery", "--rested", "12.4"],
    ["charge", "--rested", "12.2"],
    ["storage", "--drain-ma", "5"],
    ["drain", "35"],
    ["budget"],
    ["choose-battery"],
]


@pytest.mark.parametrize("args", CALLS, ids=lambda args: args[0])
def test_every_command_keeps_its_answer(args: list[str], card_file: Path) -> None:
    plain = CliRunner().invoke(main, [*args, "--card", str(card_file)])
    assert plain.exit_code == 0, plain.output
    shown = CliRunner().invoke(main, [*args, "--card", str(card_file), "--json"])
    (kept,) = load_card(card_file).energy  # asked twice, kept once
    assert kept.kind == args[0]
    assert kept.result == json.loads(shown.output)
    assert kept.versions["chargewright"]
    assert kept.said
    assert kept.said[0].split(": ")[0] in plain.output
    assert "card" not in kept.inputs
    assert "as_json" not in kept.inputs


def test_the_card_tells_battery_and_class(card_file: Path) -> None:
    """The same answer as with the card's label typed out; a typed field goes before it."""

    def answer(*args: str) -> object:
        done = CliRunner().invoke(main, ["storage", *args, "--json"])
        assert done.exit_code == 0, done.output
        return json.loads(done.output)

    label = ["--chemistry", "agm", "--ah", "14", "--cca", "200", "--machine", "atv"]
    assert answer("--card", str(card_file)) == answer(*label)
    label[3] = "30"
    assert answer("--card", str(card_file), "--ah", "30") == answer(*label)
    assert answer("--card", str(card_file), "--ah", "30") != answer("--card", str(card_file))


def test_a_wrong_question_leaves_the_card_alone(card_file: Path) -> None:
    before = card_file.read_bytes()
    done = CliRunner().invoke(main, ["battery", "--rested", "126", "--card", str(card_file)])
    assert done.exit_code == 2
    assert card_file.read_bytes() == before


def test_what_is_kept_can_be_written_and_read() -> None:
    card = asked(card_from_dict(BARE), 12.4)
    assert card_from_dict(card_dict(card)) == card
    (kept,) = card.energy
    assert kept.inputs == {"rested": 12.4}
    assert kept.result == {"peukert": {"low": 1.05, "best": 1.10, "high": 1.15}, "days": None}
    assert kept.said[1].startswith("a [2Jb xxx")
    assert len(kept.said[1]) <= 200


def test_two_copies_of_a_card_keep_both_answers() -> None:
    bare = card_from_dict(BARE)
    ours, theirs = asked(bare, 12.4), asked(bare, 12.1)
    theirs = with_energy(theirs, "drain", inputs={"shown_ma": 5}, result={}, said=[], at=NOON)
    with pytest.raises(InputError, match="differs in the two cards"):
        merge_cards(ours, theirs)  # both asked in the same second
    later = with_energy(bare, "drain", inputs={}, result={"a": 1}, said=["x"], at=NOON)
    kinds = [one.kind for one in merge_cards(ours, later).energy]
    assert kinds == ["battery", "drain"]
    assert merge_cards(ours, ours) == ours


def test_the_library_keeps_an_answer_and_assess_shows_it(card_file: Path) -> None:
    job = open_job(card_file)
    kept = job.keep_energy(
        "budget", inputs={"machine": "atv"}, result={"a": 1.0}, said=["room at cruise: 4 A"]
    )
    assert job.card.energy == (kept,)
    job.save()
    done = CliRunner().invoke(main, ["assess", str(card_file), "--no-save"])
    assert done.exit_code == 0, done.output
    assert "BATTERY AND ENERGY" in done.output
    assert "room at cruise: 4 A" in done.output
