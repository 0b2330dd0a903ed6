"""Shared stands for the engine-off tests: machines, meters, Kirchhoff's sums."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from chargewright.circuit.nodal import Network
from chargewright.circuit.signals import Probe, TestSource
from chargewright.machine.layout import ChargeTo, Layout, Lighting, Regulator, Sense, Winding
from chargewright.machine.parameters import INDEX, OPEN_OHM, PARAMETERS, Array, healthy_row
from chargewright.machine.points import Point, State

# A diode range that shows up to 3 V, 1.5 mA short (published meter ratings), and an ohms range.
DIODE = TestSource(open_v=3.0, short_a=1.5e-3)
OHMS = TestSource(open_v=0.6, short_a=1.0e-3)

ON_BENCH = State(plug_in=False, battery_in=False)
LAYOUTS = (
    Layout(),
    Layout(winding=Winding.DELTA, charge_to=ChargeTo.BATTERY, sense=Sense.LEAD),
    Layout(winding=Winding.SINGLE, regulator=Regulator.SERIES),
    Layout(winding=Winding.HALF_WAVE, regulator=Regulator.NONE, lighting=Lighting.COIL),
    Layout(regulator=Regulator.FIELD, sense=Sense.LEAD),
)


def machine(rows: int = 1, **changed: float) -> Array:
    """Return healthy machines with some parameters changed, shape (rows, COUNT)."""
    row = healthy_row()
    for name, value in changed.items():
        row[INDEX[name]] = value
    return np.repeat(row[None, :], rows, axis=0)


def points_of(layout: Layout) -> list[Point]:
    """Return the points a layout has."""
    return [point for point in Point if not layout.lacks(point)]


def all_probes(layout: Layout) -> list[Probe]:
    """Return every ordered pair of a layout's points."""
    points = points_of(layout)
    return [Probe(a, b) for a in points for b in points if a is not b]


def _values(name: str, low: float, high: float, healthy: float) -> st.SearchStrategy[float]:
    """Healthy, either limit, anything between, and for conductances every size."""
    if name.endswith("_s") or "_leak_s_" in name:
        return st.one_of(st.just(0.0), st.floats(-6.0, 3.0).map(lambda p: 10.0**p))
    if name.endswith("_ohm") and high == OPEN_OHM:
        return st.one_of(st.sampled_from([low, healthy, high]), st.floats(low, 5.0))
    if "_open_" in name:
        return st.sampled_from([0.0, 1.0])
    return st.one_of(st.just(healthy), st.floats(low, high))


@st.composite
def machines(draw: st.DrawFn) -> Array:
    """Draw one machine with up to eight parameters anywhere in their limits."""
    row = healthy_row()
    for parameter in draw(st.lists(st.sampled_from(PARAMETERS), max_size=8)):
        row[INDEX[parameter.name]] = draw(
            _values(parameter.name, parameter.low, parameter.high, parameter.healthy)
        )
    return row[None, :]


def junction_a(net: Network, volts: Array) -> Array:
    """Return the six junction currents at the given node volts, by bisection on V = x + r*i."""
    across = volts[net.anode] - volts[net.cathode]
    n_vt, ohm = net.n_vt[0], net.junction_ohm[0]
    low, high = np.minimum(across, 0.0), np.maximum(across, 0.0)
    for _ in range(200):
        x = 0.5 * (low + high)
        over = x + ohm * net.sat_a[0] * np.expm1(np.minimum(x / n_vt, 600.0)) > across
        low, high = np.where(over, low, x), np.where(over, x, high)
    return np.asarray(net.sat_a[0] * np.expm1(np.minimum(0.5 * (low + high) / n_vt, 600.0)))


def surplus_a(net: Network, volts: Array) -> tuple[Array, Array]:
    """Return the current left over at each node (0 by Kirchhoff) and the conductance on it."""
    left, total = net.inject_a[0].copy(), np.zeros(volts.size)
    for (u, v), siemens in zip(net.ends, net.siemens[0], strict=True):
        amps = siemens * (volts[u] - volts[v])
        left[u] -= amps
        left[v] += amps
        total[[u, v]] += siemens
    through = junction_a(net, volts)
    for u, v, amps, n_vt in zip(net.anode, net.cathode, through, net.n_vt.repeat(6), strict=True):
        left[u] -= amps
        left[v] += amps
        total[[u, v]] += abs(amps) / n_vt
    return left[1:], total[1:]
