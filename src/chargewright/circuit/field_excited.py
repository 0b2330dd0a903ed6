"""A three-phase alternator with a field coil: one more unknown around the running machine.

The unknown is the *excitation* x, the EMF as a share of that at full field. For a given x the
machine is one without a regulator, which ``running.py`` solves; its volts say what current the
field gets. Either the field is fed as long as the regulator can (or must), and x is where flux
and volts agree; or the sensed volts stand at the set point, and x is what holds them there.

The search begins at the volts the harness has before the alternator gives any, so that a machine
cut off from its battery builds up from residual magnetism or does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit import network as nw
from chargewright.circuit import running, still
from chargewright.circuit.field_coil import FieldCoil, excited, field_coil
from chargewright.circuit.field_search import Bounds, begin, load_s, move
from chargewright.circuit.running import RATED_LOAD_V, STEPS, operating_points
from chargewright.circuit.signals import Probe, Signals, nothing, spread
from chargewright.circuit.wires import check_probes, wire_between
from chargewright.machine.layout import FIELD_POINTS, Layout, Regulator, Sense
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, Point, State

MOST_ROUNDS = 40
HELD_V = 0.004  # accepted distance from the set point (the inner solver's own is 0.002)
ROUGH_HELD_V = 0.012  # with fewer steps a period than ``STEPS``: populations, known to 0.12 V
CHOPPING_HZ = 100.0  # of the field's supply, for a meter's frequency limit (assumed)
OWN_WIRES = ("field_feed", "field_lead", "field_ground")
FEED_POINT = Point.FUSE_OUT
Mask = NDArray[np.bool_]
Part = TypeVar("Part", FieldCoil, Bounds)


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """The answer: excitation, share of time fed, volts at the feed, and which settled; (n,)."""

    excitation: Array
    share: Array
    feed_v: Array
    converged: Mask


def probe_of_sense(layout: Layout) -> Probe:
    """Return the points between which the regulator looks at the volts it holds."""
    sensed = Point.REG_SENSE if layout.sense is Sense.LEAD else Point.REG_OUT
    return Probe(sensed, Point.REG_BODY)


def before_charging(layout: Layout, params: Array, state: State) -> Array:
    """Return the harness' volts (n,) that feed the field at first, the engine still off."""
    rest = replace(state, engine=Engine.OFF, key_on=True, rpm=None, rpm_max=None, full_field=False)
    supply = Point.BATTERY_POS if state.full_field else FEED_POINT
    found = still.volts(layout, params, rest, [Probe(supply, Point.FRAME)])
    return np.maximum(found.dc[:, 0], 0.0)


def solve(
    layout: Layout,
    params: Array,
    state: State,
    rpm: Array,
    volts: Sequence[Probe],
    amps: Sequence[Probe],
    *,
    steps: int = STEPS,
) -> tuple[Signals, Signals, Solved]:
    """Return (volts, currents, the field), machine plugged in; no point of the field itself."""
    n = params.shape[0]
    op = operating_points(layout, params, state, rpm)
    coil = field_coil(params, state)
    bounds = _bounds(op, state)
    inner = replace(layout, regulator=Regulator.NONE)
    supply = Point.BATTERY_POS if state.full_field else FEED_POINT
    asked = [probe_of_sense(layout), Probe(supply, Point.FRAME), *volts]
    v_found, a_found = nothing(n, len(asked)), nothing(n, len(amps))
    feed_v = before_charging(layout, params, state)
    search = begin(layout, op, coil, bounds, feed_v)
    held_v = HELD_V if steps >= STEPS else ROUGH_HELD_V
    for _ in range(MOST_ROUNDS):
        rows = np.flatnonzero(~search.done)
        if not rows.size:
            break
        part, ends = _rows(coil, rows), _rows(bounds, rows)
        drawn = load_s(search, rows, part, ends.most)
        machine = excited(params[rows], search.x[rows], drawn, RATED_LOAD_V)
        found = running.signals(inner, machine, state, rpm[rows], asked, amps, steps=steps)
        for whole, new in zip((v_found, a_found), found, strict=True):
            _put(whole, rows, new)
        feed_v[rows] = np.maximum(found[0].dc[:, 1], 0.0)
        move(search, rows, part, ends, found[0].dc[:, 0], feed_v[rows], held_v)
    solved = Solved(
        excitation=search.x,
        share=search.share,
        feed_v=feed_v,
        converged=search.settled & v_found.converged,
    )
    v_found.converged[:] = solved.converged
    a_found.converged[:] = solved.converged
    return _without(v_found, 2), a_found, solved


