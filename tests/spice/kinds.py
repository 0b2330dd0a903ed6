"""Half-wave and field-excited machines: the front door's answers beside the simulator's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from multiprocessing.pool import ThreadPool

import numpy as np

from chargewright.circuit import field_excited, half_wave, observe, running
from chargewright.circuit import network as nw
from chargewright.circuit.field_coil import excited, field_coil
from chargewright.circuit.running import RATED_LOAD_V
from chargewright.circuit.signals import Probe
from chargewright.machine.cause_file import catalogue
from chargewright.machine.conditioning import machine_of
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.layout import Regulator, Winding
from chargewright.machine.model import Machine
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, Point, State, Warmth
from chargewright.machine.spec import SpecSheet
from tests.spice import field, kernel
from tests.spice import half_wave as half
from tests.spice.batch import SIMULATORS
from tests.spice.cases import Case
from tests.spice.compare import TARGETS, Target
from tests.spice.measure import read
from tests.spice.netlist import Mode
from tests.spice.periodic import periodic
from tests.spice.run import SimulatorError, Waves

P = Point
HALF_WAVE, FIELD = "scooter-50-half-wave", "tourer-field-excited"
LOWEST_RPM = {HALF_WAVE: 1200.0, FIELD: 800.0}
HIGHEST_RPM = {HALF_WAVE: 8000.0, FIELD: 6000.0}
BROKEN_OHM = 100.0
GROUPS: Mapping[str, Target] = {**TARGETS, "field": Target(0.03, 0.030, "A or V")}

Pairs = Mapping[str, tuple[Point, Point]]
DC_V: Pairs = {
    "battery": (P.BATTERY_POS, P.BATTERY_NEG),
    "regulator output": (P.REG_OUT, P.REG_BODY),
    "behind fuse": (P.FUSE_OUT, P.FRAME),
    "charge side drop": (P.REG_OUT, P.BATTERY_POS),
    "lead A-frame": (P.REG_A, P.FRAME),
}
HALF_AC: Pairs = {
    "coil lead-frame": (P.REG_A, P.FRAME),
    "plug A": (P.ALT_A, P.REG_A),
    "headlamp": (P.LAMP, P.FRAME),
    "lighting lead": (P.LIGHT_REG, P.FRAME),
    "lighting coil": (P.LIGHT_COIL, P.FRAME),
    "body-frame": (P.REG_BODY, P.FRAME),
}
FIELD_AC: Pairs = {
    "leads A-B": (P.REG_A, P.REG_B),
    "leads B-C": (P.REG_B, P.REG_C),
    "leads C-A": (P.REG_C, P.REG_A),
}
FIELD_V: Pairs = {"field lead": (P.REG_FIELD, P.FRAME), "field coil": (P.FIELD_POS, P.FIELD_NEG)}
HALF_A: Pairs = {
    "lead A": (P.ALT_A, P.REG_A),
    "lighting": (P.LIGHT_COIL, P.LIGHT_REG),
    "lamp": (P.LIGHT_REG, P.LAMP),
}
FIELD_A: Pairs = {f"lead {leg}": (P[f"ALT_{leg}"], P[f"REG_{leg}"]) for leg in "ABC"}
NODE = {
    P.BATTERY_POS: "v(pos)", P.BATTERY_NEG: "v(neg)", P.REG_OUT: "v(plus)", P.FRAME: "v(frame)",
    P.FUSE_OUT: "v(harness)", P.ALT_A: "v(alt_a)", P.ALT_B: "v(alt_b)", P.ALT_C: "v(alt_c)",
    P.REG_A: "v(reg_a)", P.REG_B: "v(reg_b)", P.REG_C: "v(reg_c)", P.LIGHT_COIL: "v(l_coil)",
    P.LIGHT_REG: "v(l_reg)", P.LAMP: "v(lamp)", P.REG_FIELD: "v(rf)", P.FIELD_POS: "v(fpos)",
    P.FIELD_NEG: "v(fneg)",
}  # fmt: skip
WIRE = {
    "lead A": "i(vlead_a)", "lead B": "i(vlead_b)", "lead C": "i(vlead_c)",
    "lighting": "i(vlight)", "lamp": "i(vlamp)", "output": "i(vout)",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Line:
    """One reading of one case by the program and by the simulator."""

    case: str
    cause: str
    group: str
    quantity: str
    found: float
    spice: float
    size: float

    def holds(self) -> bool:
        """Tell whether both agree within the group's target."""
        return abs(self.found - self.spice) <= GROUPS[self.group].allowed(self.size)

    def percent(self) -> float:
        """Return the program's error in percent of ``size``, NaN where the floor decides."""
        target = GROUPS[self.group]
        if target.rel * self.size <= target.floor:
            return float("nan")
        return 100.0 * (self.found - self.spice) / self.size


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A case's readings; ``held_gap_v`` sensed volts less set point where that is held."""

    case: Case
    lines: list[Line]
    held_gap_v: float
    converged: bool


