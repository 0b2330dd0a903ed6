"""Heat in stator and regulator: a shunt regulator heats at any load, a series one with it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from chargewright.circuit.junction import chord, volts_at_1ma
from chargewright.circuit.running import STEPS, signals, winding_temperature_c
from chargewright.circuit.signals import Probe
from chargewright.energy.interval import Interval, of_samples
from chargewright.energy.output import drawn_machines, unregulated
from chargewright.errors import InputError
from chargewright.machine.layout import Layout, Regulator, Winding
from chargewright.machine.model import Machine
from chargewright.machine.parameters import INDEX, Array, column
from chargewright.machine.points import Engine, Point, State, Warmth
from chargewright.machine.winding import copper_factor

_LEADS = {
    3: (
        Probe(Point.ALT_A, Point.REG_A),
        Probe(Point.ALT_B, Point.REG_B),
        Probe(Point.ALT_C, Point.REG_C),
    ),
    2: (Probe(Point.ALT_A, Point.REG_A),),
}
_OUTPUT = Probe(Point.REG_OUT, Point.BATTERY_POS)
MEAN_OVER_RMS = 2.0 * math.sqrt(2.0) / math.pi  # of a sine, rectified: 0.900


@dataclass(frozen=True, slots=True, kw_only=True)
class Heating:
    """Watts of heat at one speed, arrays (n,): ``full`` output, shunt and series at the load.

    ``cut`` share of time the regulator holds charging back.
    """

    stator_full_w: Array
    stator_shunt_w: Array
    stator_series_w: Array
    regulator_shunt_w: Array
    regulator_series_w: Array
    cut: Array


def heating(
    layout: Layout,
    params: Array,
    *,
    rpm: float,
    load_a: float,
    volts: float = 14.4,
    warmth: Warmth = Warmth.HOT,
) -> Heating:
    """Return the heat (n,) [W] of a batch (n, COUNT) carrying ``load_a`` [A] in all.

    Both kinds of regulator are computed on the same alternator: full output through the bridge
    for the share of time the load needs, all phases shorted or opened for the rest.
    """
    if load_a < 0.0 or not 100.0 <= rpm <= 20000.0:
        raise InputError(
            f"{load_a:g} A at {rpm:g} rpm: expected 0 or more amperes at 100 to 20000 rpm"
        )
    open_layout = replace(layout, regulator=Regulator.NONE)
    charging_a, output_a = _phase_and_output(open_layout, unregulated(params, volts), rpm, warmth)
    shorted = unregulated(params, volts)
    for name, value in (("cut_min", 1.0), ("cut_min_hot", 1.0)):
        shorted[:, INDEX[name]] = value
    shunt = replace(layout, regulator=Regulator.SHUNT)
    shorted_a, _ = _phase_and_output(shunt, shorted, rpm, warmth)
    cut = np.clip(1.0 - load_a / np.maximum(output_a, 1e-9), 0.0, 1.0)
    full_w = _copper_w(layout, params, charging_a, warmth)
    short_w = _copper_w(layout, params, shorted_a, warmth)
    diode_v = _junction_v(params, output_a, warmth)
    bridge_w = 2.0 * diode_v * output_a
    device_v = column(params, "shunt_v") + column(params, "shunt_ohm") * output_a
    # Each half wave of a shorted phase goes down through a device and back up a diode.
    legs = 1.0 if layout.winding is Winding.SINGLE else 1.5
    mean_a = MEAN_OVER_RMS * shorted_a.mean(axis=1)
    shunted_w = legs * mean_a * (device_v + diode_v)
    return Heating(
        stator_full_w=full_w,
        stator_shunt_w=(1.0 - cut) * full_w + cut * short_w,
        stator_series_w=(1.0 - cut) * full_w,
        regulator_shunt_w=(1.0 - cut) * bridge_w + cut * shunted_w,
        regulator_series_w=(1.0 - cut) * (diode_v + device_v) * output_a,
        cut=cut,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """Watts of heat over the sound machines of a class or spec sheet, at one speed and load."""

    stator_shunt_w: Interval
    stator_series_w: Interval
    regulator_shunt_w: Interval
    regulator_series_w: Interval


def heat_of(
    machine: Machine, *, rpm: float, load_a: float, units: int = 40, seed: int = 1
) -> Heat | None:
    """Return the heat in stator and regulator of a machine, hot, at ``rpm`` and ``load_a`` [A].

    None where there is no choice between shunt and series: a half-wave coil, a field coil.
    """
    if machine.layout.half_wave or machine.layout.field:
        return None
    found = heating(machine.layout, drawn_machines(machine, units, seed), rpm=rpm, load_a=load_a)
    return Heat(
        stator_shunt_w=of_samples(found.stator_shunt_w),
        stator_series_w=of_samples(found.stator_series_w),
        regulator_shunt_w=of_samples(found.regulator_shunt_w),
        regulator_series_w=of_samples(found.regulator_series_w),
    )


def _phase_and_output(
    layout: Layout, params: Array, rpm: float, warmth: Warmth
) -> tuple[Array, Array]:
    """Return rms current of each lead (n, leads) and direct output (n,)."""
    state = State(engine=Engine.RUNNING, rpm=rpm, warmth=warmth)
    leads = _LEADS[layout.phases]
    speed = np.full(params.shape[0], rpm)
    _, amps = signals(layout, params, state, speed, [], [*leads, _OUTPUT], steps=STEPS)
    rms = np.hypot(amps.ac_true_rms[:, :-1], amps.dc[:, :-1])
    return rms, np.maximum(amps.dc[:, -1], 0.0)


def _copper_w(layout: Layout, params: Array, lead_a: Array, warmth: Warmth) -> Array:
    """Return the copper loss (n,) [W] from the rms lead currents of a sound winding."""
    hot = copper_factor(winding_temperature_c(params, warmth))
    ohm = np.stack([column(params, f"winding_ohm_{leg}") for leg in "abc"], axis=1) * hot[:, None]
    if layout.winding is Winding.SINGLE:
        return np.asarray(ohm[:, 0] * lead_a[:, 0] ** 2)
    winding_a = lead_a / (math.sqrt(3.0) if layout.winding is Winding.DELTA else 1.0)
    return np.asarray((ohm * winding_a**2).sum(axis=1))


def _junction_v(params: Array, output_a: Array, warmth: Warmth) -> Array:
    """Return the drop (n,) [V] of one conducting junction, the circuit's straight line."""
    name = "regulator_hot_c" if warmth is Warmth.HOT else "ambient_c"
    temp_c = column(params, name)
    at_1ma = volts_at_1ma(column(params, "up_v_a"), temp_c)
    offset, ohm = chord(
        at_1ma, column(params, "junction_n"), column(params, "junction_ohm"), temp_c
    )
    return np.asarray(offset + ohm * output_a)
