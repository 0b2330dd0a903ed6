"""Cards and lines from anywhere: an answer or one line of refusal, never a traceback."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from cli.conftest import raw_card
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jobs.card_strategies import cards

from chargewright.checks.load import load_book
from chargewright.cli.main import main
from chargewright.errors import InputError
from chargewright.jobs.card import JobCard
from chargewright.jobs.files import load_card
from chargewright.machine.classes import class_ids
from chargewright.machine.prior import complaints
from chargewright.meters.load import meter_ids

SLOW = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]  # every example writes anew
FEW = settings(max_examples=8, deadline=None, suppress_health_check=SLOW)
MANY = settings(max_examples=60, deadline=None, suppress_health_check=SLOW)
CHECKS = [check.id for check in load_book().checks]


def run(folder: Path, raw: str, *command: str, typed: str = "") -> tuple[Result, Path]:
    path = folder / "card.json"
    path.write_bytes(raw.encode("utf-8", "surrogatepass"))
    return CliRunner().invoke(main, [command[0], str(path), *command[1:]], input=typed), path


def ended_well(done: Result) -> None:
    assert done.exit_code in (0, 2, 3, 4), done.stderr
    if done.exit_code:
        assert done.stderr.startswith("chargewright: ")
        assert done.stderr.count("\n") == 1
    else:
        assert done.stderr == ""


@MANY
@given(raw=cards)
def test_any_card_is_assessed_or_refused_in_one_line(tmp_path: Path, raw: dict[str, Any]) -> None:
    """Mostly refused: classes, checks and meters of these cards are words nobody knows."""
    done, _ = run(tmp_path, json.dumps(raw), "assess", "--no-save")
    ended_well(done)


@st.composite
def usable(draw: st.DrawFn) -> dict[str, Any]:
    """A random card whose class, complaint, meter and checks exist."""
    raw: dict[str, Any] = draw(cards)
    raw["machine"] = {"class": draw(st.sampled_from(class_ids()))}
    raw["meter"] = {"card": draw(st.sampled_from(meter_ids()))}
    raw["complaint"] = {"kind": draw(st.sampled_from([None, *complaints()]))}
    raw["opened"] = []
    raw.pop("battery", None)
    raw["readings"] = [one for one in raw.get("readings", []) if one.get("function") != "look"]
    for one in raw["readings"]:
        one.pop("meter", None)
        one["check"] = draw(st.sampled_from([None, *CHECKS]))
    return raw


@FEW
@given(raw=usable())
def test_usable_cards_are_assessed(tmp_path: Path, raw: dict[str, Any]) -> None:
    done, _ = run(tmp_path, json.dumps(raw), "assess", "--json", "--no-save")
    ended_well(done)
    if done.exit_code == 0:
        found = json.loads(done.stdout)
        assert all(0.0 <= one["share"] <= 1.0 + 1e-9 for one in found["causes"])


@MANY
@given(text=st.text(max_size=40) | st.binary(max_size=40).map(lambda b: b.decode("latin-1")))
def test_any_file_is_refused_in_one_line(tmp_path: Path, text: str) -> None:
    done, _ = run(tmp_path, text, "assess")
    assert done.exit_code == 2
    ended_well(done)


LINES = st.one_of(
    st.text(max_size=20),
    st.sampled_from(
        ["?", "s", "u", "o", "n", "c", "r", "1", "2", "", "OL", "13.1", "yes", "s look"]
    ),
    st.floats(-500.0, 500.0).map(lambda value: f"{value:.3g} V"),
)


@FEW
@given(lines=st.lists(LINES, max_size=5))
def test_anything_may_be_typed_at_the_bench(tmp_path: Path, lines: list[str]) -> None:
    typed = "\n".join(line.replace("\n", " ").replace("\r", " ") for line in lines)
    done, path = run(tmp_path, json.dumps(raw_card()), "guide", typed=typed)
    assert done.exit_code == 0, done.stderr
    assert isinstance(load_card(path), JobCard)


@MANY
@given(raw=cards, change=st.sampled_from(["card_version", "machine", "id", "created"]))
def test_a_card_that_lacks_what_it_needs_is_refused(
    tmp_path: Path, raw: dict[str, Any], change: str
) -> None:
    raw = {name: value for name, value in raw.items() if name != change}
    done, path = run(tmp_path, json.dumps(raw), "assess")
    assert done.exit_code == 2
    assert change in done.stderr
    try:
        load_card(path)
    except InputError:
        return
    raise AssertionError("the card was opened")
