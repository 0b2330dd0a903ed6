"""The machine with its engine off, as a network for ``nodal.py``.

Nodes 0-13 are the first test points in their own order (node 0, the battery's negative post, is
the reference), then the positive clamp, the winding's neutral and the tap of a ground fault, and
what only a lighting coil or a field coil brings with it. A weak conductance from every node to the
reference stands for what insulation and a meter on volts leak: it gives parts that float a
definite potential.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from chargewright.circuit.junction import thermal_v, volts_at_1ma
from chargewright.circuit.nodal import Network
from chargewright.circuit.nodal_kernel import Indices
from chargewright.circuit.running import RATED_LOAD_V, winding_temperature_c
from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense, Winding
from chargewright.machine.parameters import Array, column
from chargewright.machine.points import Engine, Load, Point, State, Warmth
from chargewright.machine.winding import copper_factor

P = Point
CLAMP, NEUTRAL, TAP = 14, 15, 16
COMMON_NODES = 17
EXTRA = {
    P.LIGHT_COIL: 17,
    P.LIGHT_REG: 18,
    P.LAMP: 19,
    P.REG_FIELD: 17,
    P.FIELD_POS: 18,
    P.FIELD_NEG: 19,
    P.REG_SUPPLY: 20,
}
RING = 21  # slip ring at the field coil's fed end
COLD_LAMP = 0.09  # a cold filament's ohms per ohm alight (about a tenth, from memory)
JUMPER_OHM = 0.05  # lead that feeds the field in a full-field test (assumed)
LEAST_OHM = 1e-6  # a joint of no resistance, kept finite; far below any meter
STRAY_S = 1e-8  # 100 Mohm from every node to the battery's negative post (assumed)
DRAIN_V = 12.6  # voltage at which the key-off current is stated
ONE_MA = 1e-3
# The straight temperature law of volts at 1 mA passes zero for a low barrier when hot; there a
# junction leaks milliamperes both ways, which this floor stands for (assumed).
LEAST_AT_1MA_V = 0.01

LEGS = ((P.ALT_A, P.REG_A, "a"), (P.ALT_B, P.REG_B, "b"), (P.ALT_C, P.REG_C, "c"))


@dataclass(slots=True)
class Branches:
    """Branches gathered by name; a helper while one network is being put together."""

    rows: int
    names: list[str] = field(default_factory=list)
    ends: list[tuple[int, int]] = field(default_factory=list)
    siemens: list[Array] = field(default_factory=list)

    def conduct(self, name: str, start: int, end: int, siemens: Array | float) -> None:
        """Add a branch by its conductance [S], held below that of ``LEAST_OHM``."""
        self.names.append(name)
        self.ends.append((int(start), int(end)))
        bounded = np.clip(siemens, 0.0, 1.0 / LEAST_OHM)
        self.siemens.append(np.broadcast_to(bounded, (self.rows,)).astype(np.float64))

    def resist(self, name: str, start: int, end: int, ohm: Array | float) -> None:
        """Add a branch by its resistance [ohm], never below ``LEAST_OHM``."""
        self.conduct(name, start, end, 1.0 / np.maximum(ohm, LEAST_OHM))


@dataclass(frozen=True, slots=True, kw_only=True)
class StillNetwork:
    """A ``Network`` whose branches can be named."""

    net: Network
    names: tuple[str, ...]

    def index(self, name: str) -> int | None:
        """Return the column of a branch, or None when this state has no such branch."""
        return self.names.index(name) if name in self.names else None

    def with_source(self, ends: tuple[int, int], emf_v: Array, ohm: Array) -> StillNetwork:
        """Return a network with one more branch: an EMF, positive at the first end."""
        siemens = 1.0 / np.maximum(ohm, LEAST_OHM)
        inject_a = self.net.inject_a.copy()
        inject_a[:, ends[0]] += emf_v * siemens
        inject_a[:, ends[1]] -= emf_v * siemens
        more = np.append(self.net.ends, np.array([ends], dtype=np.int64), axis=0)
        return replace(
            self,
            names=(*self.names, "source"),
            net=replace(
                self.net,
                ends=more,
                siemens=np.column_stack([self.net.siemens, siemens]),
                inject_a=inject_a,
            ),
        )

    def with_branch(self, ends: tuple[int, int], siemens: Array) -> StillNetwork:
        """Return a network with one more passive branch."""
        zero = np.zeros(siemens.shape)
        return self.with_source(ends, zero, 1.0 / np.maximum(siemens, 1e-12))


def node(point: Point) -> int:
    """Return a test point's node."""
    return EXTRA.get(point, int(point))


Builder = Callable[[Branches, Layout, Array, State], None]


def cranking(state: State) -> bool:
    """Return whether the starter relay is closed."""
    return state.engine is Engine.CRANKING


def load_siemens(params: Array, state: State) -> Array:
    """Return the conductance (n,) [S] of what hangs on the harness, drain included."""
    headlamp = state.load is Load.HEADLAMP
    amps = np.zeros(params.shape[0])
    if state.key_on or headlamp or cranking(state):
        amps = amps + column(params, "running_load_a") + column(params, "accessory_load_a")
    if state.lights_on or headlamp:
        amps = amps + column(params, "light_load_a")
    return amps / RATED_LOAD_V + column(params, "drain_a") / DRAIN_V