def random_kind(class_id: str, number: int, seed: int) -> Case:
    """Return case ``number`` of a seeded list; causes take turns, all else is drawn.

    Half of the half-wave machines have a diode alone; a third of the field-excited ones are wound
    in delta, so that neither the regulator nor the star is met by accident.
    """
    rng = np.random.default_rng([seed, number])
    machine = machine_of(class_id, _sheet(class_id, rng))
    layout = machine.layout
    causes = catalogue().possible(machine)
    cause = causes[number % len(causes)]
    rpm = float(rng.uniform(LOWEST_RPM[class_id], HIGHEST_RPM[class_id]))
    state = State(
        engine=Engine.RUNNING,
        rpm=rpm,
        rpm_rel_u=0.0,
        key_on=True,
        lights_on=bool(rng.random() < 0.6),
        warmth=Warmth.HOT if rng.random() < 0.5 else Warmth.COLD,
    )
    return Case(
        name=f"{number}: {cause.id}, {class_id} {layout.winding} {layout.regulator}",
        cause=cause.id,
        layout=layout,
        params=draw(machine, (cause,), rng.standard_normal((1, LATENTS))),
        state=state,
        rpm=rpm,
    )


def _sheet(class_id: str, rng: np.random.Generator) -> SpecSheet:
    if class_id == HALF_WAVE:
        return SpecSheet(regulator=Regulator.NONE if rng.random() < 0.5 else Regulator.SERIES)
    return SpecSheet(winding=Winding.DELTA if rng.random() < 1 / 3 else Winding.STAR)


def number_of_causes(class_id: str) -> int:
    """Return how many causes a class can have."""
    machine: Machine = machine_of(class_id)
    return len(catalogue().possible(machine))


def verdict_of(case: Case) -> Verdict | SimulatorError:
    """Solve a case on both sides; the error where the simulator gives no answer."""
    try:
        return _field(case) if case.layout.field else _half_wave(case)
    except SimulatorError as error:
        return error


def verdicts(cases: Sequence[Case]) -> list[tuple[Case, Verdict | SimulatorError]]:
    """Solve many, two simulators at a time."""
    with ThreadPool(SIMULATORS) as pool:
        return list(zip(cases, pool.map(verdict_of, cases, chunksize=1), strict=True))


def _half_wave(case: Case) -> Verdict:
    layout, params, state = case.layout, case.params, case.state
    rpm = np.array([case.rpm])
    op = running.operating_points(layout, params, state, rpm)[0]
    bridge = half_wave.bridge_layout(layout)
    as_bridge = running.operating_points(bridge, half_wave.bridge_params(params), state, rpm)[0]
    answer = kernel.solve(bridge, as_bridge)
    held = bool(as_bridge[nw.CUT_MIN] < answer.cut < as_bridge[nw.CUT_MAX])
    guess = {"near": 0.0, "a": 0.0, "light": 0.0}
    mixed = []
    for mode, share in ((Mode.CHARGE, 1.0 - answer.cut), (Mode.CUT, answer.cut)):
        if share > 0.0:

            def lines(now: Mapping[str, float], mode: Mode = mode) -> list[str]:
                return half.netlist(layout, params, state, case.rpm, op, answer.e_v, mode, now)

            waves = periodic(lines, half.VECTORS, guess, 2.0 * np.pi / op[nw.OMEGA])
            mixed.append((share, waves))
    return _compare(case, op, mixed, HALF_AC, {}, HALF_A, held)


