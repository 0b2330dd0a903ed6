"""The path without a compiler: one period of a whole batch at once, in NumPy.

The same steps as ``march.py``, machines along the last axis of every array. What every machine
does in a step is done for all; the few whose combination changes are picked out.
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
    SIZE,
    SUPPLY,
    UP,
    prepare,
)
from chargewright.circuit.march import (
    MOST_DIVIDED,
    MOST_TRIES,
    SAMPLE_ROWS,
    STEP,
    WEIGHT,
    J,
    next_code,
)
from chargewright.circuit.network import (
    CUT_S,
    CUT_V,
    DN_S_A,
    DN_V_A,
    PAST,
    UP_S_A,
    UP_V_A,
)
from chargewright.machine.parameters import Array

Ints = NDArray[np.intp]
LEG_WEIGHTS = np.array([1, 3, 9])[:, None]


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
    samples = np.zeros((SAMPLE_ROWS, steps + MOST_DIVIDED, n))
    samples[STEP, :steps] = np.arange(steps)[:, None]
    return Mode(
        legs=leg_lines(op, mode),
        table=np.zeros((CODES, SIZE, n)),
        known=np.zeros((CODES, n), dtype=np.bool_),
        current=current,
        last=np.zeros((4, n)),
        code=np.zeros(n, dtype=np.intp),
        samples=samples,
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
    return legs


def states_of(code: Ints) -> Ints:
    """Return the three legs' states (3, k) of combinations (k,)."""
    return np.asarray(code[None, :] // LEG_WEIGHTS % 3)


def wanted_states(legs: Array, x: Array) -> Ints:
    """Return the states (3, k) that the voltages (4, k) ask for."""
    up = x[:3] > legs[LEG_UP_V : LEG_UP_V + 3] + legs[LEG_UP_TO] * x[3]
    return np.where(x[:3] < -legs[LEG_DN_V : LEG_DN_V + 3], DOWN, np.where(up, UP, OFF))


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
    y: Array
    part: Array
    source_v: Array

    def maps(self, rows: Ints, code: Ints) -> tuple[Array, Array]:
        """Return the maps of combinations: (4 sources, 8, k) and fixed (8, k).

        ``rows`` (k,) count within ``at``.
        """
        mode, machines = self.mode, self.at[rows]
        for one in np.unique(code[~mode.known[code, machines]]):
            new = rows[(code == one) & ~mode.known[code, machines]]
            table = np.empty((CODES * SIZE, new.size))
            place = self.at[new]
            prepare(
                mode.legs[:, place], self.y[:, :, place], self.part[:, :, place], int(one), table
            )
            mode.table[one][:, place] = table[one * SIZE : (one + 1) * SIZE]
            mode.known[one, place] = True
        t = mode.table[code, :, machines].T
        fixed = t[JUNCTIONS : JUNCTIONS + 8] + self.source_v[rows] * t[SUPPLY : SUPPLY + 8]
        return t[: 4 * 8].reshape(4, 8, -1), fixed

    def under(self, rows: Ints, code: Ints, j: Array) -> Array:
        """Return leg and plus voltages, then branch currents (8, k) under combinations."""
        by_source, fixed = self.maps(rows, code)
        return np.asarray(fixed + np.einsum("bik,bk->ik", by_source, j))


def march(y: Array, part: Array, emf: Array, mode: Mode, at: Ints, source_v: Array) -> None:
    """March the machines ``at`` of a mode on by a period; ``source_v`` (m,) is theirs."""
    steps = emf.shape[1]
    way = March(mode=mode, at=at, y=y, part=part, source_v=source_v)
    everyone = np.arange(at.size)
    legs, past = mode.legs[:, at], part[PAST][:, at]
    current, last, code = mode.current[:, at], mode.last[:, at], mode.code[at]
    count = np.full(at.size, steps)
    by_source, fixed = way.maps(everyone, code)
    samples = np.zeros((SAMPLE_ROWS, steps + MOST_DIVIDED, at.size))
    samples[STEP, :steps] = np.arange(steps)[:, None]
    for step in range(steps):
        j = emf[:, step, at] + past * current
        both = fixed + np.einsum("bik,bk->ik", by_source, j)
        x, share = both[:4], np.ones(at.size)
        wanted = wanted_states(legs, x)
        rows = np.flatnonzero((wanted != states_of(code)).any(axis=0))
        current = both[4:]
        samples[:4, step], samples[J : J + 4, step] = x, j
        if rows.size:
            change = _divided(way, legs, rows, code, wanted, last, j, both, count, steps)
            left = rows[change.share < 0.0]
            done, parts = rows[change.share >= 0.0], change.share >= 0.0
            keep = change.share[parts]
            samples[:4, count[done], done] = change.turned_x[:4, parts]
            samples[J : J + 4, count[done], done] = j[:, done]
            samples[WEIGHT, count[done], done] = (1.0 - keep) / steps
            samples[STEP, count[done], done] = step
            share[done] = keep
            count[done] += 1
            mean = keep * both[:, done] + (1.0 - keep) * change.turned_x[:, parts]
            current[:, done], last_done = mean[4:], mean[:4]
            code[done] = change.turned[parts]
            if left.size:
                code[left], whole = _whole(way, legs, left, wanted[:, left], code[left], j[:, left])
                samples[:4, step, left] = whole[:4]
                current[:, left] = whole[4:]
            last = samples[:4, step].copy()
            last[:, done] = last_done
            by_source[:, :, rows], fixed[:, rows] = way.maps(rows, code[rows])
        else:
            last = x
        samples[WEIGHT, step] = share / steps
    mode.current[:, at], mode.last[:, at], mode.code[at] = current, last, code
    mode.samples[:, :, at], mode.count[at] = samples, count


@dataclass(slots=True, kw_only=True)
class Divided:
    """Steps taken in two parts: the share of the first (-1: not so), the second's answer."""

    share: Array
    turned: Ints
    turned_x: Array


def _divided(
    way: March,
    legs: Array,
    rows: Ints,
    code: Ints,
    wanted: Ints,
    last: Array,
    j: Array,
    both: Array,
    count: Ints,
    steps: int,
) -> Divided:
    """Try to divide a step of the machines ``rows``, as ``march.march`` does."""
    legs, x, before = legs[:, rows], both[:4, rows], last[:, rows]
    states, wanted = states_of(code[rows]), wanted[:, rows]
    changed = states != wanted
    other = np.where(changed, UP + DOWN - states, states)
    siemens = np.where(states == UP, legs[LEG_DN_S : LEG_DN_S + 3], legs[LEG_UP_S : LEG_UP_S + 3])
    fits = (~changed | ((states != OFF) & (siemens > 0.0))).all(axis=0)
    fits &= count[rows] < steps + MOST_DIVIDED
    other = np.where(fits, other, states)
    turned = (other * LEG_WEIGHTS).sum(axis=0)
    answer = way.under(rows, turned, j[:, rows])
    was = np.maximum(currents_in(legs, states, before), 0.0)
    beyond = -currents_in(legs, states, x)
    part = np.where(changed, was / np.maximum(was + beyond, 1e-30), 1.0)
    share = part.min(axis=0)
    after = currents_in(legs, other, answer)
    reversed_ = share * beyond + (1.0 - share) * after > 0.0
    stays = wanted_states(legs, answer) == states
    fits &= np.where(changed, reversed_, stays).all(axis=0)
    return Divided(share=np.where(fits, share, -1.0), turned=turned, turned_x=answer)


def _whole(
    way: March, legs: Array, rows: Ints, wanted: Ints, code: Ints, j: Array
) -> tuple[Ints, Array]:
    """Find the combination of a whole step; return it and its answer (8, k)."""
    code, ask = code.copy(), (wanted * LEG_WEIGHTS).sum(axis=0)
    answer = np.zeros((8, rows.size))
    busy = np.arange(rows.size)
    for attempt in range(MOST_TRIES):
        code[busy] = [
            next_code(int(a), int(b), attempt) for a, b in zip(code[busy], ask[busy], strict=True)
        ]
        answer[:, busy] = way.under(rows[busy], code[busy], j[:, busy])
        found = wanted_states(legs[:, rows[busy]], answer[:4, busy])
        ask[busy] = (found * LEG_WEIGHTS).sum(axis=0)
        busy = busy[ask[busy] != code[busy]]
        if not busy.size:
            break
    return code, answer
