"""Parts tested one by one in a fixed law of order: most likely first, or least C/p first.

p is the program's own prior for the complaint; C the minutes of the part's confirming checks
from where the machine stands, covers included. A part is condemned at face value; when all
pass, the machine is called sound. (Kalagnanam and Henrion, UAI 1988, for the C/p rule.)
"""

from __future__ import annotations

from collections.abc import Callable

from benchmarks.workshop.bench import CHARGE, Bench
from benchmarks.workshop.face_value import Notebook, checks_of, confirming
from benchmarks.workshop.outcome import Verdict
from benchmarks.workshop.policies.habit import proved
from chargewright.machine.prior import prior

Score = Callable[[float, float], float]  # (p, C) -> the least is tested first


def most_likely(p: float, cost_min: float) -> float:
    """Order by probability alone."""
    return -p


def cost_over_p(p: float, cost_min: float) -> float:
    """Order by minutes per unit of probability."""
    return cost_min / max(p, 1e-9)


def work(bench: Bench, score: Score) -> tuple[Verdict, bool]:
    """Test parts in order; return the first conclusion, and whether it was given up."""
    shares = repair_shares(bench)
    notes = Notebook(bench)
    first: Verdict | None = None
    left = {name for name in shares if name in confirming() and name != "nothing"}
    while left:
        name = min(sorted(left), key=lambda one: score(shares[one], _cost(bench, one)))
        left.discard(name)
        if not any(notes.bad(row) for row in confirming()[name]):
            continue
        if name == CHARGE:
            bench.charge()
            notes.forget()
            continue
        told = (CHARGE, name) if bench.charged else (name,)
        first = first or Verdict(repairs=told)
        bench.repair({name})
        notes.forget()
        if proved(bench, notes, confirming()[name]):
            return first, False
    told = (CHARGE,) if bench.charged else ()
    # parts were changed, and what was wrong still is: the machine is handed on
    return first or Verdict(repairs=told), first is not None


def repair_shares(bench: Bench) -> dict[str, float]:
    """Return the prior probability that each repair is needed."""
    shares: dict[str, float] = {}
    for hypothesis in prior(bench.job.hidden.machine, bench.job.complaint):
        for cause in hypothesis.causes:
            shares[cause.repair.id] = shares.get(cause.repair.id, 0.0) + hypothesis.share
    return shares


def _cost(bench: Bench, name: str) -> float:
    """Return the minutes of a part's checks from here; each is priced from the same place."""
    checks = [check for row in confirming()[name] for check in checks_of(bench, row)]
    if not checks:
        return 1e6
    own = sum(check.minutes for check in checks[1:])
    return bench.price(checks[0]) + own
