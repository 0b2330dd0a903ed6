"""Compares many cases, two simulators at a time at low priority."""

from __future__ import annotations

from collections.abc import Sequence
from multiprocessing.pool import ThreadPool

from tests.spice.cases import Case
from tests.spice.compare import Outcome, Solved, compare, solve
from tests.spice.run import SimulatorError

SIMULATORS = 2


def _one(solved: Solved) -> Outcome | SimulatorError:
    try:
        return compare(solved)
    except SimulatorError as error:
        return error


def compare_all(cases: Sequence[Case]) -> list[tuple[Solved, Outcome | SimulatorError]]:
    """Return each case's answers with its comparison, or why the simulator gave none."""
    solved = [solve(case) for case in cases]
    with ThreadPool(SIMULATORS) as pool:
        return list(zip(solved, pool.map(_one, solved, chunksize=1), strict=True))
