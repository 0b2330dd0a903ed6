"""The energy commands: every one answers in text and JSON, and wrong input in one line."""

from __future__ import annotations

import json
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from chargewright.cli.energy_commands import ENERGY_COMMANDS
from chargewright.cli.program import Program

ROOT = Path(__file__).resolve().parents[2]
COMMUTE = str(ROOT / "examples" / "short-commute.csv")


@click.group(cls=Program)
def program() -> None:
    """Stand in for the whole program."""


for command in ENERGY_COMMANDS:
    program.add_command(command)

CALLS = [
    (["battery", "--chemistry", "agm", "--ah", "10", "--rested", "12.4", "--temp", "20"], "CHARGE"),
    (
        [
            *("battery", "--chemistry", "agm", "--cca", "180", "--ah", "10", "--charged"),
            *("--temp", "21", "--load-test", "10.3", "90"),
        ],
        "GOOD",
    ),
    (["battery", "--rested", "10.5"], "dead cell"),
    (
        ["battery", "--chemistry", "flooded", "--gravity", "1.26", "--gravity", "1.19"],
        "cells differ",
    ),
    (["battery", "--rested", "12.6", "--meter", "average-2000"], "charge"),
    (["charge", "--chemistry", "lifepo4", "--temp=-3"], "DO NOT CHARGE"),
    (["charge", "--chemistry", "agm", "--ah", "12", "--rested", "12.2"], "hours"),
    (["storage", "--chemistry", "agm", "--ah", "10", "--drain-ma", "5"], "to half"),
    (["drain", "35", "--fuse", "clock=0.2", "--fuse", "alarm=0.8"], "Pull first"),
    (["budget", "--loads", str(ROOT / "examples" / "touring-loads.toml")], "break-even"),
    (["budget", "--wire", "3.5", "3"], "1.5 mm2"),
    (["ride", COMMUTE, "--days", "5", "--units", "20"], "Friday"),
    (["choose-battery", "--chemistry", "lifepo4", "--regulated", "14.0", "15.4"], "does not fit"),
]


@pytest.mark.parametrize(("args", "words"), CALLS)
def test_text(args: list[str], words: str) -> None:
    result = CliRunner().invoke(program, args)
    assert result.exit_code == 0, result.output
    assert words.lower() in result.output.lower()


@pytest.mark.parametrize("args", [args for args, _ in CALLS])
def test_json(args: list[str]) -> None:
    result = CliRunner().invoke(program, [*args, "--json"])
    assert result.exit_code == 0, result.output
    assert json.loads(result.output)


@pytest.mark.parametrize(
    ("args", "message"),
    [
        (["battery", "--rested", "126"], "126 V"),
        (["battery", "--chemistry", "agn"], "did you mean 'agm'"),
        (["drain", "5", "--fuse", "clock=much"], "NAME=SHARE"),
        (["drain", "5", "--machine", "sport-600"], "did you mean"),
        (["ride", COMMUTE, "--units", "2"], "10 to 5000"),
        (["choose-battery", "--chemistry", "lead"], "known"),
    ],
)
def test_errors_are_one_line(args: list[str], message: str) -> None:
    result = CliRunner().invoke(program, args)
    assert result.exit_code == 2
    assert message in result.output
    assert result.output.count("\n") == 1


def test_a_plot_is_written(tmp_path: Path) -> None:
    target = tmp_path / "ride.svg"
    result = CliRunner().invoke(
        program, ["ride", COMMUTE, "--days", "3", "--units", "10", "--svg", str(target)]
    )
    assert result.exit_code == 0, result.output
    assert target.read_text(encoding="utf-8").startswith("<svg")