def _field(case: Case) -> Verdict:
    layout, params, state = case.layout, case.params, case.state
    rpm = np.array([case.rpm])
    op = running.operating_points(layout, params, state, rpm)[0]
    _, _, solved = field_excited.solve(layout, params, state, rpm, [], [])
    coil = field_coil(params, state)
    inner = replace(layout, regulator=Regulator.NONE)
    machine = excited(params, solved.excitation, coil.load_s(solved.share), RATED_LOAD_V)
    e_v = kernel.solve(inner, running.operating_points(inner, machine, state, rpm)[0]).e_v
    share = float(solved.share[0])
    field_a = float(coil.winding_a(coil.terminal_a(solved.share, solved.feed_v))[0])
    guess = {part.name: 0.0 for part in field.coils(layout, op)} | {"field": field_a}

    def lines(now: Mapping[str, float]) -> list[str]:
        return field.netlist(inner, op, coil, share, e_v, now)

    waves = periodic(lines, field.vectors(inner, op), guess, 2.0 * np.pi / op[nw.OMEGA])
    low, high = 1.0 - op[nw.CUT_MAX], 1.0 - op[nw.CUT_MIN]
    held = low + 1e-6 < share < high - 1e-6
    return _compare(case, op, [(1.0, waves)], FIELD_AC, FIELD_V, FIELD_A, held)


def _compare(case: Case, op: Array, mixed: list[tuple[float, Waves]], ac: Pairs, fed: Pairs,
             wires: Pairs, held: bool) -> Verdict:  # fmt: skip
    volts = {**DC_V, **ac, **fed}
    amps = {**wires, "output": _output(case)}
    found_v, found_a = observe.signals(
        case.layout, case.params, case.state,
        volts=[Probe(*pair) for pair in volts.values()],
        amps=[Probe(*pair) for pair in amps.values()],
    )  # fmt: skip
    spice_v = {name: _wave(mixed, pair) for name, pair in volts.items()}
    spice_a = {
        name: read([(share, w.time_s, w[WIRE[name]]) for share, w in mixed]) for name in amps
    }
    lines: list[Line] = []

    def note(group: str, quantity: str, found: float, spice: float, size: float) -> None:
        lines.append(Line(case.name, case.cause, group, quantity, found, spice, abs(size)))

    for i, name in enumerate(volts):
        dc, rms, average = spice_v[name]
        if name in DC_V:
            note("DC volts", name, found_v.dc[0, i], dc, dc)
        if name in fed:
            note("DC volts", name, found_v.dc[0, i], dc, dc)
        if name in ac:
            note("AC volts", f"{name}, true rms", found_v.ac_true_rms[0, i], rms, rms)
            note("AC volts", f"{name}, average", found_v.ac_average[0, i], average, average)
        if name == "battery":
            note("battery ripple", "true rms", found_v.ac_true_rms[0, i], rms, rms)
            note("battery ripple", "average", found_v.ac_average[0, i], average, average)
    for i, name in enumerate(amps):
        dc, rms, _ = spice_a[name]
        if name == "output":
            note("DC current", name, found_a.dc[0, i], dc, dc)
        else:
            both = float(np.hypot(found_a.dc[0, i], found_a.ac_true_rms[0, i]))
            note("phase current", name, both, float(np.hypot(dc, rms)), float(np.hypot(dc, rms)))
    gap = _sensed(case, op, mixed) - float(op[nw.SETPOINT_V]) if held else float("nan")
    return Verdict(case=case, lines=lines, held_gap_v=gap, converged=bool(found_v.converged[0]))


def _output(case: Case) -> tuple[Point, Point]:
    joins = P.FUSE_OUT if case.layout.charge_to.value == "harness" else P.BATTERY_POS
    return P.REG_OUT, joins


def _sensed(case: Case, op: Array, mixed: list[tuple[float, Waves]]) -> float:
    by_lead = case.layout.sense.value == "lead"
    node = "v(harness)" if by_lead else "v(plus)"
    drop = float(op[nw.SENSE_DROP_V]) if by_lead else 0.0
    return float(read([(share, w.time_s, w[node] - drop) for share, w in mixed])[0])


def _wave(mixed: list[tuple[float, Waves]], pair: tuple[Point, Point]) -> Array:
    def at(waves: Waves, point: Point) -> Array:
        return np.zeros_like(waves.time_s) if point is P.REG_BODY else waves[NODE[point]]

    return read([(share, w.time_s, at(w, pair[0]) - at(w, pair[1])) for share, w in mixed])


def battery_in(case: Case) -> bool:
    """Tell whether the battery's path is whole; without one volts are an indication only."""
    op = running.operating_points(case.layout, case.params, case.state, np.array([case.rpm]))[0]
    ohms = op[nw.BATTERY_OHM] + op[nw.CLAMP_OHM] + op[nw.NEG_OHM] + op[nw.FUSE_OHM]
    return bool(ohms < BROKEN_OHM)
