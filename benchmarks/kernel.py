"""How fast running machines are solved, and where the time goes.

Run from the root of the repository: ``python -m benchmarks.kernel [file]``. Prints a table, and
writes it to ``file`` if given (``docs/validation/speed.md``). Machines are drawn with a fixed
seed from one class, every cause and plausible pair of causes alike, at the running states its
catalogue of checks asks for; every test point's mean, true rms, rectified value and fundamental
are read against the battery's minus. Times per core are processor time, best of several.
"""

from __future__ import annotations

import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks import spice_ratio
from chargewright.checks.load import catalogue
from chargewright.circuit import compiled, observe, running, waveforms
from chargewright.circuit import network as nw
from chargewright.circuit.operate import CONVERGED, CUT, PERIODS, RESULTS
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.layout import ChargeTo, Regulator, Sense
from chargewright.machine.model import Machine
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, State
from chargewright.machine.prior import prior
from tests.spice.run import available

CLASS = "sport-600-1000"
SEED = 20240607
SIMULATED = 12  # machines
POINTS = np.arange(1, waveforms.POINTS)  # of the running circuit, but for battery minus
STEPS = (running.STEPS, running.ROUGH_STEPS)
FIRST_SOLVE = """
import time; start = time.perf_counter()
from tests.circuit.machine_m import machine_m, solve
solve([machine_m(3000)], [(6, 7)])
print(time.perf_counter() - start)
"""


def units(machine: Machine, n: int) -> Array:
    """Return parameters of n machines, its hypotheses in turn."""
    rng = np.random.default_rng(SEED)
    hypotheses = prior(machine)
    sizes = [len(range(i, n, len(hypotheses))) for i in range(len(hypotheses))]
    drawn = [
        draw(machine, h.causes, rng.standard_normal((size, LATENTS)))
        for h, size in zip(hypotheses, sizes, strict=True)
    ]
    return np.ascontiguousarray(np.concatenate(drawn)[rng.permutation(n)])


def running_states(machine: Machine) -> list[State]:
    """Return the states of the catalogue with the engine running and the plug in."""
    known = catalogue(machine.layout, machine.speeds, lights_always_on=machine.lights_always_on)
    states = [check.state for check in known.checks]
    chosen = [s for s in states if s.engine is Engine.RUNNING and s.plug_in]
    return list(dict.fromkeys(chosen))


def columns(machine: Machine, params: Array, states: list[State]) -> Array:
    """Return the operating points of all machines in all states."""
    points = [
        running.operating_points(machine.layout, params, s, observe.rpm_of(params, s))
        for s in states
    ]
    return np.concatenate(points)


def solve(
    machine: Machine, ops: Array, steps: int, *, points: NDArray[np.int64], plain: bool = False
) -> Array:
    """Solve operating points; return their results (n, RESULTS)."""
    layout = machine.layout
    answers, results = np.zeros((len(ops), points.size, 4)), np.zeros((len(ops), RESULTS))
    running.solve_all(
        ops,
        running.KIND[layout.winding],
        layout.regulator is Regulator.SERIES,
        layout.charge_to is ChargeTo.BATTERY,
        layout.sense is Sense.LEAD,
        nw.emf_table(steps),
        points,
        np.zeros_like(points),
        answers,
        results,
        plain=plain,
    )
    return results


def best(action: Callable[[], object], clock: Callable[[], float], times: int = 5) -> float:
    """Return the shortest of several runs [s]."""
    found = []
    for _ in range(times):
        start = clock()
        action()
        found.append(clock() - start)
    return min(found)


def on_one_core(*actions: Callable[[], object], times: int = 5) -> list[float]:
    """Return each action's processor time [s] on one core, the shortest of several runs.

    They take turns, so that what else the computer does meets all of them.
    """
    usual = compiled.cores
    compiled.cores = lambda: 1
    found = [float("inf")] * len(actions)
    try:
        for _ in range(times):
            for i, action in enumerate(actions):
                found[i] = min(found[i], best(action, time.process_time, 1))
    finally:
        compiled.cores = usual
    return found


def per_core(machine: Machine, ops: Array) -> list[str]:
    """Return the rows of operating points per second and core, and where the time goes."""
    rows = [
        "| steps | regulator | operating points | per second and core | target | periods "
        "| not settled |",
        "|---|---|---|---|---|---|---|",
    ]
    parts = [
        "| steps | regulator | plain steps | statistics | switching, set-up, battery |",
        "|---|---|---|---|---|",
    ]
    for steps in STEPS:
        cut = solve(machine, ops, steps, points=POINTS)[:, CUT]
        for name, target, some in (
            ("does not act", 200_000, ops[cut == 0.0]),
            ("acts", 50_000, ops[cut > 0.0]),
        ):
            some = np.ascontiguousarray(some)
            results = solve(machine, some, steps, points=POINTS)

            all_s, one_s, double_s = on_one_core(
                partial(solve, machine, some, steps, points=POINTS),
                partial(solve, machine, some, steps, points=POINTS[:1]),
                partial(solve, machine, some, 2 * steps, points=POINTS[:1]),
                times=15,
            )
            marching, reading = double_s - one_s, (all_s - one_s) * POINTS.size / (POINTS.size - 1)
            periods, lost = results[:, PERIODS].mean(), (results[:, CONVERGED] < 0.5).sum()
            rows.append(
                f"| {steps} | {name} | {len(some)} | {len(some) / all_s:,.0f} "
                f"| {target:,} | {periods:.2f} | {lost} |"
            )
            shares = (marching / all_s, reading / all_s, 1.0 - (marching + reading) / all_s)
            parts.append(f"| {steps} | {name} | " + " | ".join(f"{s:.0%}" for s in shares) + " |")
    return [*rows, "", *parts]


