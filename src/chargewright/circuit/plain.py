"""The path without a compiler: the running machines of a batch solved at once, in NumPy.

The same rounds as ``operate.py``, with machines along the last axis; those that are done drop
out. Same answers, some tens of times slower.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit import network as nw
from chargewright.circuit.conduction import CHARGE
from chargewright.circuit.direct_current import setpoint_line, settling_line
from chargewright.circuit.first_guess import start_currents
from chargewright.circuit.operate import (
    AGREE_V,
    HASTY_ROUNDS,
    HELD,
    LOST,
    MOST_ROUNDS,
    NO_CEILING_V,
    RESULTS,
    SETTLED,
)
from chargewright.circuit.period import PATIENCE, TOLERANCE_A, TOLERANCE_REL, WIDER
from chargewright.circuit.plain_batch import Batch, battery_current, law_of
from chargewright.circuit.plain_march import march
from chargewright.circuit.plain_mode import Ints, Mode, begin
from chargewright.circuit.polarisation import overvoltage_v
from chargewright.circuit.switching import WEIGHT
from chargewright.machine.parameters import Array


@dataclass(slots=True, kw_only=True)
class Running:
    """One mode of a batch and what its last period gave; arrays (n,) and for mixing (4, n)."""

    mode: Mode
    output_a: Array
    still: NDArray[np.bool_]
    marched: Ints
    old_start: Array
    old_end: Array


def start(batch: Batch, mode: int, source_v: Array) -> Running:
    """Return a mode before its first period."""
    n = batch.op.shape[1]
    current = np.zeros((4, n))
    start_currents(batch.op, batch.kind, mode, source_v, batch.rp, current)
    return Running(
        mode=begin(batch.op, mode, current, batch.steps),
        output_a=np.zeros(n),
        still=np.zeros(n, dtype=np.bool_),
        marched=np.zeros(n, dtype=np.intp),
        old_start=np.zeros((4, n)),
        old_end=np.zeros((4, n)),
    )


def one_period(batch: Batch, run: Running, at: Ints, source_v: Array) -> None:
    """March the machines ``at`` of one mode on by a period, as ``operate.one_period``."""
    if not at.size:
        return
    begun = run.mode.current[:, at]
    march(batch.y, batch.part, batch.emf, run.mode, at, source_v)
    end, old_start, old_end = run.mode.current[:, at], run.old_start[:, at], run.old_end[:, at]
    difference = (end - begun) - (old_end - old_start)
    bottom = (difference**2).sum(axis=0)
    top = ((end - begun) * difference).sum(axis=0)
    usable = (run.marched[at] > 0) & (bottom > 1e-18)
    gamma = np.where(usable, np.clip(top / np.where(usable, bottom, 1.0), -5.0, 0.9), 0.0)
    after = end - gamma * (end - old_end)
    change = np.maximum(np.abs(after - begun), batch.rest[at] * np.abs(end - begun)).max(axis=0)
    wider = np.where(run.marched[at] >= PATIENCE, WIDER, 1.0)
    run.still[at] = change < wider * (TOLERANCE_A + TOLERANCE_REL * np.abs(end).max(axis=0))
    run.mode.current[:, at], run.old_start[:, at], run.old_end[:, at] = after, begun, end
    run.marched[at] += 1
    samples, frame = run.mode.samples[:, :, at], batch.frame[:, at]
    means = (samples[WEIGHT] * samples[:8]).sum(axis=1)
    total = means[3] - (frame[:8] * means).sum(axis=0) - (1.0 + frame[8]) * source_v
    run.output_a[at] = total / batch.rp[at]


def first_voltage(batch: Batch, held_e: Array, need: Array) -> tuple[Array, Array]:
    """Return internal voltage to begin with and slope, as ``operate.first_voltage``."""
    op, current = batch.op, np.zeros((4, held_e.size))
    e, slope = held_e, np.zeros(held_e.size)
    more = np.ones(held_e.size, dtype=np.bool_)
    for _ in range(2):
        source = e / batch.divide
        output = start_currents(op, batch.kind, CHARGE, source, batch.rp, current)
        below = start_currents(op, batch.kind, CHARGE, source - 0.2, batch.rp, current)
        more &= output <= need
        slope = np.where(more, 5.0 * (below - output), slope)
        line = settling_line(op, batch.battery, batch.load, e, output, slope)
        e = np.where(more, op[nw.BATTERY_E_V] + battery_current(op, *line)[1], e)
    return e, slope


@dataclass(slots=True, kw_only=True)
class Settling:
    """Where ``settle`` stands: voltages, slopes and outcomes (n,)."""

    e: Array
    slope: Array
    outcome: Ints


def settle(
    batch: Batch,
    runs: tuple[Running, Running],
    at: Ints,
    cut: Array,
    now: Settling,
    ceiling: Array,
    need: Array,
) -> None:
    """March the machines ``at`` until all stands still, as ``operate.settle``."""
    n = cut.size
    old_e, old_gap, old_output = now.e.copy(), np.zeros(n), np.zeros(n)
    now.outcome[at] = LOST
    law_at = at
    for rounds in range(MOST_ROUNDS):
        if not law_at.size:
            return
        e = now.e
        source = e / batch.divide
        charging, cutting = law_at[cut[law_at] < 1.0], law_at[cut[law_at] > 0.0]
        one_period(batch, runs[0], charging, source[charging])
        one_period(batch, runs[1], cutting, source[cutting])
        output = np.where(cut < 1.0, (1.0 - cut) * runs[0].output_a, 0.0)
        output = output + np.where(cut > 0.0, cut * runs[1].output_a, 0.0)
        still = (runs[0].still | (cut >= 1.0)) & (runs[1].still | (cut <= 0.0))
        at_top = (e >= ceiling) & (output > need)
        current = (output - batch.load * e) / batch.divide
        gap = batch.op[nw.BATTERY_E_V] + overvoltage_v(law_of(batch.op), current) - e
        held, done = at_top & still, ~at_top & still & (np.abs(gap) < AGREE_V)
        now.outcome[law_at] = np.where(held[law_at], HELD, np.where(done[law_at], SETTLED, LOST))
        law_at = law_at[now.outcome[law_at] == LOST]
        move = law_at[~at_top[law_at] & (still[law_at] | (rounds < HASTY_ROUNDS))]
        if not move.size:
            continue
        old = (old_e[move], old_gap[move], old_output[move])
        slope = _slope(batch, move, now.slope[move], e[move], gap[move], output[move], old, rounds)
        now.slope[move] = slope
        old_e[move], old_gap[move], old_output[move] = e[move], gap[move], output[move]
        op = batch.op[:, move]
        line = settling_line(
            op, batch.battery[move], batch.load[move], e[move], output[move], slope
        )
        eta = battery_current(op, *line)[1]
        now.e[move] = np.minimum(op[nw.BATTERY_E_V] + eta, ceiling[move])


def _slope(
    batch: Batch,
    move: Ints,
    slope: Array,
    e: Array,
    gap: Array,
    output: Array,
    old: tuple[Array, Array, Array],
    rounds: int,
) -> Array:
    """Return the fall of the output per volt of the source, from what was seen last."""
    old_e, old_gap, old_output = old
    swings = (gap * old_gap < 0.0) & (np.abs(gap) > 0.5 * np.abs(old_gap))
    apart = np.abs(e - old_e) > 0.02
    seen = (old_output - output) / np.where(apart, e - old_e, 1.0) * batch.divide[move]
    followed = np.minimum(np.maximum(seen, 0.3 * slope), 3.0 * slope + 0.1)
    usual = np.where(apart & (rounds > 1), followed, slope)
    return np.where(swings, 2.0 * slope + 0.1, usual)


def operate(batch: Batch, to_battery: bool, by_lead: bool) -> tuple[Array, tuple[Running, Running]]:
    """Return results (RESULTS, n) and both modes with their samples, as ``operate.operate``."""
    op, divide = batch.op, batch.divide
    n = op.shape[1]
    everyone = np.arange(n)
    least = op[nw.CUT_MIN]
    most = np.maximum(op[nw.CUT_MAX], least)
    line = setpoint_line(op, to_battery, by_lead, batch.battery, batch.load)
    current, eta = battery_current(op, *line)
    held_e = op[nw.BATTERY_E_V] + eta
    need = current + batch.load * (held_e + current * batch.battery)
    ceiling = np.where(most > least, held_e, NO_CEILING_V)
    e, slope = first_voltage(batch, held_e, need)
    runs = (start(batch, CHARGE, e / divide), start(batch, batch.cut_mode, e / divide))
    now = Settling(e=e.copy(), slope=slope.copy(), outcome=np.zeros(n, dtype=np.intp))
    cut = least.copy()
    settle(batch, runs, everyone, cut, now, ceiling, need)
    held = np.flatnonzero(now.outcome == HELD)
    fresh = held[least[held] == 0.0]
    if held.size:
        if fresh.size:
            begun = start(batch, batch.cut_mode, now.e / divide)
            runs[1].mode.current[:, fresh] = begun.mode.current[:, fresh]
        busy = fresh
        while busy.size:
            one_period(batch, runs[1], busy, (now.e / divide)[busy])
            busy = busy[~runs[1].still[busy] & (runs[1].marched[busy] < MOST_ROUNDS)]
        surplus = runs[0].output_a - runs[1].output_a
        share = (runs[0].output_a - need) / np.maximum(surplus, 1e-9)
        cut[held] = np.maximum(share, least)[held]
        now.outcome[held] = np.where(runs[1].still[held], SETTLED, LOST)
        beyond = held[cut[held] > most[held]]
        cut[beyond] = most[beyond]
        now.slope[beyond] = slope[beyond]
        settle(batch, runs, beyond, cut, now, np.full(n, NO_CEILING_V), need)
    good = (now.outcome == SETTLED).astype(np.float64)
    periods = (runs[0].marched + runs[1].marched).astype(np.float64)
    result = np.array(
        [now.e, cut, now.e / divide, batch.rp, batch.battery, batch.load, good, periods]
    )
    assert result.shape == (RESULTS, n)
    return result, runs
