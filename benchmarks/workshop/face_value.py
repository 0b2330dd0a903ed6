"""Readings judged at face value: outside the limit is bad, whatever the meter's own error."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from benchmarks.workshop.bench import Bench
from chargewright.checks.catalogue import Check
from chargewright.diagnosis.question import Question
from chargewright.jobs.reading_text import parse_reading
from chargewright.machine.limits import limits_for
from chargewright.machine.points import Function

DATA = Path(__file__).parent / "data"
ALWAYS_LIT = {"high_v": "high_lights_v", "idle_v": "idle_lights_v"}  # where lamps burn anyway
GOOD, LOW, HIGH, SEEN = "good", "low", "high", "seen"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Checks and what makes them bad; see ``data/confirming.toml``."""

    checks: tuple[str, ...]
    side: str | None = None
    below: float | None = None
    above: float | None = None
    spread: float | None = None
    all: bool = False


def row_of(table: Mapping[str, Any]) -> Row:
    """Return a row of a data file."""
    return Row(**{**table, "checks": tuple(table["checks"])})


@cache
def confirming() -> dict[str, tuple[Row, ...]]:
    """Return the confirming rows by repair."""
    tables = tomllib.loads((DATA / "confirming.toml").read_text("utf-8"))
    return {name: tuple(row_of(one) for one in rows) for name, rows in tables.items()}


def checks_of(bench: Bench, row: Row) -> list[Check]:
    """Return the checks of a row that this machine and meter have and that are still possible."""
    names = [
        ALWAYS_LIT.get(name, name) if name not in bench.catalogue else name for name in row.checks
    ]
    return [
        check
        for name in names
        for check in bench.catalogue
        if check.id in {name, *(f"{name}_{leg}" for leg in ("a", "b", "c", "ab", "bc", "ca"))}
        and bench.possible(check)
    ]


class Notebook:
    """What has been read, so that nothing is read twice for the same machine as it stands."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._known: dict[Question, str] = {}

    def forget(self) -> None:
        """Nothing read before a repair counts after it."""
        self._known.clear()

    def text(self, check: Check, *, question: Question | None = None) -> str:
        """Return a reading, taken now unless it is known."""
        asked = question or self.bench.question(check)
        if asked not in self._known:
            self._known[asked] = self.bench.read(check, asked)
        return self._known[asked]

    def bad(self, row: Row, *, repeat: bool = False) -> bool | None:
        """Tell whether a row condemns its part; None when none of it can be read here."""
        checks = checks_of(self.bench, row)
        if not checks:
            return None
        if repeat:
            for check in checks:
                self._known.pop(self.bench.question(check), None)
        questions = [self.bench.question(check) for check in checks]
        texts = [self.text(c, question=q) for c, q in zip(checks, questions, strict=True)]
        sides = [self._side(row, q, text) for q, text in zip(questions, texts, strict=True)]
        wrong = [side != GOOD and row.side in (None, side) for side in sides]
        if row.spread is not None and len(texts) > 1:
            figures = [_figure(q, text) for q, text in zip(questions, texts, strict=True)]
            if max(figures) > row.spread * max(min(figures), 1e-6):
                return True
        return all(wrong) if row.all else any(wrong)

    def side_as_charged(self, row: Row, check: Check) -> bool:
        """Tell whether a check for charged batteries, read without charging, is bad."""
        asked = self.bench.question(check)
        text = self.text(check, question=asked)
        charged = replace(asked, state=replace(asked.state, battery_charged=True))
        side = self._side(row, charged, text)
        return side != GOOD and row.side in (None, side)

    def _side(self, row: Row, question: Question, text: str) -> str:
        if question.function is Function.LOOK:
            return SEEN if text == "yes" else GOOD
        value = _figure(question, text)
        if row.below is not None or row.above is not None:
            if row.below is not None and value < row.below:
                return LOW
            return HIGH if row.above is not None and value > row.above else GOOD
        plus, minus = question.probe
        machine = self.bench.job.hidden.machine
        for limit in limits_for(
            machine, question.function, plus=plus, minus=minus, state=question.state
        ):
            if limit.low is not None and value < limit.low:
                return LOW
            if limit.high is not None and value > limit.high:
                return HIGH
        return GOOD


def _figure(question: Question, text: str) -> float:
    value = parse_reading(text, question.function).value
    return math.inf if value is None else value
