"""The path without a compiler: one period of a whole batch at once, in NumPy.

The same steps as ``march.py``, machines along the last axis of every array. What every machine
does in a step is done for all; the few whose combination changes are picked out.
"""

from __future__ import annotations

import numpy as np

from chargewright.circuit.conduction import DOWN, LEG_DN_V, LEG_UP_TO, LEG_UP_V, OFF
from chargewright.circuit.network import PAST
from chargewright.circuit.plain_mode import Ints, March, Mode, code_of, states_of, wanted_states
from chargewright.circuit.plain_switching import Now, beyond_halves, half_step
from chargewright.circuit.switching import MOST_PARTS, SAMPLE_ROWS
from chargewright.machine.parameters import Array


def march(part: Array, emf: Array, mode: Mode, at: Ints, source_v: Array) -> None:
    """March the machines ``at`` of a mode on by a period; ``source_v`` (m,) is theirs."""
    steps = emf.shape[1]
    way = March(mode=mode, at=at, part=part, source_v=source_v)
    everyone = np.arange(at.size)
    legs, past = mode.legs[:, at], part[PAST : PAST + 4, at]
    now = Now(
        current=mode.current[:, at],
        last=mode.last[:, at],
        code=mode.code[at],
        count=np.full(at.size, steps),
        samples=np.zeros((SAMPLE_ROWS, MOST_PARTS * steps, at.size)),
    )
    by_source, fixed = np.zeros((4, 8, at.size)), np.zeros((8, at.size))
    for step in range(steps):
        halved = everyone
        if step > 0:
            j = emf[:, step, at] + past * now.current
            both = fixed + np.einsum("bik,bk->ik", by_source, j)
            states = states_of(now.code)
            wanted = asked(legs, states, both, now.last)
            ok = (wanted == states).all(axis=0)
            begun = ~ok & ((states == wanted) | (states == OFF)).all(axis=0)
            rows = np.flatnonzero(begun)
            if rows.size:
                ask, last = wanted[:, rows], now.last[:, rows]
                last[:3] = np.where(
                    ask != states[:, rows], where_it_begins(legs[:, rows], ask, last[3]), last[:3]
                )
                maps = way.maps(rows, code_of(ask))
                answer = maps[1] + np.einsum("bik,bk->ik", maps[0], j[:, rows])
                fits = (asked(legs[:, rows], ask, answer, last) == ask).all(axis=0)
                good = rows[fits]
                both[:, good], now.last[:, good] = answer[:, fits], last[:, fits]
                by_source[:, :, good], fixed[:, good] = maps[0][:, :, fits], maps[1][:, fits]
                now.code[good] = code_of(ask[:, fits])
                ok[good] = True
            rows, halved = np.flatnonzero(ok), np.flatnonzero(~ok)
            place, weight = np.full(rows.size, step), np.full(rows.size, 1.0 / steps)
            now.keep(rows, place, step, both[:, rows], j[:, rows], weight)
            now.current[:, rows] = 2.0 * both[4:, rows] - now.current[:, rows]
            now.last[:, rows] = 2.0 * both[:4, rows] - now.last[:, rows]
        if halved.size:
            beyond = beyond_halves(way, now, emf, halved, step) if step > 0 else 0.0
            half_step(way, now, emf, halved, step, 0)
            now.current[:, halved] += beyond
            half_step(way, now, emf, halved, step, 1)
            by_source[:, :, halved], fixed[:, halved] = way.maps(halved, now.code[halved])
    mode.current[:, at], mode.last[:, at], mode.code[at] = now.current, now.last, now.code
    mode.samples[:, :, at], mode.count[at] = now.samples, now.count


def asked(legs: Array, states: Ints, answer: Array, last: Array) -> Ints:
    """Return the states (3, k) asked for: by the mean of a leg that is off, else by its end."""
    on = states != OFF
    x, plus = answer[:3], answer[3]
    return wanted_states(legs, x + on * (x - last[:3]), plus + on * (plus - last[3]))


def where_it_begins(legs: Array, states: Ints, plus: Array) -> Array:
    """Return the voltage (3, k) at which each leg begins to conduct into its state."""
    up = legs[LEG_UP_V : LEG_UP_V + 3] + legs[LEG_UP_TO] * plus
    return np.where(states == DOWN, -legs[LEG_DN_V : LEG_DN_V + 3], up)
