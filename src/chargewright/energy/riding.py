"""The battery's current while riding, for many machines and speeds at once.

At each speed the alternator's table, the loads and the circuit's battery meet at one current:
rising volts against falling surplus. The battery's curve is laid out as points (current,
volts), the crossing is read off between two of them; the regulator caps it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.battery import BatteryArrays, battery_of
from chargewright.circuit.polarisation import charging_a, overvoltage_v, stored_a
from chargewright.circuit.running import load_siemens
from chargewright.energy.output import OutputTable, output_table
from chargewright.energy.trace import RpmShares
from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense
from chargewright.machine.parameters import Array, column
from chargewright.machine.points import Engine, State, Warmth

STORING = 0.97  # ampere-hours kept of those stored, gassing apart (assumed)
_UPWARD, _DOWNWARD = 9, 8  # points of the battery's curve on either side of zero current
_HALVINGS = 26


@dataclass(frozen=True, slots=True, kw_only=True)
class Rider:
    """What does not change from ride to ride; arrays over n machines and b speeds.

    ``available_a`` (n, b, v) on ``volts`` (v,); ``load_s`` [S]; ``setpoint_v`` at the sensed
    point of a hot regulator; ``battery_path_ohm`` joint to posts and back; ``lead_ohm`` what the
    whole output crosses before it is sensed.
    """

    available_a: Array
    volts: Array
    seconds: Array
    load_s: Array
    setpoint_v: Array
    battery_path_ohm: Array
    lead_ohm: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Riding:
    """Battery current [A] (n, b), positive charging, what of it is stored, and joint volts."""

    battery_a: Array
    stored_a: Array
    joint_v: Array


def rider(
    layout: Layout, params: Array, shares: RpmShares, table_rpm: Array, *, lights_on: bool = True
) -> Rider:
    """Return the fixed part of a batch (n, COUNT): one solve of the circuit for its table."""
    table: OutputTable = output_table(layout, params, _needed(table_rpm, shares.rpm))
    state = State(engine=Engine.RUNNING, rpm=1000.0, lights_on=lights_on, warmth=Warmth.HOT)
    path = column(params, "pos_clamp_ohm") + column(params, "neg_cable_ohm")
    lead = column(params, "reg_ground_ohm")
    if layout.charge_to is ChargeTo.HARNESS:
        path = path + column(params, "fuse_ohm")
    held = column(params, "setpoint_v") + column(params, "setpoint_v_per_k") * (
        column(params, "regulator_hot_c") - 20.0
    )
    if layout.sense is Sense.LEAD:
        held = held + column(params, "sense_ohm") * column(params, "sense_a")
    else:
        lead = lead + column(params, "charge_lead_ohm")
    if layout.regulator is Regulator.NONE:
        held = np.full_like(held, 60.0)
    return Rider(
        available_a=table.at_speeds(shares.rpm),
        volts=table.volts,
        seconds=shares.seconds,
        load_s=load_siemens(params, state),
        setpoint_v=held,
        battery_path_ohm=path,
        lead_ohm=lead,
    )


def _needed(table_rpm: Array, ride_rpm: Array) -> Array:
    """Return the table speeds that enclose the ride's, and the fastest, which scales the table."""
    first = max(int(np.searchsorted(table_rpm, ride_rpm.min(), side="right")) - 1, 0)
    last = min(int(np.searchsorted(table_rpm, ride_rpm.max())), table_rpm.size - 1)
    return np.unique(np.append(table_rpm[first : last + 1], table_rpm[-1]))


def ride_current(fixed: Rider, params: Array) -> Riding:
    """Return the battery's current at every speed with the charge it holds now.

    ``params`` (n, COUNT) with its present ``soc`` and ``ambient_c``.
    """
    battery = battery_of(params, State())
    most_a = float(fixed.load_s.max()) * 16.0 + 1.0
    amps, stored, posts = _curve(battery, most_a, float(fixed.available_a.max()) + 1.0)
    joint = posts + amps * fixed.battery_path_ohm[:, None]
    free = _crossing(fixed, amps, stored, joint)
    capped = _regulated(fixed, battery)
    holds = free.battery_a > capped.battery_a
    return Riding(
        battery_a=np.where(holds, capped.battery_a, free.battery_a),
        stored_a=np.where(holds, capped.stored_a, free.stored_a),
        joint_v=np.where(holds, capped.joint_v, free.joint_v),
    )


