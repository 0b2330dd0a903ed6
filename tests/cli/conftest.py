"""The command line in one process, with a small diagnosis, away from the user's own files."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cli.small import SMALL
from click.testing import CliRunner, Result

from chargewright.cli.main import main

Run = Callable[..., Result]
SOURCE = Path(__file__).parents[2] / "src"  # for processes of their own


def own_process(**variables: str) -> dict[str, str]:
    """Return the environment of a process of its own: this checkout, no shelf, no user's files."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    return {**kept, "PYTHONPATH": str(SOURCE), "CHARGEWRIGHT_CACHE": "off", **variables}


@pytest.fixture(autouse=True)
def apart(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for module, name, value in SMALL:
        monkeypatch.setattr(module, name, value)
    for name in ("NO_COLOR", "CHARGEWRIGHT_DEBUG", "CHARGEWRIGHT_STORE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("CHARGEWRIGHT_CACHE", "off")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def cw() -> Run:
    """Run the command; an exception that got out of it fails the test by itself."""

    def run(*args: object, typed: str = "") -> Result:
        return CliRunner().invoke(main, [str(arg) for arg in args], input=typed)

    return run


def raw_card(**fields: object) -> dict[str, Any]:
    """Return the least card with ``fields`` put over it."""
    return {
        "card_version": 1,
        "id": "job-1",
        "created": "2026-08-01T08:30:00Z",
        "machine": {"class": "atv", "label": "green 7"},
        "complaint": {"kind": "battery_goes_flat"},
    } | fields


def dc_volts(name: str, value: float, **state: object) -> dict[str, Any]:
    """Return a reading of battery volts."""
    return {
        "id": name,
        "function": "dc_v",
        "plus": "battery_pos",
        "minus": "battery_neg",
        "state": state,
        "shown": {"value": value, "unit": "V", "lsd": 0.01, "text": f"{value:.2f}"},
    }


RUNNING = {"engine": "running", "rpm": "high", "key_on": True, "lights_on": True}


@pytest.fixture
def bike(tmp_path: Path) -> Path:
    """A card with two readings: flat at rest, too low while running."""
    path = tmp_path / "bike.json"
    readings = [dc_volts("r1", 12.31, rest_h=10.0), dc_volts("r2", 12.94, **RUNNING)]
    path.write_text(json.dumps(raw_card(readings=readings)), encoding="utf-8")
    return path


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """A card without readings."""
    path = tmp_path / "bare.json"
    path.write_text(json.dumps(raw_card()), encoding="utf-8")
    return path
