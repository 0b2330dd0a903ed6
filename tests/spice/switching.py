"""Cost of the mixture: the program's two modes against a regulator that really switches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from multiprocessing.pool import ThreadPool

import numpy as np

from chargewright.circuit import network as nw
from chargewright.circuit.running import STEPS
from tests.spice import kernel
from tests.spice.batch import SIMULATORS
from tests.spice.cases import random_case
from tests.spice.compare import Solved, solve
from tests.spice.measure import mean, read_amps, read_volts
from tests.spice.netlist import Mode
from tests.spice.regulator import Controller, regulated
from tests.spice.run import SimulatorError, Waves

QUICK = Controller(
    title="quick",
    filter_periods=1.0,
    hysteresis_v=0.02,
    settle_periods=30,
    measure_periods=60,
)
FIRM_OHM = 0.1  # battery path below which it holds the output up through a half-wave
SLOW_HYSTERESIS = 0.25  # of the smaller swing about the set point
SLOW_FILTER_PERIODS = 30.0
QUANTITIES = (
    ("battery DC volts", "volts", "battery", "dc"),
    ("behind fuse DC volts", "volts", "behind fuse", "dc"),
    ("battery ripple, true rms", "volts", "battery", "rms"),
    ("battery ripple, average", "volts", "battery", "average"),
    ("leads A-B AC volts, true rms", "volts", "leads A-B", "rms"),
    ("leads A-B AC volts, average", "volts", "leads A-B", "average"),
    ("lead A current, true rms", "amps", "lead A", "total"),
    ("output DC current", "amps", "output", "dc"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Switched:
    """One case with one controller: (switched, mixture) per quantity, and how often it switched."""

    case: str
    controller: str
    cut: float
    gated: float
    switchings_per_period: float
    values: dict[str, tuple[float, float]]


def slow_controller(solved: Solved) -> Controller:
    """Return a controller that stays in each mode for many periods: the mixture's assumption.

    Its hysteresis suits the swing of the sensed voltage between the modes.
    """
    setpoint = solved.op[nw.SETPOINT_V]
    above = solved.modes[Mode.CHARGE][STEPS].volts["sense"][kernel.DC] - setpoint
    below = setpoint - solved.modes[Mode.CUT][STEPS].volts["sense"][kernel.DC]
    return Controller(
        title="slow",
        filter_periods=SLOW_FILTER_PERIODS,
        hysteresis_v=SLOW_HYSTERESIS * min(above, below),
        settle_periods=60,
        measure_periods=300,
    )


def regulating_cases(count: int, seed: int, *, firm: bool = True) -> list[Solved]:
    """Return cases that regulate, 5 to 95 % cut, their output firmly held by a battery or not."""
    found: list[Solved] = []
    number = 0
    while len(found) < count:
        solved = solve(random_case(number, seed))
        number += 1
        if (
            (solved.battery_path_ohm < FIRM_OHM) is firm
            and solved.regulating
            and 0.05 < solved.answer.cut < 0.95
        ):
            found.append(solved)
    return found


def whole_cycles(waves: Waves) -> Waves:
    """Return the waveforms from the first to the last time the gate rises, if it does twice.

    A slow regulator goes round some twenty times while measured: part of a cycle would count.
    """
    rises = np.flatnonzero(np.diff((waves["v(gate)"] > 0.5).astype(int)) > 0)
    if rises.size < 2:
        return waves
    part = slice(rises[0], rises[-1] + 1)
    return Waves(waves.time_s[part], {name: wave[part] for name, wave in waves.values.items()})


def switch(task: tuple[Solved, Controller]) -> Switched | SimulatorError:
    """Simulate one case with one controller and read both sides' meters."""
    solved, controller = task
    layout, op = solved.case.layout, solved.op
    try:
        waves = whole_cycles(regulated(layout, op, solved.answer.e_v, controller))
    except SimulatorError as error:
        return error
    whole = [(1.0, waves)]
    sides = [
        {"volts": read_volts(whole, layout, op), "amps": read_amps(whole)},
        {"volts": solved.answer.volts, "amps": solved.answer.amps},
    ]
    values = {}
    for title, kind, name, what in QUANTITIES:
        pair = [_value(side[kind][name], what) for side in sides]
        values[title] = (pair[0], pair[1])
    flips = np.count_nonzero(np.diff(waves["v(gate)"] > 0.5))
    periods = (waves.time_s[-1] - waves.time_s[0]) * op[nw.OMEGA] / (2 * np.pi)
    return Switched(
        case=solved.case.name,
        controller=controller.title,
        cut=solved.answer.cut,
        gated=mean(waves.time_s, waves["v(gate)"]),
        switchings_per_period=flips / 2 / float(periods),
        values=values,
    )


def _value(reading: np.ndarray, what: str) -> float:
    if what == "total":
        return float(np.hypot(reading[kernel.DC], reading[kernel.RMS]))
    return float(reading[("dc", "rms", "average").index(what)])


def study(count: int, seed: int) -> Sequence[Switched | SimulatorError]:
    """Return firmly held cases with either controller, and some others with the quick one."""
    cases = regulating_cases(count, seed)
    tasks = [(one, make) for one in cases for make in (QUICK, slow_controller(one))]
    bare = regulating_cases(max(1, count // 4), seed, firm=False)
    tasks += [(one, replace(QUICK, title="quick, not firm")) for one in bare]
    with ThreadPool(SIMULATORS) as pool:
        return pool.map(switch, tasks, chunksize=1)
