"""Runs the circuit simulator in batch mode until the period repeats, and reads its waveforms."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from chargewright.circuit import network as nw
from chargewright.machine.layout import Layout
from chargewright.machine.parameters import Array
from tests.spice.netlist import Mode, coils, guessed_currents, netlist, saved

PROGRAM = "ngspice"
OPTIONS = ".options abstol=1e-8 vntol=1e-6 method=gear maxord=2 itl4=100"
RELTOL = 1e-5
LONGEST_S = 120  # for one simulation
BODY = b"Binary:\n"  # what precedes the numbers of a raw file
RUN_IN_STEPS = 400  # per period while the start is forgotten
FINE_STEPS = 2000  # per period while measuring
RUN_IN_PERIODS = 10
MOST_ROUNDS = 40
REPEATS_A = 2e-3  # change of a coil current over one period that counts as repeating,
REPEATS_REL = 2e-4  # plus this share of its peak
ROUNDS_PER_STEP = 6  # fine rounds that do not repeat, before the steps become finer
FINER = 1.37  # by this factor, no simple fraction
RUN_IN_LOOSENESS = 20.0  # times that during the run-in, whose coarse steps jitter


@dataclass(frozen=True, slots=True)
class Waves:
    """Simulated vectors by name, all on the same uneven time axis [s]."""

    time_s: Array
    values: dict[str, Array]

    def __getitem__(self, name: str) -> Array:
        return self.values[name]


class SimulatorError(Exception):
    """The simulator did not finish; the message holds its last lines."""


def available() -> bool:
    """Tell whether the simulator is on the path."""
    return shutil.which(PROGRAM) is not None


def simulate(
    lines: list[str],
    vectors: list[str],
    *,
    stop_s: float,
    from_s: float,
    step_s: float,
    reltol: float = RELTOL,
) -> Waves:
    """Return the waveforms from ``from_s`` to ``stop_s``, no step longer than ``step_s``."""
    text = [
        "* running machine",
        *lines,
        f"{OPTIONS} reltol={reltol:g}",
        f".tran {step_s:.10g} {stop_s:.12g} {from_s:.12g} {step_s:.10g} uic",
        ".save " + " ".join(vectors),
        ".end",
        "",
    ]
    with tempfile.TemporaryDirectory(prefix="spice-") as folder:
        source, raw = Path(folder, "in.cir"), Path(folder, "out.raw")
        source.write_text("\n".join(text))
        try:
            done = subprocess.run(
                ["nice", PROGRAM, "-b", "-r", str(raw), str(source)],
                cwd=folder,
                capture_output=True,
                text=True,
                timeout=LONGEST_S,
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise SimulatorError(f"not finished within {LONGEST_S} s") from None
        told = (done.stdout + done.stderr).strip().splitlines()
        content = raw.read_bytes() if raw.exists() else b""
    if BODY not in content:
        raise SimulatorError(f"no waveforms: {' / '.join(told[-4:])}")
    waves = read_raw(content)
    if waves.time_s.size < 2 or waves.time_s[-1] < stop_s * (1 - 1e-6):
        reached = waves.time_s[-1] if waves.time_s.size else 0.0
        raise SimulatorError(f"stopped at {reached:.3g} of {stop_s:.3g} s: {' / '.join(told[-4:])}")
    return waves


def read_raw(content: bytes) -> Waves:
    """Return the waveforms of a binary raw file."""
    head, body = content.split(BODY, 1)
    lines = head.decode().splitlines()
    points = next(int(line.split(":")[1]) for line in lines if line.startswith("No. Points"))
    first = lines.index("Variables:") + 1
    names = [line.split()[1].lower() for line in lines[first:] if line.strip()]
    table = np.frombuffer(body, dtype="<f8", count=points * len(names)).reshape(points, len(names))
    return Waves(table[:, 0].copy(), dict(zip(names[1:], table[:, 1:].T.copy(), strict=True)))


def at(waves: Waves, name: str, when_s: float) -> float:
    """Return a vector's value at a moment."""
    return float(np.interp(when_s, waves.time_s, waves[name]))


def last_period(waves: Waves, period_s: float) -> Waves:
    """Return the last whole period, its first point interpolated."""
    stop = waves.time_s[-1]
    start = stop - period_s
    inside = waves.time_s > start
    time_s = np.concatenate([[start], waves.time_s[inside]])
    values = {
        name: np.concatenate([[at(waves, name, start)], wave[inside]])
        for name, wave in waves.values.items()
    }
    return Waves(time_s, values)


def steady(
    layout: Layout,
    op: Array,
    e_v: float,
    mode: Mode,
    *,
    steps: int = FINE_STEPS,
) -> tuple[Waves, int]:
    """Return the last period of the periodic steady state and the periods simulated.

    Runs in coarsely from a guess, then finely, each round starting from the currents at the
    end of the one before, until a whole period changes none of them. The simulator's own choice
    of steps can fall into a pattern that repeats only after several periods, some milliamperes
    apart; finer steps then break it.
    """
    period = 2 * np.pi / op[nw.OMEGA]
    vectors = saved(layout, op)
    names = [coil.name for coil in coils(layout, op)]
    currents = guessed_currents(layout, op, mode)
    total = 0
    for fine in (False, True):
        periods = 3 if fine else RUN_IN_PERIODS
        step = period / (steps if fine else min(RUN_IN_STEPS, steps))
        for tried in range(MOST_ROUNDS):
            if fine and tried and tried % ROUNDS_PER_STEP == 0:
                step /= FINER
            lines = netlist(layout, op, e_v, mode, currents)
            stop = periods * period
            waves = simulate(
                lines, vectors, stop_s=stop, from_s=(periods - 1.02) * period, step_s=step
            )
            total += periods
            ends = {name: waves[f"i(l_{name})"][-1] for name in names}
            before = {name: at(waves, f"i(l_{name})", stop - period) for name in names}
            peak = max(np.abs(waves[f"i(l_{name})"]).max() for name in names)
            currents = {name: float(value) for name, value in ends.items()}
            change = max(abs(ends[name] - before[name]) for name in names)
            looseness = 1.0 if fine else RUN_IN_LOOSENESS
            if change < looseness * (REPEATS_A + REPEATS_REL * peak):
                break
        else:
            raise SimulatorError(f"no steady state after {total} periods, change {change:.3g} A")
    return last_period(waves, period), total
