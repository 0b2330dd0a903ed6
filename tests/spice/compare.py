"""Compares program and simulator on one case: each mode by itself, then their mixture."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from chargewright.circuit import network as nw
from chargewright.circuit.direct_current import law_gap, storing_ends
from chargewright.circuit.running import ROUGH_STEPS, STEPS
from chargewright.machine.layout import ChargeTo, Layout, Winding
from chargewright.machine.parameters import Array
from tests.spice import kernel
from tests.spice.cases import Case
from tests.spice.measure import read_amps, read_volts
from tests.spice.netlist import Mode
from tests.spice.run import Waves, steady

DC_VOLTS = (
    "battery",
    "regulator output",
    "behind fuse",
    "sense",
    "charge side drop",
    "ground drop",
    "lead A-frame",
)
AC_VOLTS = ("leads A-B", "leads B-C", "leads C-A", "lead A-frame", "plug A")
PHASES = ("lead A", "lead B", "lead C")
DC_AMPS = ("output", "ground", "loads")
MIXED = "mixture"
STEP_COUNTS = (STEPS, ROUGH_STEPS, 240, 120)  # those in use first, then two for comparison
BROKEN_OHM = 100.0


@dataclass(frozen=True, slots=True)
class Target:
    """Agreement asked for: within a share of the reading or within a floor, whichever is wider."""

    rel: float
    floor: float
    unit: str

    def allowed(self, size: float) -> float:
        """Return the greatest difference for a reading of this size."""
        return max(self.rel * size, self.floor)


TARGETS = {
    "DC volts": Target(0.015, 0.030, "V"),
    "AC volts": Target(0.03, 0.030, "V"),
    "phase current": Target(0.03, 0.030, "A"),
    "DC current": Target(0.03, 0.100, "A"),
    "battery current": Target(0.01, 0.100, "A"),  # of the output: it is output minus loads
    "battery ripple": Target(0.10, 0.010, "V"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One reading of one case as the simulator and the program have it."""

    case: str
    cause: str
    mode: str
    group: str
    quantity: str
    spice: float
    found: Mapping[int, float]  # the program's, by time steps in a period
    size: float  # what a relative target is relative to

    @property
    def allowed(self) -> float:
        """The greatest difference within the group's target."""
        return TARGETS[self.group].allowed(self.size)

    def away(self, steps: int = STEPS) -> float:
        """Return the program's reading minus the simulator's."""
        return self.found[steps] - self.spice

    def holds(self, steps: int = STEPS) -> bool:
        """Tell whether program and simulator agree within the group's target."""
        return abs(self.away(steps)) <= self.allowed

    def percent(self, steps: int = STEPS) -> float:
        """Return the signed error in percent of ``size``, NaN where the floor decides."""
        if self.allowed <= TARGETS[self.group].floor:
            return float("nan")
        return 100.0 * self.away(steps) / self.size


Answers = dict[int, kernel.Answer]


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """The program's answers to a case by time steps in a period.

    ``modes`` holds those used, both at the internal voltage ``answer.e_v``.
    """

    case: Case
    op: Array
    answers: Answers
    modes: dict[Mode, Answers]

    @property
    def answer(self) -> kernel.Answer:
        """The answer with the program's own number of steps."""
        return self.answers[STEPS]

    @property
    def battery_path_ohm(self) -> float:
        """Resistance from where the loads hang, through the battery, to frame [ohm]."""
        ohm = self.op[nw.BATTERY_OHM] + self.op[nw.CLAMP_OHM] + self.op[nw.NEG_OHM]
        if self.case.layout.charge_to is ChargeTo.HARNESS:
            ohm += self.op[nw.FUSE_OHM]
        return float(ohm)

    @property
    def battery_in(self) -> bool:
        """Whether the battery's path is not broken."""
        return self.battery_path_ohm < BROKEN_OHM

    @property
    def regulating(self) -> bool:
        """Whether the regulator holds its set point by its share of time."""
        return bool(self.op[nw.CUT_MIN] < self.answer.cut < self.op[nw.CUT_MAX])


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """All rows of a case, and whether the program's slow unknowns satisfy the simulator too.

    ``held_gap_v``: the simulator's mean sensed voltage minus the set point, where it is held;
    ``e_gap_v``: elsewhere, the battery's law at the simulator's mean current minus the internal
    voltage used. (At the set point the battery's current is near zero, where its over-voltage
    jumps; the current itself is compared instead.)
    """

    rows: list[Row]
    periods: int
    e_gap_v: float
    held_gap_v: float