def _bounds(op: Array, state: State) -> Bounds:
    """Return what the regulator holds and how much it can and must feed; a jumper feeds always."""
    n = len(op)
    if state.full_field:
        return Bounds(setpoint_v=np.full(n, np.inf), least=np.ones(n), most=np.ones(n))
    least_cut = op[:, nw.CUT_MIN]
    return Bounds(
        setpoint_v=op[:, nw.SETPOINT_V],
        least=1.0 - np.maximum(op[:, nw.CUT_MAX], least_cut),
        most=1.0 - least_cut,
    )


def _rows(whole: Part, rows: NDArray[np.intp]) -> Part:
    """Return a dataclass of arrays (n,) with some of its rows."""
    return replace(whole, **{f.name: getattr(whole, f.name)[rows] for f in fields(whole)})


def _put(whole: Signals, rows: NDArray[np.intp], new: Signals) -> None:
    for name in Signals.__slots__:
        getattr(whole, name)[rows] = getattr(new, name)


def _without(found: Signals, first: int) -> Signals:
    parts = {name: getattr(found, name)[:, first:] for name in Signals.__slots__[:-1]}
    return Signals(converged=found.converged, **parts)


def against_frame(probe: Probe) -> Probe:
    """Return the probe with every point of the field moved to frame."""
    plus, minus = (
        Point.FRAME if point in FIELD_POINTS else point for point in (probe.plus, probe.minus)
    )
    return Probe(plus, minus)


def signals(
    layout: Layout,
    params: Array,
    state: State,
    rpm: Array,
    volts: Sequence[Probe],
    amps: Sequence[Probe],
    *,
    steps: int = STEPS,
) -> tuple[Signals, Signals]:
    """Return what ``running.signals`` returns, for a field-excited machine with its plug in.

    ``converged`` tells where flux, volts and regulator agree. The field's own points carry the
    chopped supply: mean, and the rms of a square wave of that share.
    """
    check_probes(layout, [*volts, *amps])
    names = [wire_between(layout, probe) for probe in amps]
    other = [i for i, (name, _) in enumerate(names) if name not in OWN_WIRES]
    v_found, some_a, solved = solve(
        layout,
        params,
        state,
        rpm,
        [against_frame(probe) for probe in volts],
        [amps[i] for i in other],
        steps=steps,
    )
    a_found = spread(some_a, other, len(amps))
    coil = field_coil(params, state)
    terminal_a = coil.terminal_a(solved.share, solved.feed_v)
    own_a = {
        "field_feed": np.zeros_like(terminal_a) if state.full_field else solved.share * terminal_a,
        "field_lead": terminal_a,
        "field_ground": coil.winding_a(terminal_a),
    }
    for i, (name, sign) in enumerate(names):
        if i not in other:
            a_found.dc[:, i] = sign * own_a[name]
    for i, probe in enumerate(volts):
        _add_field(v_found, i, probe, coil, solved, terminal_a)
    return v_found, a_found


def _add_field(
    found: Signals,
    i: int,
    probe: Probe,
    coil: FieldCoil,
    solved: Solved,
    terminal_a: Array,
) -> None:
    """Add to column ``i`` what the field's points have against frame."""
    on_v = np.maximum(solved.feed_v - terminal_a * coil.feed_ohm, 0.0)
    fed_v = solved.share * on_v
    mean = {
        Point.REG_FIELD: fed_v,
        Point.FIELD_POS: fed_v - terminal_a * coil.plug_ohm,
        Point.FIELD_NEG: coil.winding_a(terminal_a) * coil.ground_ohm,
        Point.REG_SUPPLY: solved.feed_v - solved.share * terminal_a * coil.supply_ohm,
    }
    for point, sign in ((probe.plus, 1.0), (probe.minus, -1.0)):
        if point in mean:
            found.dc[:, i] += sign * mean[point]
    fed = [point in (Point.REG_FIELD, Point.FIELD_POS) for point in (probe.plus, probe.minus)]
    if any(fed) and not all(fed):
        chopped = np.maximum(solved.share - solved.share**2, 0.0)
        rms = on_v * np.sqrt(chopped)
        average = on_v * 2.0 * chopped * np.pi / (2.0 * np.sqrt(2.0))
        louder = rms > found.ac_true_rms[:, i]
        found.ac_true_rms[:, i] = np.hypot(found.ac_true_rms[:, i], rms)
        found.ac_average[:, i] = np.hypot(found.ac_average[:, i], average)
        found.frequency_hz[:, i] = np.where(louder, CHOPPING_HZ, found.frequency_hz[:, i])
