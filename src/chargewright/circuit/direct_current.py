"""The direct-current side of a running machine: battery, loads, leads and the set point."""

from __future__ import annotations

import math

import numpy as np

from chargewright.circuit.compiled import compiled
from chargewright.circuit.network import (
    BATTERY_E_V,
    BATTERY_OHM,
    CHARGE_A,
    CHARGE_OHM,
    CHARGE_V,
    CLAMP_OHM,
    DRAW_A,
    DRAW_V,
    EMPTY_A,
    EMPTY_V,
    FUSE_OHM,
    GAS_A,
    GAS_V,
    GROUND_OHM,
    LOAD_S,
    NEG_OHM,
    SENSE_DROP_V,
    SETPOINT_V,
    SHORT_OHM,
    STORED_A,
    Number,
)
from chargewright.machine.parameters import Array

MOST_STEPS = 60
SAME_V = 1e-6  # of a Newton step; what is left after it is its square


@compiled
def sinh_law(eta: float, scale_v: float, knee_a: float) -> tuple[float, float]:
    """Return the current ``knee_a`` sinh(eta / ``scale_v``) and its slope."""
    up = math.exp(eta / scale_v)
    down = 1.0 / up
    return 0.5 * knee_a * (up - down), 0.5 * knee_a / scale_v * (up + down)


@compiled
def storing_ends(op: Array) -> tuple[float, float]:
    """Return over-voltage and current from which the battery stores no faster."""
    eta = op[CHARGE_V] * math.asinh(op[STORED_A] / op[CHARGE_A])
    if op[GAS_A] <= 0.0:
        return eta, math.inf
    return eta, op[STORED_A] + sinh_law(eta, op[GAS_V], op[GAS_A])[0]


@compiled
def charging_v(
    op: Array, ends: tuple[float, float], ohm: float, volts: float, guess: float
) -> float:
    """Return the over-voltage eta of eta + ohm * current = volts >= 0; of a given current where
    ``ohm`` is 0 and ``volts`` the current.

    The law is bent upwards on both sides of ``ends``, the over-voltage from which no more is
    stored and the current there. They tell which side holds the answer, which each part of the law
    alone would put too high: Newton comes to it from above, after one step from the ``guess``
    where that lies below.
    """
    share = 1.0 if ohm > 0.0 else 0.0
    factor = ohm if ohm > 0.0 else 1.0
    most = volts / factor
    storing = share * ends[0] + factor * ends[1] >= volts
    gasses = op[GAS_A] > 0.0
    if not storing:
        upper = op[GAS_V] * math.asinh(max(most - op[STORED_A], 0.0) / op[GAS_A])
    else:
        upper = op[CHARGE_V] * math.asinh(most / op[CHARGE_A])
        if gasses:
            upper = min(upper, ends[0], op[GAS_V] * math.asinh(most / op[GAS_A]))
    if ohm > 0.0:
        upper = min(upper, volts)
    eta = min(guess, upper) if guess > 0.0 else upper
    for _ in range(MOST_STEPS):
        current, slope = 0.0, 0.0
        if gasses:
            current, slope = sinh_law(eta, op[GAS_V], op[GAS_A])
        if storing:
            more, steeper = sinh_law(eta, op[CHARGE_V], op[CHARGE_A])
            current, slope = current + more, slope + steeper
        else:
            current += op[STORED_A]
        step = (share * eta + factor * current - volts) / (share + factor * slope)
        eta = min(eta - step, upper)
        if abs(step) < SAME_V:
            break
    return eta  # type: ignore[no-any-return]


@compiled
def overvoltage(op: Array, ends: tuple[float, float], current: float, guess: float) -> float:
    """Return the battery's settled over-voltage at its mean current (charging positive).

    The law of ``polarisation.overvoltage_v``, one machine at a time.
    """
    if current >= 0.0:
        return charging_v(op, ends, 0.0, current, guess)
    down = op[DRAW_V] * math.asinh(current / op[DRAW_A])
    return down + op[EMPTY_V] * math.tanh(current / op[EMPTY_A])  # type: ignore[no-any-return]


@compiled
def law_gap(op: Array, ends: tuple[float, float], e: float, current: float) -> float:
    """Return how far the battery's law at a current lies above the internal voltage ``e`` [V]."""
    eta = e - op[BATTERY_E_V]
    return overvoltage(op, ends, current, eta) - eta  # type: ignore[no-any-return]