def solve(case: Case) -> Solved:
    """Ask the program; the modes used are those with a share of the time."""
    op = kernel.columns_of(case)
    answers = _by_steps(case.layout, op)
    e_v, cut = answers[STEPS].e_v, answers[STEPS].cut
    modes = {}
    for mode, share in ((Mode.CHARGE, 1.0 - cut), (Mode.CUT, cut)):
        if share > 0.0:
            held = kernel.one_mode(op, e_v, cutting=mode is Mode.CUT)
            modes[mode] = _by_steps(case.layout, held)
    return Solved(case=case, op=op, answers=answers, modes=modes)


def _by_steps(layout: Layout, op: Array) -> Answers:
    return {steps: kernel.solve(layout, op, steps=steps) for steps in STEP_COUNTS}


def compare(solved: Solved) -> Outcome:
    """Simulate a solved case and put both sides next to each other.

    The mixture takes the program's own share of time and internal voltage; how well these fit
    the simulator is told by the gaps.
    """
    case, op = solved.case, solved.op
    waves: dict[Mode, Waves] = {}
    rows: list[Row] = []
    periods = 0
    for mode, answers in solved.modes.items():
        waves[mode], count = steady(case.layout, op, solved.answer.e_v, mode)
        periods += count
        rows += _rows(case, mode.value, [(1.0, waves[mode])], op, answers)
    cut = solved.answer.cut
    shares = {Mode.CHARGE: 1.0 - cut, Mode.CUT: cut}
    mixed = [(shares[mode], wave) for mode, wave in waves.items()]
    rows += _rows(case, MIXED, mixed, op, solved.answers)
    battery_a = read_amps(mixed)["battery"][0]
    sensed_v = read_volts(mixed, case.layout, op)["sense"][0]
    return Outcome(
        rows=rows,
        periods=periods,
        e_gap_v=float("nan")
        if solved.regulating
        else float(law_gap(op, storing_ends(op), solved.answer.e_v, battery_a)),
        held_gap_v=float(sensed_v - op[nw.SETPOINT_V]) if solved.regulating else float("nan"),
    )


def _rows(
    case: Case, mode: str, mixed: list[tuple[float, Waves]], op: Array, answers: Answers
) -> list[Row]:
    volts, amps = read_volts(mixed, case.layout, op), read_amps(mixed)
    found = {
        steps: [value for _, _, value, _ in _readings(case.layout, one.volts, one.amps)]
        for steps, one in answers.items()
    }
    return [
        Row(
            case=case.name,
            cause=case.cause,
            mode=mode,
            group=group,
            quantity=quantity,
            spice=value,
            found={steps: values[i] for steps, values in found.items()},
            size=size,
        )
        for i, (group, quantity, value, size) in enumerate(_readings(case.layout, volts, amps))
    ]


def _readings(
    layout: Layout, volts: dict[str, Array], amps: dict[str, Array]
) -> Iterator[tuple[str, str, float, float]]:
    """Yield (group, quantity, value, size); a single-phase machine has no lead C."""
    single = layout.winding is Winding.SINGLE
    output = abs(float(amps["output"][kernel.DC]))
    for name in DC_VOLTS:
        value = float(volts[name][kernel.DC])
        yield "DC volts", name, value, abs(value)
    for name in AC_VOLTS:
        if not (single and "C" in name):
            for column, title in ((kernel.RMS, "true rms"), (kernel.AVERAGE, "average")):
                value = float(volts[name][column])
                yield "AC volts", f"{name}, {title}", value, value
    for name in PHASES:
        if not (single and name == "lead C"):
            value = float(np.hypot(*amps[name][: kernel.AVERAGE]))
            yield "phase current", name, value, value
    for name in DC_AMPS:
        value = float(amps[name][kernel.DC])
        yield "DC current", name, value, abs(value)
    yield "battery current", "battery", float(amps["battery"][kernel.DC]), output
    for column, title in ((kernel.RMS, "true rms"), (kernel.AVERAGE, "average")):
        value = float(volts["battery"][column])
        yield "battery ripple", title, value, value
