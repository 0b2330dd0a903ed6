"""The usual workshop order: ``data/usual_order.toml`` worked from top to bottom."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from benchmarks.workshop.bench import CHARGE, Bench
from benchmarks.workshop.face_value import DATA, Notebook, Row, checks_of, confirming, row_of
from benchmarks.workshop.outcome import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the order; see the data file."""

    id: str
    rows: tuple[Row, ...]
    only: tuple[str, ...] = ()
    chemistry: tuple[str, ...] = ()
    repair: str | None = None
    charge: bool = False
    good: str | None = None
    as_found: bool = False
    undecided: bool = False


@cache
def order() -> tuple[Step, ...]:
    """Return the steps of the data file."""
    return tuple(
        _step(one) for one in tomllib.loads((DATA / "usual_order.toml").read_text())["step"]
    )


def _step(table: dict[str, Any]) -> Step:
    fixed = {name: tuple(table[name]) for name in ("only", "chemistry") if name in table}
    return Step(**{**table, **fixed, "rows": tuple(row_of(one) for one in table["rows"])})


def work(bench: Bench) -> tuple[Verdict, bool]:
    """Work a job by habit; return the first conclusion, and whether it was given up."""
    notes, steps, at = Notebook(bench), order(), 0
    first: Verdict | None = None
    while at < len(steps):
        step = steps[at]
        at += 1
        if not _applies(bench, step):
            continue
        if step.undecided:
            return first or Verdict(repairs=(), undecided=True), True
        if not _is_bad(bench, notes, step):
            if step.good is not None:
                at = next(i for i, one in enumerate(steps) if one.id == step.good)
            continue
        if step.charge:
            bench.charge()
            notes.forget()
        if step.repair is None or step.repair in bench.fitted:
            continue
        first = first or Verdict(repairs=_told(bench, step.repair), note=step.id)
        bench.repair({step.repair})
        notes.forget()
        if proved(bench, notes, step.rows):
            return first, False
    told = (CHARGE,) if bench.charged else ()
    return first or Verdict(repairs=told, note="nothing wrong"), False


def _told(bench: Bench, repair: str) -> tuple[str, ...]:
    return (CHARGE, repair) if bench.charged else (repair,)


def _applies(bench: Bench, step: Step) -> bool:
    chemistries = {str(one) for one in bench.job.hidden.machine.chemistries}
    return (not step.only or bench.job.complaint in step.only) and (
        not step.chemistry or bool(chemistries & set(step.chemistry))
    )


def _is_bad(bench: Bench, notes: Notebook, step: Step) -> bool:
    """Tell whether any row of a step is bad; rows after a bad one are not read."""
    if step.as_found and not bench.charged:
        return _bad_as_found(bench, notes, step)
    return not step.rows or any(notes.bad(row) for row in step.rows)


def _bad_as_found(bench: Bench, notes: Notebook, step: Step) -> bool:
    """Judge a check meant for a charged battery on one that is full enough without charging."""
    row = step.rows[0]
    plain = [
        replace(check, charged=None, state=replace(check.state, battery_charged=False))
        for check in checks_of(bench, row)
    ]
    return any(notes.side_as_charged(row, check) for check in plain)


def proved(bench: Bench, notes: Notebook, rows: tuple[Row, ...]) -> bool:
    """Prove a repair as usual: what was bad is read again, and running or cranking volts.

    The machine is cured when all of it is inside its limits.
    """
    bench.ready_to_prove()
    again = [row for row in rows if not any("look" in name for name in row.checks)]
    start = bench.job.complaint in ("no_start", "slow_crank")
    last = confirming()["repair_starter" if start else "nothing"]
    good = not any(notes.bad(row) for row in (*again, *last))
    bench.proving = False
    return good