def _battery_side(b: Branches, layout: Layout, params: Array, state: State) -> None:
    if state.battery_in:
        b.resist("pos_clamp", P.BATTERY_POS, CLAMP, column(params, "pos_clamp_ohm"))
        b.resist("neg_cable", P.FRAME, P.BATTERY_NEG, column(params, "neg_cable_ohm"))
    b.resist("fuse", CLAMP, P.FUSE_OUT, column(params, "fuse_ohm"))
    b.conduct("load", P.FUSE_OUT, P.FRAME, load_siemens(params, state))
    if cranking(state):
        b.resist("starter_cable", CLAMP, P.STARTER_POS, column(params, "starter_cable_ohm"))
    else:
        b.resist("starter", P.STARTER_POS, P.FRAME, column(params, "starter_ohm"))


def _regulator_side(b: Branches, layout: Layout, params: Array, state: State) -> None:
    joins = P.FUSE_OUT if layout.charge_to is ChargeTo.HARNESS else CLAMP
    b.resist("charge_lead", P.REG_OUT, joins, column(params, "charge_lead_ohm"))
    b.resist("reg_ground", P.REG_BODY, P.FRAME, column(params, "reg_ground_ohm"))
    if layout.sense is Sense.LEAD:
        b.resist("sense", P.REG_SENSE, P.FUSE_OUT, column(params, "sense_ohm"))
        if state.key_on or state.load is Load.HEADLAMP or cranking(state):
            drawn = column(params, "sense_a") / RATED_LOAD_V
            b.conduct("sense_draw", P.REG_SENSE, P.REG_BODY, drawn)


def _rectifier_leaks(b: Branches, layout: Layout, params: Array, state: State) -> None:
    for alt, reg, leg in LEGS[: layout.phases]:
        if state.plug_in:
            b.resist(f"plug_{leg}", alt, reg, column(params, f"plug_ohm_{leg}"))
        b.conduct(f"up_leak_{leg}", reg, P.REG_OUT, column(params, f"up_leak_s_{leg}"))
        b.conduct(f"dn_leak_{leg}", P.REG_BODY, reg, column(params, f"dn_leak_s_{leg}"))
    b.conduct("harness_leak", P.REG_A, P.FRAME, column(params, "harness_leak_s"))


def _windings(b: Branches, layout: Layout, params: Array, state: State) -> None:
    """Add the coils; the first is split at the ground fault's place, ``TAP``."""
    copper = copper_factor(winding_temperature_c(params, state.warmth))
    ohm = {leg: column(params, f"winding_ohm_{leg}") * copper for leg in "abc"}
    at = column(params, "stator_leak_at")
    far = {
        Winding.STAR: NEUTRAL,
        Winding.DELTA: P.ALT_B,
        Winding.SINGLE: P.ALT_B,
        Winding.HALF_WAVE: P.FRAME,
    }
    b.resist("winding_a", P.ALT_A, TAP, ohm["a"] * (1.0 - at))
    b.resist("winding_a_far", TAP, far[layout.winding], ohm["a"] * at)
    if layout.winding is Winding.STAR:
        b.resist("winding_b", P.ALT_B, NEUTRAL, ohm["b"])
        b.resist("winding_c", P.ALT_C, NEUTRAL, ohm["c"])
    elif layout.winding is Winding.DELTA:
        b.resist("winding_b", P.ALT_B, P.ALT_C, ohm["b"])
        b.resist("winding_c", P.ALT_C, P.ALT_A, ohm["c"])
    hot = state.warmth is Warmth.HOT
    leak = column(params, "stator_leak_hot_s" if hot else "stator_leak_s")
    b.conduct("stator_leak", TAP, P.FRAME, leak)
    if not layout.half_wave:
        b.conduct("phase_short", P.ALT_A, P.ALT_B, column(params, "phase_short_s"))


def _lighting(b: Branches, layout: Layout, params: Array, state: State) -> None:
    """Add lighting coil, AC regulator (no meter reaches its volts) and lamp behind its switch."""
    if not layout.lighting_coil:
        return
    coil, reg, lamp = node(P.LIGHT_COIL), node(P.LIGHT_REG), node(P.LAMP)
    copper = copper_factor(winding_temperature_c(params, state.warmth))
    b.resist("light_coil", coil, P.FRAME, column(params, "light_ohm") * copper)
    b.conduct("light_leak", coil, P.FRAME, column(params, "light_leak_s"))
    if state.plug_in:
        b.resist("light_plug", coil, reg, column(params, "light_plug_ohm"))
    b.conduct("light_short", reg, P.REG_BODY, column(params, "light_short_s"))
    if state.lights_on:
        b.resist("lamp_lead", reg, lamp, column(params, "lamp_lead_ohm"))
    filament = COLD_LAMP * column(params, "lamp_ohm")
    b.resist("lamp", lamp, P.FRAME, filament + column(params, "lamp_ground_ohm"))


