"""What the alternator can deliver: direct current against engine speed and battery voltage.

The circuit is solved once for a batch of machines with the regulator out of the way and a stiff
battery in place; balance and ride then read a table. Between speeds the square of the current
is straight over 1/rpm^2, the law of a permanent-magnet alternator on a battery; where output
only begins, and that law does not hold yet, the current itself is straight over rpm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from chargewright.circuit.ocv import open_circuit_v
from chargewright.circuit.running import ROUGH_STEPS
from chargewright.circuit.signals import Probe
from chargewright.circuit.turning import plugged
from chargewright.energy.interval import Interval, of_samples
from chargewright.errors import InputError
from chargewright.machine.draw import LATENTS, healthy
from chargewright.machine.layout import Layout
from chargewright.machine.model import Machine
from chargewright.machine.parameters import INDEX, Array, column
from chargewright.machine.points import Engine, Point, State, Warmth

VOLTS = (10.5, 12.0, 13.0, 14.0, 15.5)
# Times idle; with sixteen the table is within 1.2 % of the greatest output, with twelve within 5.
SPEEDS = (
    *(0.45, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5),
    *(1.75, 2.1, 2.7, 3.6, 5.5, 9.0),
)
LAW_FROM, LAW_ALL = 0.2, 0.5  # share of the greatest output between which the law takes over
FASTEST_RPM = 12000.0
LEAST_SETTLED = 0.98  # share of solutions that must have settled; the rest are far up in speed
UNITS = 200  # machines drawn for an interval
MOST_MEASURED = 3
OUTPUT_MODEL_REL = 0.05  # the circuit against a real alternator (assumed)
_OUTPUT = Probe(Point.REG_OUT, Point.BATTERY_POS)
_STIFF_SOC = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputTable:
    """Greatest direct current ``amps`` (n, r, v) [A] of n machines at ``rpm`` (r,), ``volts`` (v,).

    ``volts`` are those at the joint: where the regulator's output lead ends, against frame.
    """

    rpm: Array
    volts: Array
    amps: Array

    def at_speeds(self, rpm: Array) -> Array:
        """Return the current (n, k, v) at speeds (k,), held beyond the table's fastest."""
        held = np.clip(rpm, self.rpm[0], self.rpm[-1])
        upper = np.clip(np.searchsorted(self.rpm, held), 1, self.rpm.size - 1)
        slow, fast = self.rpm[upper - 1], self.rpm[upper]
        low, high = self.amps[:, upper - 1, :], self.amps[:, upper, :]
        along = ((held - slow) / (fast - slow))[None, :, None]
        straight = low + along * (high - low)
        by_law = ((slow**-2 - held**-2) / (slow**-2 - fast**-2))[None, :, None]
        curved = np.sqrt(low**2 + by_law * (high**2 - low**2))
        most = np.maximum(self.amps[:, -1:, :], 1e-9)
        begun = np.clip((straight / most - LAW_FROM) / (LAW_ALL - LAW_FROM), 0.0, 1.0)
        found = straight + begun * (curved - straight)
        return np.where((rpm < self.rpm[0])[None, :, None], 0.0, found)

    def at(self, rpm: Array | float, volts: float) -> Array:
        """Return the current (n, k) at speeds (k,) and one battery voltage [V]."""
        wide = self.at_speeds(np.atleast_1d(np.asarray(rpm, dtype=np.float64)))
        place = np.interp(volts, self.volts, np.arange(self.volts.size))
        j = min(int(place), self.volts.size - 2)
        share = place - j
        return np.asarray((1.0 - share) * wide[:, :, j] + share * wide[:, :, j + 1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One output measured on this machine: regulator lead by clamp, all loads that help on.

    Counts as greatest output only while the regulator does not hold back: volts below its
    set point. ``rel_u`` relative standard uncertainty, speed included.
    """

    rpm: float
    amps: float
    volts: float
    rel_u: float = 0.08

    def __post_init__(self) -> None:
        if not (100.0 <= self.rpm <= 20000.0 and 0.0 <= self.amps <= 200.0):
            raise InputError(
                f"measured {self.amps:g} A at {self.rpm:g} rpm: expected 0 to 200 A at 100 to"
                " 20000 rpm"
            )
        if not VOLTS[0] <= self.volts <= VOLTS[-1]:
            raise InputError(
                f"measured at {self.volts:g} V: expected {VOLTS[0]:g} to {VOLTS[-1]:g} V"
            )


def unregulated(params: Array, volts: Array | float) -> Array:
    """Return the batch (n, COUNT) with its regulator idle, no loads, and a stiff battery.

    ``volts`` [V] at the joint of output lead, loads and battery: a number or (n,).
    """
    made = params.copy()
    for name, value in (
        ("setpoint_v", 25.0),
        ("setpoint_hot_shift_v", 0.0),
        ("sense_a", 0.0),
        ("battery_ohm", 1e-4),
        ("polarisation", 1e-6),
        ("capacity_ah", 400.0),
        ("soc", _STIFF_SOC),
        ("running_load_a", 0.0),
        ("light_load_a", 0.0),
        ("accessory_load_a", 0.0),
        ("drain_a", 0.0),
        ("fuse_ohm", 0.0),
        ("pos_clamp_ohm", 0.0),
        ("neg_cable_ohm", 0.0),
        ("lost_cell_v", 0.0),
        ("chemistry", 1.0),
    ):
        made[:, INDEX[name]] = value
    rest = open_circuit_v(1.0, _STIFF_SOC, column(made, "ambient_c"))
    made[:, INDEX["ocv_shift_v"]] = volts - rest
    return made


def output_table(
    layout: Layout,
    params: Array,
    rpm: Array,
    *,
    warmth: Warmth = Warmth.HOT,
    volts: Sequence[float] = VOLTS,
    steps: int = ROUGH_STEPS,
) -> OutputTable:
    """Return what a batch (n, COUNT) can deliver, all machines, speeds and volts in one solve."""
    n, r, v = params.shape[0], len(rpm), len(volts)
    at_v = np.tile(np.asarray(volts, dtype=np.float64), n * r)
    batch = unregulated(np.repeat(params, r * v, axis=0), at_v)
    speed = np.tile(np.repeat(np.asarray(rpm, dtype=np.float64), v), n)
    state = State(engine=Engine.RUNNING, rpm=float(rpm[0]), warmth=warmth)
    _, amps = plugged(layout, batch, state, speed, [], [_OUTPUT], steps=steps)
    found = np.maximum(amps.dc[:, 0], 0.0).reshape(n, r, v)
    settled = amps.converged.reshape(n, r, v)
    if settled.mean() < LEAST_SETTLED or not settled[:, 0].all():
        bad = int(np.argmin(amps.converged))
        raise InputError(
            f"no steady state at {speed[bad]:g} rpm and {at_v[bad]:g} V: expected a sound"
            " alternator"
        )
    for fast in range(1, r):  # output hardly rises up there: hold the next slower speed's
        found[:, fast] = np.where(settled[:, fast], found[:, fast], found[:, fast - 1])
    return OutputTable(
        rpm=np.asarray(rpm, dtype=np.float64), volts=np.asarray(volts, dtype=np.float64), amps=found
    )


def table_speeds(machine: Machine) -> Array:
    """Return sixteen speeds [rpm] from below idle to far above, densest where output rises."""
    speeds = machine.speeds.idle_rpm * np.array(SPEEDS)
    speeds[-1] = max(min(speeds[-1], FASTEST_RPM), 1.2 * speeds[-2])
    return speeds


def drawn_machines(machine: Machine, units: int, seed: int) -> Array:
    """Return parameters (units, COUNT) of sound machines that the spec sheet allows."""
    return healthy(machine, np.random.default_rng(seed).standard_normal((units, LATENTS)))


def weights_after(table: OutputTable, measured: Sequence[Measured]) -> Array:
    """Return the weight (n,) of each machine after up to three measured outputs."""
    if len(measured) > MOST_MEASURED:
        raise InputError(f"{len(measured)} measured outputs: expected at most {MOST_MEASURED}")
    log_weight = np.zeros(table.amps.shape[0])
    for one in measured:
        expected = table.at(one.rpm, one.volts)[:, 0]
        u = np.hypot(np.hypot(one.rel_u, OUTPUT_MODEL_REL) * np.maximum(expected, one.amps), 0.3)
        log_weight -= 0.5 * ((one.amps - expected) / u) ** 2 + np.log(u)
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def output_interval(table: OutputTable, weight: Array, rpm: float, volts: float) -> Interval:
    """Return the greatest output [A] at one speed and voltage over the drawn machines."""
    return of_samples(table.at(rpm, volts)[:, 0], weight)
