"""The path without a compiler: one mode of the regulator for a whole batch, in NumPy.

Machines lie along the last axis of every array.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.conduction import (
    CODES,
    CUT_SERIES,
    CUT_SHUNT,
    DOWN,
    JUNCTIONS,
    LEG_DN_S,
    LEG_DN_V,
    LEG_UP_S,
    LEG_UP_TO,
    LEG_UP_V,
    LEGS,
    NEVER_V,
    OFF,
    ROWS,
    SIZE,
    SUPPLY,
    TAPPED,
    UP,
    prepare,
)
from chargewright.circuit.network import (
    COLUMN,
    CUT_S,
    CUT_V,
    DN_S_A,
    DN_V_A,
    LEAK_S,
    MAPS,
    UP_S_A,
    UP_V_A,
)
from chargewright.circuit.switching import MOST_PARTS, SAMPLE_ROWS
from chargewright.machine.parameters import Array

Ints = NDArray[np.intp]
LEG_WEIGHTS = np.array([1, 4, 16])[:, None]


@dataclass(slots=True, kw_only=True)
class Mode:
    """One mode of the regulator for n machines: its junctions and what it remembers.

    ``table`` (CODES, SIZE, n) holds combinations that ``known`` (CODES, n) marks.
    """

    legs: Array
    table: Array
    known: NDArray[np.bool_]
    current: Array
    last: Array
    code: Ints
    samples: Array
    count: Ints


def begin(op: Array, mode: int, current: Array, steps: int) -> Mode:
    """Return a mode of n machines before its first period."""
    n = op.shape[1]
    return Mode(
        legs=leg_lines(op, mode),
        table=np.zeros((CODES, SIZE, n)),
        known=np.zeros((CODES, n), dtype=np.bool_),
        current=current,
        last=np.zeros((4, n)),
        code=np.zeros(n, dtype=np.intp),
        samples=np.zeros((SAMPLE_ROWS, MOST_PARTS * steps, n)),
        count=np.full(n, steps),
    )


def leg_lines(op: Array, mode: int) -> Array:
    """Return the junctions' lines (LEGS, n), as ``conduction.leg_lines``."""
    legs = np.zeros((LEGS, op.shape[1]))
    up_s, up_v = op[UP_S_A : UP_S_A + 3], op[UP_V_A : UP_V_A + 3]
    if mode == CUT_SHUNT:
        up_s, up_v = op[CUT_S][None, :], op[CUT_V][None, :]
    if mode == CUT_SERIES:
        up_s = 0.0 * up_s
    down_s = op[DN_S_A : DN_S_A + 3]
    legs[LEG_UP_S : LEG_UP_S + 3] = up_s
    legs[LEG_UP_V : LEG_UP_V + 3] = np.where(up_s > 0.0, up_v, NEVER_V)
    legs[LEG_DN_S : LEG_DN_S + 3] = down_s
    legs[LEG_DN_V : LEG_DN_V + 3] = np.where(down_s > 0.0, op[DN_V_A : DN_V_A + 3], NEVER_V)
    legs[LEG_UP_TO] = 0.0 if mode == CUT_SHUNT else 1.0
    legs[TAPPED] = op[LEAK_S] > 0.0
    return legs


def states_of(code: Ints) -> Ints:
    """Return the three legs' states (3, k) of combinations (k,)."""
    return np.asarray(code[None, :] // LEG_WEIGHTS % 4)


def code_of(states: Ints) -> Ints:
    """Return the combinations (k,) of three legs' states (3, k)."""
    return np.asarray((states * LEG_WEIGHTS).sum(axis=0))


def wanted_states(legs: Array, x: Array, plus: Array) -> Ints:
    """Return the states (3, k) that the legs' voltages (3, k) ask for beside the plus."""
    up = x > legs[LEG_UP_V : LEG_UP_V + 3] + legs[LEG_UP_TO] * plus
    return np.where(x < -legs[LEG_DN_V : LEG_DN_V + 3], DOWN, np.where(up, UP, OFF))


def currents_in(legs: Array, states: Ints, x: Array) -> Array:
    """Return each leg's current (3, k) in the direction of its state."""
    up = legs[LEG_UP_S : LEG_UP_S + 3] * (
        x[:3] - legs[LEG_UP_V : LEG_UP_V + 3] - legs[LEG_UP_TO] * x[3]
    )
    down = legs[LEG_DN_S : LEG_DN_S + 3] * (-legs[LEG_DN_V : LEG_DN_V + 3] - x[:3])
    return np.where(states == UP, up, down)


@dataclass(slots=True, kw_only=True)
class March:
    """One period under way: the machines ``at`` (m,) of a mode, their network and sources."""

    mode: Mode
    at: Ints
    part: Array
    source_v: Array

    def maps(self, rows: Ints, code: Ints) -> tuple[Array, Array]:
        """Return the maps of combinations: (4 sources, 8, k) and fixed (8, k).

        ``rows`` (k,) count within ``at``.
        """
        mode, machines = self.mode, self.at[rows]
        for one in np.unique(code[~mode.known[code, machines]]):
            new = rows[(code == one) & ~mode.known[code, machines]]
            place = self.at[new]
            part = self.part[:, place]
            prepare(mode.legs[:, place], part, int(one))
            mode.table[one][:, place] = part[MAPS : MAPS + SIZE]
            mode.known[one, place] = True
        t = mode.table[code, :, machines].T.reshape(ROWS, COLUMN, -1)
        fixed = t[:, JUNCTIONS] + self.source_v[rows] * t[:, SUPPLY]
        return t[:, :4].swapaxes(0, 1), fixed

    def under(self, rows: Ints, code: Ints, j: Array) -> Array:
        """Return leg and plus voltages, then branch currents (8, k) under combinations."""
        by_source, fixed = self.maps(rows, code)
        return np.asarray(fixed + np.einsum("bik,bk->ik", by_source, j))
