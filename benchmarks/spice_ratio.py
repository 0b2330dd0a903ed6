"""How many times faster the program solves a running machine than a circuit simulator.

Run from the root of the repository: ``python -m benchmarks.spice_ratio``. Both solve the same
operating points in one run on one core each, and processor time counts, so that other work on
the machine does not. The program finds the regulator's share of time and all readings; the
simulator only marches the modes in use, at the voltage the program found, from a guessed start
for as many periods as its steady state needs. Its start-up and files are in its time.
"""

from __future__ import annotations

import resource
import time
from dataclasses import dataclass

import numba
import numpy as np

from chargewright.circuit.running import STEPS
from tests.spice import kernel
from tests.spice.cases import random_cases
from tests.spice.compare import Solved, solve
from tests.spice.run import FINE_STEPS, SimulatorError, available, steady

SEED = 11


@dataclass(frozen=True, slots=True)
class Ratio:
    """Mean processor time per machine [s]; ``spice_s`` by steps per period."""

    machines: int
    kernel_s: float
    spice_s: dict[int, float]


def kernel_time_s(solved: list[Solved], repeats: int = 20) -> float:
    """Return the program's processor time per machine on one thread."""
    threads = numba.get_num_threads()
    numba.set_num_threads(1)
    kernel.solve(solved[0].case.layout, solved[0].op)  # compiled before the clock starts
    started = time.process_time()
    for _ in range(repeats):
        for one in solved:
            kernel.solve(one.case.layout, one.op)
    spent = time.process_time() - started
    numba.set_num_threads(threads)
    return spent / repeats / len(solved)


def children_s() -> float:
    """Return the processor time of all finished child processes [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def spice_time_s(solved: list[Solved], steps: int) -> float:
    """Return the simulator's processor time per machine."""
    times = []
    for one in solved:
        started = children_s()
        try:
            for mode in one.modes:
                steady(one.case.layout, one.op, one.answer.e_v, mode, steps=steps)
        except SimulatorError:
            continue
        times.append(children_s() - started)
    return float(np.mean(times))


def measure(count: int = 30) -> Ratio:
    """Return the times of both on ``count`` random machines."""
    solved = [solve(case) for case in random_cases(count, SEED)]
    return Ratio(
        count,
        kernel_time_s(solved),
        {steps: spice_time_s(solved, steps) for steps in (STEPS, FINE_STEPS)},
    )


def main() -> None:
    """Print times and ratios."""
    if not available():
        raise SystemExit("ngspice is not on the path: nothing to compare with")
    ratio = measure()
    print(f"{ratio.machines} machines; program {ratio.kernel_s * 1e6:.0f} us each at {STEPS} steps")
    for steps, seconds in ratio.spice_s.items():
        print(
            f"simulator, {steps} steps a period: {seconds:.3f} s each,"
            f" {seconds / ratio.kernel_s:.0f} times as long"
        )


if __name__ == "__main__":
    main()
