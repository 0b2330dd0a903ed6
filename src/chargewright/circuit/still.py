"""The machine with its engine off or cranking: volts at every point, amperes in every wire.

One element besides the junctions is not linear in each state, and is settled first:
- rest, key on, lights, headlamp load: the battery's slow overvoltage at the current drawn;
- load tester and cranking: what tester or starter takes, from a battery that for seconds
  is an EMF behind its short-time resistance.
The network is then solved with the battery's tangent, or the taker's chord, at that point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.battery import BatteryArrays, battery_of
from chargewright.circuit.compiled import HAVE_NUMBA
from chargewright.circuit.nodal import solve
from chargewright.circuit.signals import Probe, Signals
from chargewright.circuit.still_network import (
    LEAST_OHM,
    StillNetwork,
    cranking,
    node,
    still_network,
)
from chargewright.circuit.wires import check_probes, wire_between
from chargewright.errors import InputError, UnsafeCheckError
from chargewright.machine.layout import Layout
from chargewright.machine.parameters import Array, column
from chargewright.machine.points import Engine, Load, Point, State, Warmth

POSTS = (int(Point.BATTERY_POS), int(Point.BATTERY_NEG))
STARTER = (int(Point.STARTER_POS), int(Point.FRAME))

SHARPNESS = 6.0  # how sharply a taker turns from resistance to current limit (assumed)
TESTER_LEAST_V = 3.0  # a load tester holds its current down to about this (assumed)
# An engine asks about twice the current at -18 C that it asks at 25 C; hot, about half
# (workshop figures). Doubling per 43 K meets both with a hot engine at 60 C (assumed).
CRANK_REFERENCE_C = 25.0
CRANK_DOUBLING_K = 43.0
HOT_ENGINE_C = 60.0

MOST_ROUNDS = 60
MOST_TANGENTS = 4
AGREE_A = 1e-9


@dataclass(frozen=True, slots=True)
class Solved:
    """A completed network with its node volts (n, k) and convergence (n,)."""

    network: StillNetwork
    nodes: Array
    good: NDArray[np.bool_]

    def wire_a(self, name: str) -> Array:
        """Return the current (n,) [A] along a branch; zero where the state took it off."""
        index = self.network.index(name)
        if index is None:
            return np.zeros(self.nodes.shape[0])
        start, end = self.network.net.ends[index]
        across = self.nodes[:, start] - self.nodes[:, end]
        return np.asarray(self.network.net.siemens[:, index] * across)


def taken_siemens(volts: Array, standstill_s: Array, limit_a: Array) -> Array:
    """Return current over voltage of a taker: a resistance that settles to a current limit."""
    ratio = np.maximum(volts, 0.0) * standstill_s / limit_a
    return np.asarray(standstill_s / (1.0 + ratio**SHARPNESS) ** (1.0 / SHARPNESS))


def taker_v(open_v: Array, ohm: Array, standstill_s: Array, limit_a: Array) -> Array:
    """Return the volts across a taker fed from ``open_v`` [V] behind ``ohm``, arrays (n,).

    Newton from zero: the residual is concave and rising, so the steps climb without passing.
    """
    volts = np.zeros_like(open_v)
    for _ in range(MOST_ROUNDS):
        siemens = taken_siemens(volts, standstill_s, limit_a)
        ratio = np.maximum(volts, 0.0) * standstill_s / limit_a
        slope = 1.0 + ohm * siemens / (1.0 + ratio**SHARPNESS)
        step = (open_v - volts * (1.0 + ohm * siemens)) / slope
        volts = volts + step
        if np.all(np.abs(step) < 1e-12 * (1.0 + np.abs(open_v))):
            break
    return volts


def crank_demand_a(params: Array, state: State) -> Array:
    """Return the current (n,) [A] the engine asks of a strong battery at its temperature."""
    engine_c = column(params, "ambient_c")
    if state.warmth is Warmth.HOT:
        engine_c = np.maximum(engine_c, HOT_ENGINE_C)
    doublings = (CRANK_REFERENCE_C - engine_c) / CRANK_DOUBLING_K
    return np.asarray(column(params, "crank_a") * 2.0**doublings)


def drawn_a(battery: BatteryArrays, load_ohm: Array) -> Array:
    """Return the current (n,) [A] that a resistance across the posts settles at.

    Newton on the discharge from zero; post volts fall ever less with current, so the steps
    climb to the answer from below and are bounded by the ohmic limit.
    """
    most = np.maximum(battery.emf_v, 0.0) / (battery.ohmic_ohm + load_ohm)
    amps = np.zeros_like(most)
    for _ in range(MOST_ROUNDS):
        residual = battery.settled_v(-amps) - amps * load_ohm
        step = residual / (battery.settled_slope_ohm(-amps) + load_ohm)
        new = np.clip(amps + step, 0.0, most)
        moved = np.abs(new - amps)
        amps = new
        if np.all(moved < AGREE_A * (1.0 + most)):
            break
    return amps


def _solved(network: StillNetwork, plain: bool) -> Solved:
    nodes, _, good = solve(network.net, plain=plain)
    return Solved(network, nodes, good)


def _with_settled_battery(network: StillNetwork, battery: BatteryArrays, plain: bool) -> Solved:
    """Solve with the battery's tangent at the current it settles at.

    A second round is needed only where junctions conduct, which the resistance seen from the
    posts leaves out.
    """
    _, load_ohm, _ = solve(network.net, POSTS, plain=plain)
    for _ in range(MOST_TANGENTS):
        amps = drawn_a(battery, load_ohm)
        slope = battery.settled_slope_ohm(-amps)
        settled_v = battery.settled_v(-amps)
        solved = _solved(network.with_source(POSTS, settled_v + slope * amps, slope), plain)
        post_v = solved.nodes[:, POSTS[0]]
        flowing = (settled_v - post_v) / slope + amps
        if np.all(np.abs(flowing - amps) < 1e-6 * (1.0 + amps)):
            break
        load_ohm = post_v / np.maximum(flowing, 1e-9)
    return solved


def _with_taker(network: StillNetwork, params: Array, state: State, plain: bool) -> Solved:
    """Solve with short-time battery and with load tester or turning starter."""
    battery = battery_of(params, state)
    fed = network.with_source(POSTS, battery.short_emf_v, battery.short_ohm)
    if cranking(state):
        ends = STARTER
        standstill_s = 1.0 / np.maximum(column(params, "starter_ohm"), LEAST_OHM)
        limit_a = crank_demand_a(params, state)
    else:
        ends = POSTS
        limit_a = 0.5 * column(params, "rated_cca_a")
        standstill_s = limit_a / TESTER_LEAST_V
    nodes, ohm, _ = solve(fed.net, ends, plain=plain)
    across = taker_v(nodes[:, ends[0]] - nodes[:, ends[1]], ohm, standstill_s, limit_a)
    return _solved(fed.with_branch(ends, taken_siemens(across, standstill_s, limit_a)), plain)


def _complete(network: StillNetwork, params: Array, state: State, plain: bool) -> Solved:
    if cranking(state) or state.load is Load.LOAD_TESTER:
        return _with_taker(network, params, state, plain)
    return _with_settled_battery(network, battery_of(params, state), plain)


def _refuse(state: State) -> None:
    if state.engine is Engine.RUNNING:
        raise InputError("still.py answers for engine off or cranking; the engine given is running")
    if state.engine is Engine.CRANKING and not state.battery_in:
        raise UnsafeCheckError("cranking was asked for with the battery off: nothing can turn")


def _signals(dc: Array, good: NDArray[np.bool_]) -> Signals:
    nothing = np.zeros_like(dc)
    return Signals(
        dc=dc, ac_true_rms=nothing, ac_average=nothing, frequency_hz=nothing, converged=good
    )


def volts(
    layout: Layout,
    params: Array,
    state: State,
    probes: Sequence[Probe],
    *,
    plain: bool = not HAVE_NUMBA,
) -> Signals:
    """Return the DC volts between pairs of points, engine off or cranking; arrays (n, m).

    ``params`` (n, COUNT). Nothing alternates. ``plain`` takes the NumPy solver.
    Raises ``InputError`` for a running engine or a point the machine lacks, and
    ``UnsafeCheckError`` for cranking without a battery.
    """
    _refuse(state)
    check_probes(layout, probes)
    solved = _complete(still_network(layout, params, state), params, state, plain)
    plus = [node(p.plus) for p in probes]
    minus = [node(p.minus) for p in probes]
    return _signals(solved.nodes[:, plus] - solved.nodes[:, minus], solved.good)


def _in_series(network: StillNetwork, name: str, burden_ohm: float) -> StillNetwork:
    """Return the network with a meter's burden in series with one wire."""
    index = network.index(name)
    if index is None or burden_ohm == 0.0:
        return network
    siemens = network.net.siemens.copy()
    siemens[:, index] = 1.0 / (1.0 / siemens[:, index] + burden_ohm)
    return replace(network, net=replace(network.net, siemens=siemens))


def amps(
    layout: Layout,
    params: Array,
    state: State,
    probes: Sequence[Probe],
    *,
    burden_ohm: float = 0.0,
    plain: bool = not HAVE_NUMBA,
) -> Signals:
    """Return the currents (n, m) [A] in the wires that join pairs of points.

    Positive from ``plus`` to ``minus``: key-off current is the pair frame, battery_neg.
    ``burden_ohm`` is what a meter in series adds to its wire (0 for a clamp). A wire that the
    state has taken off carries nothing.
    Raises ``InputError`` for a running engine or a pair that no wire joins.
    """
    _refuse(state)
    check_probes(layout, probes)
    wires = [wire_between(layout, p) for p in probes]
    bare = still_network(layout, params, state)
    n = params.shape[0]
    dc = np.zeros((n, len(wires)))
    good = np.ones(n, dtype=np.bool_)
    solved: dict[str, Solved] = {}
    for col, (name, sign) in enumerate(wires):
        key = name if burden_ohm else ""
        if key not in solved:
            network = _in_series(bare, name, burden_ohm)
            solved[key] = _complete(network, params, state, plain)
        dc[:, col] = sign * solved[key].wire_a(name)
        good &= solved[key].good
    return _signals(dc, good)