def sizes(machine: Machine) -> list[str]:
    """Return the rows of batch size, and of one core against all."""
    rows = ["| machines | wall seconds, all cores | microseconds each |", "|---|---|---|"]
    state = running_states(machine)[-1:]
    ops = columns(machine, units(machine, 100_000), state)
    for n in (1_000, 10_000, 100_000):
        some = np.ascontiguousarray(ops[:n])
        task = partial(solve, machine, some, STEPS[1], points=POINTS)
        wall_s = best(task, time.perf_counter, 3)
        rows.append(f"| {n:,} | {wall_s:.3f} | {wall_s / n * 1e6:.1f} |")
    some = np.ascontiguousarray(ops[:20_000])

    def run() -> None:
        solve(machine, some, STEPS[1], points=POINTS)

    all_s, all_work_s = best(run, time.perf_counter), best(run, time.process_time)
    usual = compiled.cores
    compiled.cores = lambda: 1
    one_s, one_work_s = best(run, time.perf_counter), best(run, time.process_time)
    compiled.cores = usual
    rows += [
        "",
        f"From 1 core to {usual()}: {one_s / all_s:.2f} times as fast by the clock, for "
        f"{all_work_s / one_work_s:.2f} times the processor time (load of the computer by others: "
        f"{os.getloadavg()[0]:.1f}).",
    ]
    return rows


def whole_catalogue(machine: Machine) -> list[str]:
    """Return what 20,000 machines in every running state take."""
    params, states = units(machine, 20_000), running_states(machine)
    start = time.perf_counter()
    for state in states:
        rpm = observe.rpm_of(params, state)
        ops = running.operating_points(machine.layout, params, state, rpm)
        solve(machine, ops, STEPS[1], points=POINTS)
    wall_s = time.perf_counter() - start
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return [
        f"20,000 machines in {len(states)} running states of the catalogue, {STEPS[1]} steps, "
        f"operating points made from parameters included: {wall_s:.2f} s, peak {peak_mb:.0f} MB."
    ]


def plain_ratio(machine: Machine, ops: Array) -> list[str]:
    """Return how the path without a compiler compares."""
    some = np.ascontiguousarray(ops[:1500])
    fast_s = on_one_core(lambda: solve(machine, some, STEPS[1], points=POINTS))[0]
    slow = partial(solve, machine, some, STEPS[1], points=POINTS, plain=True)
    slow_s = on_one_core(slow, times=1)[0]
    return [
        f"Without numba: {len(some) / slow_s:,.0f} operating points a second, "
        f"{slow_s / fast_s:.0f} times as long as with it."
    ]


def simulator_ratio() -> list[str]:
    """Return how many times longer a circuit simulator takes for the same points, in this run."""
    if not available():
        return ["Circuit simulator: not installed here, no ratio."]
    ratio = spice_ratio.measure(SIMULATED)
    times = ", ".join(
        f"{seconds / ratio.kernel_s:,.0f} times as long at {steps} steps a period"
        for steps, seconds in ratio.spice_s.items()
    )
    return [
        f"The same {ratio.machines} random machines of all classes in a circuit simulator, "
        f"processor time: {times} (here {ratio.kernel_s * 1e6:.0f} us a machine; "
        "`benchmarks/spice_ratio.py`)."
    ]


def starts() -> list[str]:
    """Return what a new process takes to its first answer, before and after compiling."""
    with tempfile.TemporaryDirectory() as empty:
        there = dict(os.environ, NUMBA_CACHE_DIR=empty, PYTHONPATH="src:.")
        seconds = []
        for _ in range(2):
            command = [sys.executable, "-c", FIRST_SOLVE]
            done = subprocess.run(command, env=there, capture_output=True, text=True, check=True)
            seconds.append(float(done.stdout))
    return [
        f"A new process' first answer, imports included: {seconds[0]:.1f} s when the code has to "
        f"be compiled, {seconds[1]:.2f} s afterwards."
    ]


def main(file: Path | None) -> None:
    """Print the table; write it to ``file``."""
    machine = load_class(CLASS)
    ops = columns(machine, units(machine, 1_500), running_states(machine))
    lines = [
        "# Speed of the running circuit",
        "",
        f"`python -m benchmarks.kernel`, {platform.machine()}, {os.cpu_count()} cores, "
        f"Python {platform.python_version()}; class {CLASS}, all its causes and pairs alike, "
        f"seed {SEED}; {POINTS.size} test points with all their statistics. Load of the computer "
        f"by others at the start: {os.getloadavg()[0]:.1f}.",
        "",
        *per_core(machine, ops),
        "",
        *whole_catalogue(machine),
        "",
        *sizes(machine),
        "",
        *plain_ratio(machine, ops),
        "",
        *simulator_ratio(),
        "",
        *starts(),
    ]
    text = "\n".join(lines) + "\n"
    print(text, end="")
    if file is not None:
        file.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
