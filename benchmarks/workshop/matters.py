"""The severity floor: a fault nobody could notice is not a fault.

A machine drawn with a cause counts only where the cause does one of these to it, measured on
the circuit against the same machine without the cause (its twin):

- charge: at road speed with the lamps on, cold or hot, a quarter of what the twin would give a
  sound battery at 70 % is lost, and half an ampere at least;
- limit: running volts of a charged machine at the high speed leave 13.3...15.2 V by 0.3 V more
  than the twin's;
- start: with the battery charged the starter has 0.8 V less while cranking;
- stand: standing for two weeks takes half of the battery's charge more than from the twin;
- supply: with key and lamps on, engine off, the harness stands 0.5 V lower than the twin's;
- heat: a joint in the charging path takes 10 W more than the twin's at road speed: it burns;
- lamp: where lamps burn on a coil of their own, at road or high speed the headlamp gets half of
  its twin's power or less, or twice of it and more: dark, dim, or soon blown;
- battery: it holds 60 % or less of the twin's charge, or fails a load test at 9.6 V;
- flat: the battery came in so empty that cranking leaves the starter 0.8 V less (for the causes
  that are nothing but an empty battery).

The twin itself has to be a sound machine: inside 13.3...15.2 V at the high speed, 9.6 V or more
while cranking, charging at road speed with lamps on. All figures assumed (common practice, no
source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchmarks.workshop.world import BATTERY, Draws
from chargewright.circuit import observe
from chargewright.circuit.signals import Probe
from chargewright.machine.causes import Cause
from chargewright.machine.layout import ChargeTo
from chargewright.machine.model import Machine
from chargewright.machine.parameters import INDEX, Array, column
from chargewright.machine.points import Engine, Load, Point, State, Warmth

LOST_SHARE, LOST_A = 0.25, 0.5
LOW_V, HIGH_V, OUTSIDE_V = 13.3, 15.2, 0.3
WEAK_START_V = 0.8
STAND_H, STAND_SHARE = 14 * 24.0, 0.5
SUPPLY_V, BURNS_W = 0.5, 10.0
DIM_SHARE, BRIGHT_SHARE = 0.5, 2.0
HOLDS_SHARE, LOAD_TEST_V = 0.6, 9.6
CHARGING_SOC = 0.7
ONLY_FLAT = frozenset({"battery_discharged", "battery_cut_off"})

POSTS = Probe(Point.BATTERY_POS, Point.BATTERY_NEG)
STARTER = Probe(Point.STARTER_POS, Point.FRAME)
HARNESS = Probe(Point.FUSE_OUT, Point.BATTERY_NEG)
CHARGE = Probe(Point.BATTERY_NEG, Point.FRAME)
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facts:
    """True figures of n machines, each (n,)."""

    charge_a: Array  # road speed, lamps on, cold; battery replaced by a sound one at 70 %
    charge_hot_a: Array
    charge_high_a: Array
    high_v: Array  # high speed, charged
    high_hot_v: Array
    found_high_v: Array  # the same as it came in
    start_v: Array  # at the starter, cranking, charged
    start_found_v: Array
    crank_v: Array  # at the battery, charged
    crank_found_v: Array
    standing_a: Array  # key off
    capacity_ah: Array
    load_v: Array
    supply_v: Array  # at the harness, key and lamps on
    lamp_w: Array  # (n, 2): power in the headlamp's filament, road and high speed; 0 without coil
    joints_w: Array  # (n, joints): heat in plug contacts, charge lead, fuse, regulator's ground


def facts(machine: Machine, params: Array, sound: Array) -> Facts:
    """Return the true figures of machines ``params`` (n, COUNT); ``sound`` are their twins."""
    layout, speeds = machine.layout, machine.speeds
    run = State(engine=Engine.RUNNING, rpm=speeds.mid_rpm, key_on=True, lights_on=True)
    fast = replace(run, rpm=speeds.high_rpm, lights_on=machine.lights_always_on)
    crank = State(engine=Engine.CRANKING, key_on=True)
    fed = params.copy()
    for name in BATTERY:
        fed[:, INDEX[name]] = sound[:, INDEX[name]]
    fed[:, INDEX["soc"]] = CHARGING_SOC

    def volts(state: State, probe: Probe) -> Array:
        return observe.signals(layout, params, state, volts=[probe])[0].dc[:, 0]

    def amps(rows: Array, state: State) -> Array:
        return observe.signals(layout, rows, state, amps=[CHARGE])[1].dc[:, 0]

    hot = replace(run, warmth=Warmth.HOT)
    charged = replace(crank, battery_charged=True)
    return Facts(
        charge_a=amps(fed, run),
        charge_hot_a=amps(fed, hot),
        charge_high_a=amps(fed, replace(run, rpm=speeds.high_rpm)),
        high_v=volts(replace(fast, battery_charged=True), POSTS),
        high_hot_v=volts(replace(fast, battery_charged=True, warmth=Warmth.HOT), POSTS),
        found_high_v=volts(fast, POSTS),
        start_v=volts(charged, STARTER),
        start_found_v=volts(crank, STARTER),
        crank_v=volts(charged, POSTS),
        crank_found_v=volts(crank, POSTS),
        standing_a=np.abs(amps(params, State())),
        capacity_ah=column(params, "capacity_ah") * column(params, "charged_soc"),
        load_v=volts(State(load=Load.LOAD_TESTER, battery_charged=True), POSTS),
        supply_v=volts(State(key_on=True, lights_on=True, battery_charged=True), HARNESS),
        lamp_w=_lamp_w(machine, params, (run, replace(run, rpm=speeds.high_rpm))),
        joints_w=_joints_w(machine, fed, run),
    )


def _lamp_w(machine: Machine, params: Array, states: tuple[State, ...]) -> Array:
    """Return the power [W] in the filament of a lamp on its own coil, (n, states)."""
    found = np.zeros((len(params), len(states)))
    if machine.layout.lighting_coil:
        lamp = Probe(Point.LIGHT_REG, Point.LAMP)
        for i, state in enumerate(states):
            amps = observe.signals(machine.layout, params, state, amps=[lamp])[1]
            found[:, i] = amps.ac_true_rms[:, 0] ** 2 * column(params, "lamp_ohm")
    return found


def _joints_w(machine: Machine, params: Array, state: State) -> Array:
    """Return the heat [W] in each joint of the charging path (n, joints), from its drop."""
    direct = machine.layout.charge_to is ChargeTo.BATTERY
    joins = Point.BATTERY_POS if direct else Point.FUSE_OUT
    joints = {
        "charge_lead_ohm": Probe(Point.REG_OUT, joins),
        "fuse_ohm": Probe(Point.FUSE_OUT, Point.BATTERY_POS),
        "reg_ground_ohm": Probe(Point.FRAME, Point.REG_BODY),
    }
    legs = zip("abc", (Point.ALT_A, Point.ALT_B, Point.ALT_C), (Point.REG_A, Point.REG_B,
               Point.REG_C), strict=True)  # fmt: skip
    phases = machine.layout.phases
    joints |= {f"plug_ohm_{leg}": Probe(a, r) for leg, a, r in list(legs)[:phases]}
    found = observe.signals(machine.layout, params, state, volts=list(joints.values()))[0]
    squared = found.dc**2 + found.ac_true_rms**2
    ohm = np.stack([np.maximum(column(params, name), 1e-6) for name in joints], axis=1)
    return np.asarray(squared / ohm)


def is_sound(twin: Facts) -> Flags:
    """Return which twins (n,) are sound machines."""
    return np.asarray(
        _inside(twin.high_v)
        & _inside(twin.high_hot_v)
        & (twin.crank_v >= LOAD_TEST_V)
        & (twin.charge_a > 0.0)
        & (twin.charge_hot_a > 0.0)
        & (twin.standing_a * STAND_H < STAND_SHARE * twin.capacity_ah)
    )


def _inside(volts: Array) -> Flags:
    return np.asarray((volts >= LOW_V) & (volts <= HIGH_V))


def effects(mine: Facts, twin: Facts, causes: tuple[Cause, ...]) -> dict[str, Flags]:
    """Return which of the effects (n,) each machine suffers."""
    lost = np.zeros(len(mine.high_v), dtype=bool)
    for own, other in (
        (mine.charge_a, twin.charge_a),
        (mine.charge_hot_a, twin.charge_hot_a),
        (mine.charge_high_a, twin.charge_high_a),
    ):
        lost |= (other - own >= LOST_A) & (other - own >= LOST_SHARE * other)
    outside = np.zeros_like(lost)
    for own, other in ((mine.high_v, twin.high_v), (mine.high_hot_v, twin.high_hot_v)):
        outside |= (own < LOW_V) & (own < other - OUTSIDE_V)
        outside |= (own > HIGH_V) & (own > other + OUTSIDE_V)
    found = {
        "charge": lost,
        "limit": outside,
        "start": twin.start_v - mine.start_v >= WEAK_START_V,
        "stand": (mine.standing_a - twin.standing_a) * STAND_H >= STAND_SHARE * twin.capacity_ah,
        "supply": twin.supply_v - mine.supply_v >= SUPPLY_V,
        "heat": np.any(mine.joints_w - twin.joints_w >= BURNS_W, axis=1),
        "lamp": np.any(
            (mine.lamp_w < DIM_SHARE * twin.lamp_w) | (mine.lamp_w > BRIGHT_SHARE * twin.lamp_w),
            axis=1,
        ),
        "battery": (mine.capacity_ah <= HOLDS_SHARE * twin.capacity_ah)
        | ((mine.load_v < LOAD_TEST_V) & (twin.load_v >= LOAD_TEST_V)),
    }
    if any(cause.id in ONLY_FLAT for cause in causes):
        found["flat"] = twin.start_v - mine.start_found_v >= WEAK_START_V
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tried:
    """Draws weighed against the floor: which are real faults on sound machines."""

    mine: Facts
    twin: Facts
    sound: Flags
    real: Flags


def weigh(machine: Machine, drawn: Draws, causes: tuple[Cause, ...]) -> Tried:
    """Return what ``drawn`` machines with ``causes`` come to; each cause alone must matter."""
    healthy = drawn.params(machine, ())
    twin = facts(machine, healthy, healthy)
    mine = twin
    real = np.ones(len(healthy), dtype=bool)
    present = tuple(cause for cause in causes if cause.changes)
    if present:
        mine = facts(machine, drawn.params(machine, present), healthy)
    for slot, cause in enumerate(present):
        alone = mine if len(present) == 1 else _alone(machine, drawn, slot, cause, healthy)
        real &= np.any(list(effects(alone, twin, (cause,)).values()), axis=0)
    return Tried(mine=mine, twin=twin, sound=is_sound(twin), real=real)


def _alone(machine: Machine, drawn: Draws, slot: int, cause: Cause, healthy: Array) -> Facts:
    """Return the figures with only one of two causes, its severity kept."""
    one = drawn.second_first() if slot == 1 else drawn
    return facts(machine, one.params(machine, (cause,)), healthy)
