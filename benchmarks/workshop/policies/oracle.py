"""An oracle: it knows the faults, pays one confirming check for each, repairs, and proves once."""

from __future__ import annotations

from benchmarks.workshop.bench import CHARGE, Bench
from benchmarks.workshop.face_value import checks_of, confirming
from benchmarks.workshop.outcome import Verdict


def work(bench: Bench) -> tuple[Verdict, bool]:
    """Work a job knowing what is wrong."""
    needed = sorted(bench.job.hidden.repairs)
    for name in needed or ["nothing"]:
        _read_one(bench, name)
    if needed:
        bench.repair(needed)
        bench.ready_to_prove()
        for name in needed:
            if name != CHARGE:
                _read_one(bench, name)
    return Verdict(repairs=tuple(needed)), False


def _read_one(bench: Bench, name: str) -> None:
    """Read the cheapest of a part's confirming checks."""
    rows = confirming()[name]
    checks = [check for row in rows for check in checks_of(bench, row)]
    if checks:
        bench.read(min(checks, key=bench.price))
