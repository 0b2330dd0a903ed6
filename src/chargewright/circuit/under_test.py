"""What a meter's ohms or diode range meets: the engine-off machine driven by a test source."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from chargewright.circuit.battery import battery_of
from chargewright.circuit.compiled import HAVE_NUMBA
from chargewright.circuit.nodal import probe
from chargewright.circuit.signals import Probe, TestResult, TestSource
from chargewright.circuit.still_network import StillNetwork, node, still_network
from chargewright.circuit.wires import check_probes
from chargewright.errors import InputError
from chargewright.machine.layout import Layout
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, Point, State

POSTS = (int(Point.BATTERY_POS), int(Point.BATTERY_NEG))


def meter_network(layout: Layout, params: Array, state: State) -> StillNetwork:
    """Return the network a meter meets, battery included as its rest voltage and resistance."""
    battery = battery_of(params, state)
    network = still_network(layout, params, state)
    return network.with_source(POSTS, battery.emf_v, battery.ohmic_ohm)


def respond(
    layout: Layout,
    params: Array,
    state: State,
    probes: Sequence[Probe],
    source: TestSource,
    *,
    plain: bool = not HAVE_NUMBA,
) -> TestResult:
    """Return volts across the tips and amperes out of the red one, arrays (n, m).

    ``params`` (n, COUNT); the engine must be off. Every pair of existing points may be
    probed, with the battery in or out. ``plain`` takes the NumPy solver.
    Raises ``InputError`` when the engine turns or the machine lacks a point.
    """
    if state.engine is not Engine.OFF:
        raise InputError(
            f"an ohms or diode test was asked for with the engine {state.engine.value}; "
            "expected engine off"
        )
    check_probes(layout, probes)
    network = meter_network(layout, params, state)
    plus = np.array([node(p.plus) for p in probes], dtype=np.int64)
    minus = np.array([node(p.minus) for p in probes], dtype=np.int64)
    amps, _ = probe(network.net, plus, minus, source, plain=plain)
    return TestResult(volts=source.open_v - source.series_ohm * amps, amps=amps)
