"""The path without a compiler: half-steps of the machines whose combination changes.

As ``switching.py``, machines along the last axis.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.circuit.conduction import DOWN, LEG_DN_S, LEG_UP_S, OFF, UP
from chargewright.circuit.network import PAST
from chargewright.circuit.plain_mode import (
    Ints,
    March,
    code_of,
    currents_in,
    states_of,
    wanted_states,
)
from chargewright.circuit.switching import MOST_TRIES, STEP, WEIGHT, J, next_code
from chargewright.machine.parameters import Array


@dataclass(slots=True, kw_only=True)
class Now:
    """Where the machines of a march stand: currents and voltages (4, m), combination, samples."""

    current: Array
    last: Array
    code: Ints
    count: Ints
    samples: Array

    def keep(self, rows: Ints, at: Ints, step: int, x: Array, j: Array, weight: Array) -> None:
        """Store one sample of the machines ``rows`` (k,), each at its own place ``at``."""
        self.samples[:4, at, rows], self.samples[J : J + 4, at, rows] = x[:4], j
        self.samples[WEIGHT, at, rows], self.samples[STEP, at, rows] = weight, step


def quarter_of(emf: Array, step: int, machines: Ints) -> Array:
    """Return a quarter of what the EMF's source rises by over a step, (4, k)."""
    steps = emf.shape[1]
    return np.asarray(0.125 * (emf[:, (step + 1) % steps, machines] - emf[:, step - 1, machines]))


def beyond_halves(way: March, now: Now, emf: Array, rows: Ints, step: int) -> Array:
    """Return what a whole step would end at beyond two halves of its combination, (4, k)."""
    machines = way.at[rows]
    quarter, past = quarter_of(emf, step, machines), way.part[PAST : PAST + 4, machines]
    e, current, code = emf[:, step, machines], now.current[:, rows], now.code[rows]
    by_source, fixed = way.maps(rows, code)

    def amps(j: Array) -> Array:
        return np.asarray((fixed + np.einsum("bik,bk->ik", by_source, j))[4:])

    first = amps(e - quarter + past * current)
    second = amps(e + quarter + past * first)
    return np.asarray(2.0 * amps(e + past * current) - current - second)


def half_step(way: March, now: Now, emf: Array, rows: Ints, step: int, half: int) -> None:
    """Take half a step of the machines ``rows`` (k,) on, as ``switching.half_step``."""
    steps = emf.shape[1]
    machines = way.at[rows]
    legs = way.mode.legs[:, machines]
    quarter = quarter_of(emf, step, machines)
    j = emf[:, step, machines] + way.part[PAST : PAST + 4, machines] * now.current[:, rows]
    j = j + (quarter if half == 1 else -quarter)
    at = now.count[rows] if half == 1 else np.full(rows.size, step)
    now.count[rows] += half
    code = now.code[rows]
    answer = way.under(rows, code, j)
    wanted = wanted_states(legs, answer[:3], answer[3])
    weight, end, last = np.full(rows.size, 0.5 / steps), answer.copy(), answer[:4].copy()
    busy = np.flatnonzero((wanted != states_of(code)).any(axis=0))
    if busy.size:
        share, turned, beyond = _divided(
            way,
            legs[:, busy],
            rows[busy],
            code[busy],
            wanted[:, busy],
            now.last[:, rows[busy]],
            j[:, busy],
            answer[:4, busy],
        )
        done = busy[share >= 0.0]
        part, after = share[share >= 0.0], beyond[:, share >= 0.0]
        place = now.count[rows[done]]
        now.keep(rows[done], place, step, after, j[:, done], 0.5 / steps * (1.0 - part))
        now.count[rows[done]] += 1
        weight[done] *= part
        code[done] = turned[share >= 0.0]
        end[:, done] = part * answer[:, done] + (1.0 - part) * after
        last[:, done] = after[:4]
        whole = busy[share < 0.0]
        if whole.size:
            ask = code_of(wanted[:, whole])
            code[whole], found = _whole(
                way, legs[:, whole], rows[whole], ask, code[whole], j[:, whole]
            )
            answer[:, whole] = end[:, whole] = found
            last[:, whole] = found[:4]
    now.keep(rows, at, step, answer, j, weight)
    now.current[:, rows], now.last[:, rows], now.code[rows] = end[4:], last, code


def _divided(
    way: March, legs: Array, rows: Ints, code: Ints, wanted: Ints, before: Array, j: Array, x: Array
) -> tuple[Array, Ints, Array]:
    """Try to divide the half of the machines ``rows``.

    Return the share of the first part (-1: not so), the second's combination and its answer.
    """
    states = states_of(code)
    changed = states != wanted
    other = np.where(changed, UP + DOWN - states, states)
    siemens = np.where(states == UP, legs[LEG_DN_S : LEG_DN_S + 3], legs[LEG_UP_S : LEG_UP_S + 3])
    fits = (~changed | ((states != OFF) & (siemens > 0.0))).all(axis=0)
    turned = code_of(np.where(fits, other, states))
    after = way.under(rows, turned, j)
    was = np.maximum(currents_in(legs, states, before), 0.0)
    beyond = -currents_in(legs, states, x)
    part = np.where(changed, was / np.maximum(was + beyond, 1e-30), 1.0)
    share = part.min(axis=0)
    then = currents_in(legs, other, after)
    reversed_ = share * beyond + (1.0 - share) * then > 0.0
    stays = wanted_states(legs, after[:3], after[3]) == states
    fits &= np.where(changed, reversed_, stays).all(axis=0)
    return np.where(fits, share, -1.0), turned, after


def _whole(
    way: March, legs: Array, rows: Ints, ask: Ints, code: Ints, j: Array
) -> tuple[Ints, Array]:
    """Find the combination of a whole half; return it and its answer (8, k)."""
    code, ask = code.copy(), ask.copy()
    answer = np.zeros((8, rows.size))
    busy = np.arange(rows.size)
    for attempt in range(MOST_TRIES):
        code[busy] = [
            next_code(int(a), int(b), attempt) for a, b in zip(code[busy], ask[busy], strict=True)
        ]
        found = way.under(rows[busy], code[busy], j[:, busy])
        answer[:, busy] = found
        ask[busy] = code_of(wanted_states(legs[:, busy], found[:3], found[3]))
        busy = busy[ask[busy] != code[busy]]
        if not busy.size:
            break
    return code, answer
