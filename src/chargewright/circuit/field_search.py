"""The search for a field-excited machine's excitation: where flux, volts and regulator agree.

*Wanting* is what the field would take at the volts found, less the excitation tried: as much as
it can get below the set point, as little as it must above it, and as the set point asks between.
Its zero is looked for by false position (Illinois form) on the scale sqrt(x^2 - begins^2) on
which output grows, and by a secant where volts and flux push each other.

What the field draws is reckoned from the volts the harness is *supposed* to stand at, so that
one excitation always makes one load; where the volts found are others, they are supposed next
and the search goes on from there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit import network as nw
from chargewright.circuit.field_coil import FieldCoil
from chargewright.machine.layout import Layout
from chargewright.machine.parameters import Array
from chargewright.machine.winding import PAIR_V

SAME_X = 5e-4  # wanting that counts as none
SAME_SUPPLY_V = 0.05  # between volts supposed and found: 10 mA of the field's draw
NARROW_X = 2e-5  # width of a bracket that closes on a jump of the volts: no steady state
JUNCTIONS_V = 1.2  # two junctions where current begins
MOST_V = 20.0  # beyond which no set point lies
FED_V = 5.0  # harness volts that count as a battery
LEAST_SLOPE = 0.02  # of the wanting over the excitation that a secant is trusted with
WANT_PER_V = 0.2  # excitation wanted per volt below the set point: sets the scale, no result
Mask = NDArray[np.bool_]
Rows = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """Set point [V] and least and greatest share of time the field is fed, arrays (n,)."""

    setpoint_v: Array
    least: Array
    most: Array


@dataclass(slots=True, kw_only=True)
class Search:
    """Where n machines stand in their search, arrays (n,).

    ``low`` and ``high`` bracket the answer, ``low_want`` and ``high_want`` are the wanting there,
    ``side`` the end moved last, ``last`` and ``last_want`` what was tried before; ``supply_v``
    the volts supposed. ``done`` without ``settled`` stands at a jump of the volts.
    """

    x: Array
    share: Array
    supply_v: Array
    begins: Array
    low: Array
    high: Array
    low_want: Array
    high_want: Array
    side: Array
    last: Array
    last_want: Array
    done: Mask
    settled: Mask


def begin(layout: Layout, op: Array, coil: FieldCoil, bounds: Bounds, feed_v: Array) -> Search:
    """Return the search at its start: the most the field can take at the set point.

    ``feed_v`` is what the harness has before the alternator gives any: without a battery to feed
    it the field begins with that, and builds up.
    """
    n = len(feed_v)
    pair_v = PAIR_V[layout.winding] * np.max(op[:, nw.EMF_A : nw.EMF_A + 3], axis=1)
    held_v = np.minimum(bounds.setpoint_v, MOST_V)
    begins = (held_v + JUNCTIONS_V) / np.maximum(pair_v, 1e-6)
    supply_v = np.maximum(held_v, feed_v)
    first_v = np.where(feed_v > FED_V, supply_v, feed_v)
    below = WANT_PER_V * (bounds.setpoint_v - feed_v)
    at_rest = np.minimum(coil.excitation(bounds.most, feed_v), below)
    low = np.where(at_rest > begins, begins, 0.0)
    return Search(
        x=coil.excitation(bounds.most, first_v),
        share=bounds.most.copy(),
        supply_v=supply_v,
        begins=begins,
        low=low,
        high=np.full(n, np.inf),
        low_want=np.maximum(at_rest - low, 0.0),
        high_want=np.zeros(n),
        side=np.zeros(n),
        last=np.full(n, np.nan),
        last_want=np.zeros(n),
        done=np.zeros(n, dtype=bool),
        settled=np.zeros(n, dtype=bool),
    )


def load_s(search: Search, rows: Rows, coil: FieldCoil, most: Array) -> Array:
    """Return the conductance [S] that the field of some machines puts on the harness."""
    share = coil.share_for(search.x[rows], search.supply_v[rows])
    return coil.load_s(np.clip(share, 0.0, most))


def move(
    search: Search,
    rows: Rows,
    coil: FieldCoil,
    bounds: Bounds,
    sensed_v: Array,
    feed_v: Array,
    held_v: float,
) -> None:
    """Take the next excitation of ``rows`` from what was found at the present one.

    ``sensed_v`` is what the regulator sees, ``feed_v`` the field's supply, ``held_v`` the distance
    from the set point that is accepted. ``coil`` and ``bounds`` are those of ``rows``.
    """
    x, gap = search.x[rows], sensed_v - bounds.setpoint_v
    top, floor = (coil.excitation(share, feed_v) for share in (bounds.most, bounds.least))
    regulated = -WANT_PER_V * gap
    want = np.maximum(np.minimum(top - x, regulated), floor - x)
    supposed = np.abs(feed_v - search.supply_v[rows]) < SAME_SUPPLY_V
    near = np.where(want == regulated, np.abs(gap) < held_v, np.abs(want) < SAME_X)
    settled = near & supposed
    following, narrow = _next(search, rows, want, want == top - x)
    again = near & ~supposed
    search.settled[rows] = settled
    search.done[rows] = settled | (narrow & supposed & ~near)
    search.x[rows] = np.where(near | narrow, x, following)
    share = np.clip(coil.share_for(x, feed_v), bounds.least, np.maximum(bounds.most, bounds.least))
    share = np.where(near & (want == top - x), bounds.most, share)
    search.share[rows] = np.where(near & (want == floor - x), bounds.least, share)
    _suppose(search, rows[again | (narrow & ~supposed)], feed_v[again | (narrow & ~supposed)])


def _next(search: Search, rows: Rows, want: Array, fed_fully: Mask) -> tuple[Array, Mask]:
    """Move the bracket; return the excitation to try next and where the bracket has closed."""
    x, begins = search.x[rows], search.begins[rows]
    above = want < 0.0
    side = np.where(above, 1.0, -1.0)
    # An end that stays twice is trusted half as much.
    halved = np.where(side == search.side[rows], 0.5, 1.0)
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
    straight = fed_fully & (onward > low) & (onward < high)
    search.low[rows], search.high[rows] = low, high
    search.low_want[rows], search.high_want[rows] = low_want, high_want
    search.side[rows] = side
    search.last[rows], search.last_want[rows] = x, want
    return np.where(both & ~straight, between, onward), both & (high - low < NARROW_X)


def _suppose(search: Search, rows: Rows, feed_v: Array) -> None:
    """Suppose other volts from now on: what the bracket knew no longer holds."""
    search.supply_v[rows] = feed_v
    search.low[rows], search.high[rows] = 0.0, np.inf
    search.low_want[rows] = search.high_want[rows] = search.side[rows] = 0.0
    search.last[rows] = np.nan
