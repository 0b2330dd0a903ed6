"""How many times faster the program solves a running machine than a circuit simulator.

Run from the root of the repository: ``python -m benchmarks.spice_ratio``. Both solve the same
operating points in one run, and processor time of all threads counts, so that other work on
the machine does not. The program finds the regulator's share of time and all readings; the
simulator only marches the modes in use, at the voltage the program found, from a guessed start
for as many periods as its steady state needs. Its start-up and files are in its time.
"""

from __future__ import annotations

import resource
import time
from dataclasses import dataclass

import numpy as np

from chargewright.circuit.running import STEPS
from chargewright.machine.layout import Layout
from chargewright.machine.parameters import Array
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


def kernel_time_s(solved: list[Solved], copies: int = 50, repeats: int = 5) -> float:
    """Return the program's processor time per machine, as it works: many machines in a batch."""
    batches: dict[Layout, list[Array]] = {}
    for one in solved:
        batches.setdefault(one.case.layout, []).append(one.op)
    stacks = {layout: np.tile(ops, (copies, 1)) for layout, ops in batches.items()}
    for layout, ops in stacks.items():  # compiled before the clock starts
        kernel.solve_many(layout, ops[:1])
    started = time.process_time()
    for _ in range(repeats):
        for layout, ops in stacks.items():
            kernel.solve_many(layout, ops)
    return (time.process_time() - started) / repeats / copies / len(solved)


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
