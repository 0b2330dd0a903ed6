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
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit import network as nw
from chargewright.circuit import running, still
from chargewright.circuit.field_coil import FieldCoil, excited, field_coil
from chargewright.circuit.running import RATED_LOAD_V, STEPS, operating_points
from chargewright.circuit.signals import Probe, Signals, nothing, spread
from chargewright.circuit.wires import check_probes, wire_between
from chargewright.machine.layout import FIELD_POINTS, Layout, Regulator, Sense
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, Point, State
from chargewright.machine.winding import PAIR_V

MOST_ROUNDS = 40
HELD_V = 0.004  # accepted distance from the set point (the inner solver's own is 0.002)
ROUGH_HELD_V = 0.012  # with fewer steps a period than ``STEPS``: populations, known to 0.12 V
SAME_X = 5e-4  # change of the excitation that counts as none
NARROW_X = 2e-5  # width of the bracket below which the set point is as near as it gets
CHOPPING_HZ = 100.0  # of the field's supply, for a meter's frequency limit (assumed)
OWN_WIRES = ("field_feed", "field_lead", "field_ground")
FEED_POINT = Point.FUSE_OUT
JUNCTIONS_V = 1.2  # two junctions where current begins
MOST_V = 20.0  # beyond which no set point lies
FED_V = 5.0  # harness volts that count as a battery
LEAST_SLOPE = 0.02  # of the wanting over the excitation that a secant is trusted with
WANT_PER_V = 0.2  # excitation wanted per volt below the set point: sets the scale, no result
Mask = NDArray[np.bool_]


@dataclass(slots=True, kw_only=True)
class Search:
    """Where n machines stand in their search, arrays (n,).

    Wanting is what the field would take at the volts found, less the excitation tried: positive
    below the answer, negative above. ``low`` and ``high`` bracket the answer, ``low_want`` and
    ``high_want`` are the wanting there, ``side`` the end moved last, ``last`` what was tried
    before. ``begins`` is where current begins: output grows as sqrt(x^2 - begins^2), the scale on
    which the search interpolates.
    """

    x: Array
    share: Array
    begins: Array
    low: Array
    high: Array
    low_want: Array
    high_want: Array
    side: Array
    last: Array
    last_want: Array
    done: Mask


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
    most, least = 1.0 - op[:, nw.CUT_MIN], 1.0 - np.maximum(op[:, nw.CUT_MAX], op[:, nw.CUT_MIN])
    setpoint = op[:, nw.SETPOINT_V]
    if state.full_field:
        most, least, setpoint = np.ones(n), np.ones(n), np.full(n, np.inf)
    inner = replace(layout, regulator=Regulator.NONE)
    supply = Point.BATTERY_POS if state.full_field else FEED_POINT
    asked = [probe_of_sense(layout), Probe(supply, Point.FRAME), *volts]
    v_found, a_found = nothing(n, len(asked)), nothing(n, len(amps))
    feed_v = before_charging(layout, params, state)
    search = _begin(layout, op, coil, setpoint, feed_v, most)
    for _ in range(MOST_ROUNDS):
        rows = np.flatnonzero(~search.done)
        if not rows.size:
            break
        part = _rows(coil, rows)
        machine = excited(
            params[rows], search.x[rows], part.load_s(search.share[rows]), RATED_LOAD_V
        )
        found = running.signals(inner, machine, state, rpm[rows], asked, amps, steps=steps)
        for whole, new in zip((v_found, a_found), found, strict=True):
            _put(whole, rows, new)
        feed_v[rows] = np.maximum(found[0].dc[:, 1], 0.0)
        gap = found[0].dc[:, 0] - setpoint[rows]
        held = np.abs(gap) < (HELD_V if steps >= STEPS else ROUGH_HELD_V)
        _move(search, rows, part, gap, held, feed_v[rows], least[rows], most[rows])
    solved = Solved(
        excitation=search.x,
        share=search.share,
        feed_v=feed_v,
        converged=search.done & v_found.converged,
    )
    v_found.converged[:] = solved.converged
    a_found.converged[:] = solved.converged
    return _without(v_found, 2), a_found, solved