def _curve(battery: BatteryArrays, draw_a: float, charge_a: float) -> tuple[Array, Array, Array]:
    """Return the battery's curve, arrays (n, k): current, stored current, post volts; rising."""
    wide = {
        name: getattr(battery, name)[:, None]
        for name in battery.__dataclass_fields__
        if name not in ("soc", "temp_c")
    }
    tall = BatteryArrays(soc=battery.soc[:, None], temp_c=battery.temp_c[:, None], **wide)
    down_a = -draw_a * np.linspace(1.0, 0.0, _DOWNWARD) ** 2
    down_a = np.broadcast_to(down_a, (battery.soc.size, _DOWNWARD))
    down_v = tall.settled_v(down_a)
    # Over-voltages at which the storing branch alone would take each current, and even steps up
    # to where all is taken: together they are dense where either branch bends.
    by_current = tall.charge_scale_v * np.arcsinh(
        np.geomspace(0.02, charge_a, _UPWARD) / tall.charge_knee_a
    )
    even = overvoltage_v(tall, charge_a) * np.linspace(1.0 / _UPWARD, 1.0, _UPWARD)
    by_current = np.minimum(by_current, even[:, -1:])
    eta = np.sort(np.concatenate([by_current, even], axis=1), axis=1)
    up_a = np.asarray(charging_a(tall, eta))
    up_v = tall.emf_v + eta + tall.ohmic_ohm * up_a
    up_stored = np.minimum(stored_a(tall, eta), up_a)
    return (
        np.concatenate([down_a, up_a], axis=1),
        np.concatenate([down_a, up_stored], axis=1),
        np.concatenate([down_v, up_v], axis=1),
    )


def _crossing(fixed: Rider, amps: Array, stored: Array, joint: Array) -> Riding:
    """Return where surplus and battery meet without the regulator, arrays (n, b)."""
    place = np.interp(joint, fixed.volts, np.arange(fixed.volts.size))
    j = np.minimum(place.astype(np.intp), fixed.volts.size - 2)
    share = (place - j)[:, None, :]
    low = np.take_along_axis(fixed.available_a, j[:, None, :], axis=2)
    high = np.take_along_axis(fixed.available_a, j[:, None, :] + 1, axis=2)
    surplus = low + share * (high - low) - (fixed.load_s[:, None] * joint)[:, None, :]
    over = amps[:, None, :] - surplus
    upper = np.clip(np.argmax(over > 0.0, axis=2), 1, amps.shape[1] - 1)
    never = ~(over > 0.0).any(axis=2)
    upper = np.where(never, amps.shape[1] - 1, upper)

    def at(k: NDArray[np.intp]) -> Array:
        return np.asarray(np.take_along_axis(over, k[:, :, None], axis=2)[:, :, 0])

    below, above = at(upper - 1), at(upper)
    along = np.clip(-below / np.maximum(above - below, 1e-12), 0.0, 1.0)

    def read(curve: Array) -> Array:
        first = np.take_along_axis(curve, upper - 1, axis=1)
        second = np.take_along_axis(curve, upper, axis=1)
        return np.asarray(first + along * (second - first))

    return Riding(battery_a=read(amps), stored_a=read(stored), joint_v=read(joint))


def _regulated(fixed: Rider, battery: BatteryArrays) -> Riding:
    """Return the current (n, 1) the battery takes while the set point is held.

    Halving over the over-voltage; a battery above the set point takes nothing.
    """
    low = np.zeros_like(battery.emf_v)
    high = np.maximum(fixed.setpoint_v - battery.emf_v, 0.0)
    for _ in range(_HALVINGS):
        eta = 0.5 * (low + high)
        amps = charging_a(battery, eta)
        joint = battery.emf_v + eta + (battery.ohmic_ohm + fixed.battery_path_ohm) * amps
        sensed = joint + fixed.lead_ohm * (amps + fixed.load_s * joint)
        over = sensed > fixed.setpoint_v
        low, high = np.where(over, low, eta), np.where(over, eta, high)
    amps = charging_a(battery, low)
    kept = np.minimum(stored_a(battery, low), amps)
    joint = battery.emf_v + low + (battery.ohmic_ohm + fixed.battery_path_ohm) * amps
    return Riding(battery_a=amps[:, None], stored_a=kept[:, None], joint_v=joint[:, None])