def field_share(params: Array, state: State) -> Array:
    """Return the share of time (n,) a regulator feeds the field of a machine that rests."""
    hot = state.warmth is Warmth.HOT
    cut = np.maximum(column(params, "cut_min_hot" if hot else "cut_min"), 0.0)
    return np.asarray(1.0 - cut)


def _field(b: Branches, layout: Layout, params: Array, state: State) -> None:
    """Add the field coil; with the key on the regulator, below its set point, feeds it fully.

    Fed for a share s of the time, the mean volts are those behind R (1/s - 1) more, R the coil's.
    """
    if not layout.field:
        return
    supply, reg = node(P.REG_SUPPLY), node(P.REG_FIELD)
    pos, neg = node(P.FIELD_POS), node(P.FIELD_NEG)
    copper = copper_factor(winding_temperature_c(params, state.warmth))
    coil = column(params, "field_ohm") * column(params, "field_turns") * copper
    b.resist("brush", pos, RING, column(params, "brush_ohm"))
    b.resist("field", RING, neg, coil)
    b.conduct("field_leak", RING, P.FRAME, column(params, "field_leak_s"))
    if state.plug_in:
        b.resist("field_lead", reg, pos, column(params, "field_plug_ohm"))
        b.resist("field_ground", neg, P.FRAME, column(params, "field_ground_ohm"))
    if state.full_field:
        b.resist("jumper", P.BATTERY_POS, pos, JUMPER_OHM)
        if not state.plug_in:
            b.resist("field_ground", neg, P.FRAME, JUMPER_OHM)
    if state.key_on or state.load is Load.HEADLAMP or cranking(state):
        b.resist("field_feed", P.FUSE_OUT, supply, column(params, "field_feed_ohm"))
        share = field_share(params, state)
        series = column(params, "field_switch_ohm") + coil * (1.0 / np.maximum(share, 1e-9) - 1.0)
        b.resist("field_switch", supply, reg, series)


def _junctions(layout: Layout, params: Array, state: State) -> tuple[Indices, Indices, Array]:
    """Return anodes, cathodes and saturation currents (n, 6): upper a, b, c, lower a, b, c.

    An ungated thyristor blocks both ways: the lower legs' shunt thyristors leave only the
    diode beside them, and a series regulator with thyristors has nothing else in its upper legs.
    """
    hot = state.warmth is Warmth.HOT
    temp_c = column(params, "regulator_hot_c" if hot else "ambient_c")
    n_vt = column(params, "junction_n") * thermal_v(temp_c)
    gated = layout.regulator is Regulator.SERIES and not layout.mosfet
    sides = (("up", 0),) if layout.half_wave else (("up", 0), ("dn", len(LEGS)))
    sat_a = np.zeros((params.shape[0], 2 * len(LEGS)))
    for side, first in sides:
        for leg in range(layout.phases):
            name = LEGS[leg][2]
            at_1ma = volts_at_1ma(column(params, f"{side}_v_{name}"), temp_c)
            at_1ma = np.maximum(at_1ma, LEAST_AT_1MA_V)
            present = column(params, f"{side}_open_{name}") < 0.5
            if side == "up" and gated:
                present = np.zeros_like(present)
            sat_a[:, first + leg] = np.where(present, ONE_MA / np.expm1(at_1ma / n_vt), 0.0)
    regs = [int(reg) for _, reg, _ in LEGS]
    anode = np.array([*regs, *[int(P.REG_BODY)] * 3], dtype=np.int64)
    cathode = np.array([*[int(P.REG_OUT)] * 3, *regs], dtype=np.int64)
    return anode, cathode, sat_a


def still_network(layout: Layout, params: Array, state: State) -> StillNetwork:
    """Return the engine-off network of a batch (n, COUNT), without battery and turning starter.

    While cranking the starter's own branch is left out; the caller adds it.
    """
    n = params.shape[0]
    b = Branches(n)
    nodes = COMMON_NODES + (3 if layout.lighting_coil else 5 if layout.field else 0)
    parts: tuple[Builder, ...] = (_battery_side, _regulator_side, _rectifier_leaks, _windings)
    for build in (*parts, _lighting, _field):
        build(b, layout, params, state)
    for number in range(1, nodes):
        b.conduct("stray", number, P.BATTERY_NEG, STRAY_S)
    anode, cathode, sat_a = _junctions(layout, params, state)
    hot = state.warmth is Warmth.HOT
    temp_c = column(params, "regulator_hot_c" if hot else "ambient_c")
    net = Network(
        ends=np.array(b.ends, dtype=np.int64),
        siemens=np.stack(b.siemens, axis=1),
        inject_a=np.zeros((n, nodes)),
        anode=anode,
        cathode=cathode,
        sat_a=sat_a,
        n_vt=np.asarray(column(params, "junction_n") * thermal_v(temp_c)),
        junction_ohm=column(params, "junction_ohm").copy(),
    )
    return StillNetwork(net=net, names=tuple(b.names))