def _begin(
    layout: Layout, op: Array, coil: FieldCoil, setpoint: Array, feed_v: Array, most: Array
) -> Search:
    """Return the search at its start: the most the field can take at the set point.

    Without a battery to feed it the field begins with what the harness has, and builds up.
    """
    n = len(feed_v)
    pair_v = PAIR_V[layout.winding] * np.max(op[:, nw.EMF_A : nw.EMF_A + 3], axis=1)
    held_v = np.minimum(setpoint, MOST_V)
    begins = (held_v + JUNCTIONS_V) / np.maximum(pair_v, 1e-6)
    first_v = np.where(feed_v > FED_V, np.maximum(held_v, feed_v), feed_v)
    at_rest = np.minimum(coil.excitation(most, feed_v), WANT_PER_V * (setpoint - feed_v))
    low = np.where(at_rest > begins, begins, 0.0)
    return Search(
        x=coil.excitation(most, first_v),
        share=most.copy(),
        begins=begins,
        low=low,
        high=np.full(n, np.inf),
        low_want=np.maximum(at_rest - low, 0.0),
        high_want=np.zeros(n),
        side=np.zeros(n),
        last=np.full(n, np.nan),
        last_want=np.zeros(n),
        done=np.zeros(n, dtype=bool),
    )


def _move(
    search: Search,
    rows: NDArray[np.intp],
    coil: FieldCoil,
    gap: Array,
    held: Mask,
    feed_v: Array,
    least: Array,
    most: Array,
) -> None:
    """Take the next excitation of ``rows`` from what was found at the present one.

    ``gap`` is the sensed voltage above the set point, ``feed_v`` the field's supply. An end of
    the bracket that stays twice is trusted half as much (the Illinois form of false position).
    """
    x, begins, old_side = search.x[rows], search.begins[rows], search.side[rows]
    top, floor = coil.excitation(most, feed_v), coil.excitation(least, feed_v)
    want = np.maximum(np.minimum(top - x, -WANT_PER_V * gap), floor - x)
    above = want < 0.0
    again = np.where(above, 1.0, -1.0) == old_side
    halved = np.where(again, 0.5, 1.0)
    low_want = np.where(above, halved * search.low_want[rows], want)
    high_want = np.where(above, want, halved * search.high_want[rows])
    low, high = np.where(above, search.low[rows], x), np.where(above, x, search.high[rows])
    both = (low_want > 0.0) & (high_want < 0.0) & (high > low)
    part = low_want / np.where(both, low_want - high_want, 1.0)
    ends = [np.where(both, end, x) for end in (low, high)]
    start, end = (np.sqrt(np.maximum(v**2 - begins**2, 0.0)) for v in ends)
    between = np.hypot(start + part * (end - start), np.minimum(begins, ends[0]))
    inside = (between > low) & (between < high)
    between = np.where(inside, between, 0.5 * (low + np.where(both, high, low)))
    rise = np.where(x != search.last[rows], x - search.last[rows], 1.0)
    slope = (want - search.last_want[rows]) / rise  # -1 where flux leaves the volts alone
    onward = x - want / np.where(slope < -LEAST_SLOPE, slope, -1.0)
    onward = np.where((onward > low) & (onward < high), onward, x + want)
    fed_fully = (top - x <= -WANT_PER_V * gap) & (onward > low) & (onward < high)
    following = np.where(both & ~fed_fully, between, onward)
    agreed = np.abs(want) < np.where(want == -WANT_PER_V * gap, 0.0, SAME_X)
    done = held | agreed | (both & (high - low < NARROW_X))
    search.low[rows], search.high[rows] = low, high
    search.low_want[rows], search.high_want[rows] = low_want, high_want
    search.side[rows] = np.where(above, 1.0, -1.0)
    search.last[rows], search.last_want[rows] = x, want
    search.x[rows] = np.where(done, x, following)
    share = np.clip(coil.share_for(search.x[rows], feed_v), least, np.maximum(most, least))
    share = np.where(agreed & (want == top - x), most, share)
    search.share[rows] = np.where(agreed & (want == floor - x), least, share)
    search.done[rows] = done


def _rows(coil: FieldCoil, rows: NDArray[np.intp]) -> FieldCoil:
    return FieldCoil(**{name: getattr(coil, name)[rows] for name in FieldCoil.__slots__})


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
