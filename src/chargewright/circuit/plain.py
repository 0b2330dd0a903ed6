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
from chargewright.circuit.first_guess import mean_output, start_currents
from chargewright.circuit.mixing import PER_VOLT_A, UNKNOWNS, VOLTAGE
from chargewright.circuit.operate import (
    AGREE_V,
    CLOSE_V,
    HELD,
    LOST,
    MOST_ROUNDS,
    NO_CEILING_V,
    RESULTS,
    SETTLED,
)
from chargewright.circuit.period import PATIENCE, TOLERANCE_A, TOLERANCE_REL, WIDER
from chargewright.circuit.plain_batch import Batch, battery_current, law_gap
from chargewright.circuit.plain_march import march
from chargewright.circuit.plain_mixing import Mixing
from chargewright.circuit.plain_mode import Ints, Mode, begin
from chargewright.circuit.switching import WEIGHT
from chargewright.machine.parameters import Array


@dataclass(slots=True, kw_only=True)
class Running:
    """One mode of a batch, its last period's outcome (n,) and the currents it began with."""

    mode: Mode
    output_a: Array
    still: NDArray[np.bool_]
    marched: Ints
    began: Array


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
        began=np.zeros((4, n)),
    )


def one_period(batch: Batch, run: Running, at: Ints, source_v: Array) -> None:
    """March the machines ``at`` of one mode on by a period, as ``period.one_period``."""
    if not at.size:
        return
    begun = run.mode.current[:, at]
    march(batch.part, batch.emf, run.mode, at, source_v)
    end = run.mode.current[:, at]
    change = np.maximum(batch.rest[at], 1.0) * np.abs(end - begun).max(axis=0)
    wider = np.where(run.marched[at] >= PATIENCE, WIDER, 1.0)
    run.still[at] = change < wider * (TOLERANCE_A + TOLERANCE_REL * np.abs(end).max(axis=0))
    run.began[:, at] = begun
    run.marched[at] += 1
    samples, frame = run.mode.samples[:, :, at], batch.frame[:, at]
    means = (samples[WEIGHT] * samples[:8]).sum(axis=1)
    total = means[3] - (frame[:8] * means).sum(axis=0) - (1.0 + frame[8]) * source_v
    run.output_a[at] = total / batch.rp[at]


def first_voltage(batch: Batch, held_e: Array, need: Array) -> tuple[Array, Array]:
    """Return internal voltage to begin with and slope, as ``operate.first_voltage``."""
    op = batch.op
    e, slope = held_e, np.zeros(held_e.size)
    more = np.ones(held_e.size, dtype=np.bool_)
    for _ in range(2):
        source = e / batch.divide
        output = mean_output(op, batch.kind, source, batch.rp)
        below = mean_output(op, batch.kind, source - 0.2, batch.rp)
        slope = np.where(more, 5.0 * (below - output), slope)
        more &= output <= need
        line = settling_line(op, batch.battery, batch.load, e, output, slope)
        e = np.where(more, op[nw.BATTERY_E_V] + battery_current(op, *line)[1], e)
    return e, slope


@dataclass(slots=True, kw_only=True)
class Settling:
    """Where ``settle`` stands: voltages, slopes and outcomes (n,)."""

    e: Array
    slope: Array
    outcome: Ints


def advance(
    runs: tuple[Running, Running],
    used: tuple[NDArray[np.bool_], NDArray[np.bool_]],
    mixing: Mixing,
    at: Ints,
    e: Array,
    then: Array,
) -> Array:
    """Let mixing choose the next start of the machines ``at``, as ``operate.advance``."""
    start, end = np.zeros((UNKNOWNS, at.size)), np.zeros((UNKNOWNS, at.size))
    for mode, (run, on) in enumerate(zip(runs, used, strict=True)):
        rows = slice(4 * mode, 4 * mode + 4)
        start[rows] = np.where(on, run.began[:, at], 0.0)
        end[rows] = np.where(on, run.mode.current[:, at], 0.0)
    start[VOLTAGE], end[VOLTAGE] = PER_VOLT_A * e, PER_VOLT_A * then
    chosen = mixing.mix(at, start, end)
    for mode, (run, on) in enumerate(zip(runs, used, strict=True)):
        run.mode.current[:, at[on]] = chosen[4 * mode : 4 * mode + 4, on]
    return np.asarray(chosen[VOLTAGE] / PER_VOLT_A)


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
    mixing = Mixing(cut.size)
    now.outcome[at] = LOST
    for _ in range(MOST_ROUNDS):
        if not at.size:
            return
        e = now.e
        source = e / batch.divide
        charging, cutting = at[cut[at] < 1.0], at[cut[at] > 0.0]
        one_period(batch, runs[0], charging, source[charging])
        one_period(batch, runs[1], cutting, source[cutting])
        output = np.where(cut < 1.0, (1.0 - cut) * runs[0].output_a, 0.0)
        output = output + np.where(cut > 0.0, cut * runs[1].output_a, 0.0)
        still = (runs[0].still | (cut >= 1.0)) & (runs[1].still | (cut <= 0.0))
        at_ceiling = (e >= ceiling - CLOSE_V) & (output > need)
        gap = law_gap(batch.op, e, (output - batch.load * e) / batch.divide)
        marched = np.maximum(runs[0].marched, runs[1].marched)
        agree = np.where(marched >= PATIENCE, WIDER, 1.0) * AGREE_V
        done = np.where(still & (np.abs(gap) < agree), SETTLED, LOST)
        now.outcome[at] = np.where(still & at_ceiling, HELD, np.where(at_ceiling, LOST, done))[at]
        at = at[now.outcome[at] == LOST]
        if at.size:
            op, used = batch.op[:, at], (cut[at] < 1.0, cut[at] > 0.0)
            line = settling_line(
                op, batch.battery[at], batch.load[at], e[at], output[at], now.slope[at]
            )
            settled = np.minimum(op[nw.BATTERY_E_V] + battery_current(op, *line)[1], ceiling[at])
            then = np.where(at_ceiling[at], ceiling[at], settled)
            chosen = np.minimum(advance(runs, used, mixing, at, e[at], then), ceiling[at])
            now.e[at] = np.where(then >= ceiling[at], ceiling[at], chosen)


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
        busy, mixing = fresh, Mixing(n)
        while busy.size:
            one_period(batch, runs[1], busy, (now.e / divide)[busy])
            busy = busy[~runs[1].still[busy] & (runs[1].marched[busy] < MOST_ROUNDS)]
            used = (np.zeros(busy.size, dtype=np.bool_), np.ones(busy.size, dtype=np.bool_))
            advance(runs, used, mixing, busy, now.e[busy], now.e[busy])
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