@compiled
def battery_current(
    op: Array, ends: tuple[float, float], ohm: float, volts: float, guess: float
) -> tuple[float, float]:
    """Return (current I, over-voltage eta) of eta(I) + ohm I = volts; ``guess`` is of eta."""
    if volts >= 0.0:
        eta = charging_v(op, ends, ohm, volts, guess)
        return (volts - eta) / ohm, eta
    current = 0.0  # discharging bends towards zero: steps from there never overshoot
    eta = 0.0
    for _ in range(MOST_STEPS):
        root = math.sqrt(current * current + op[DRAW_A] * op[DRAW_A])
        bend = math.tanh(current / op[EMPTY_A])
        eta = op[DRAW_V] * math.asinh(current / op[DRAW_A]) + op[EMPTY_V] * bend
        slope = op[DRAW_V] / root + op[EMPTY_V] / op[EMPTY_A] * (1.0 - bend * bend)
        miss = volts - eta - ohm * current
        current += miss / (slope + ohm)
        if abs(miss) < 1e-3 * SAME_V:  # an open lead's 1 GOhm weighs nanoamperes
            break
    return current, eta


@compiled
def paths(op: Array, to_battery: bool) -> tuple[Number, Number, Number]:
    """Return (resistance of the battery path, load conductance, plus-to-frame resistance).

    Both paths lie between frame and the node where the regulator's output lead joins.
    """
    battery = op[BATTERY_OHM] + op[CLAMP_OHM] + op[NEG_OHM]
    load = op[LOAD_S]
    if to_battery:
        load = load / (1.0 + load * op[FUSE_OHM])
    else:
        battery = battery + op[FUSE_OHM]
    battery = np.maximum(battery, SHORT_OHM)
    return battery, load, op[CHARGE_OHM] + 1.0 / (load + 1.0 / battery)


@compiled
def setpoint_line(
    op: Array, to_battery: bool, by_lead: bool, battery: Number, load: Number
) -> tuple[Number, Number]:
    """Return (ohm, volts) of the battery's equation eta(I) + ohm I = volts at the set point.

    The sensed voltage there is a (e + eta) + b I over the battery's current I.
    """
    joint = 1.0  # sensed volts per volt at the node where the output lead joins
    if by_lead and to_battery:
        joint = 1.0 / (1.0 + op[LOAD_S] * op[FUSE_OHM])
    series = op[GROUND_OHM] + (0.0 if by_lead else 1.0) * op[CHARGE_OHM]
    wanted = op[SETPOINT_V] + (1.0 if by_lead else 0.0) * op[SENSE_DROP_V]
    per_e = joint + series * load
    return battery + series / per_e, wanted / per_e - op[BATTERY_E_V]


@compiled
def settling_line(
    op: Array, battery: Number, load: Number, e: Number, output: Number, slope: Number
) -> tuple[Number, Number]:
    """Return (ohm, volts) of the battery's equation where an output measured at ``e`` leads.

    The output is taken to fall by ``slope`` amperes per volt of the source e / (1 + load
    battery); the battery's law is exact.
    """
    divide = 1.0 + load * battery
    fall = load + slope / divide
    return divide / fall, (output + slope / divide * e) / fall - op[BATTERY_E_V]


@compiled
def at_setpoint(
    op: Array,
    ends: tuple[float, float],
    to_battery: bool,
    by_lead: bool,
    battery: float,
    load: float,
) -> tuple[float, float]:
    """Return (internal voltage, alternator current needed) when the set point is held."""
    ohm, volts = setpoint_line(op, to_battery, by_lead, battery, load)
    current, eta = battery_current(op, ends, ohm, volts, 0.0)
    e = op[BATTERY_E_V] + eta
    return e, current + load * (e + current * battery)


@compiled
def settled_e(
    op: Array,
    ends: tuple[float, float],
    battery: float,
    load: float,
    e: float,
    output: float,
    slope: float,
) -> float:
    """Return the internal voltage that follows from an output measured at ``e``."""
    ohm, volts = settling_line(op, battery, load, e, output, slope)
    rest = op[BATTERY_E_V]
    return rest + battery_current(op, ends, ohm, volts, e - rest)[1]  # type: ignore[no-any-return]
