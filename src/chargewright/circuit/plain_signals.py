"""The path without a compiler: statistics of every probe of a batch, in NumPy."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.operate import CUT
from chargewright.circuit.plain import Running, operate
from chargewright.circuit.plain_batch import assemble
from chargewright.circuit.switching import STEP, WEIGHT
from chargewright.circuit.waveforms import POINTS, ROW, STEADY, WIRE, WIRES, all_rows
from chargewright.machine.parameters import Array

BLOCK = 1500  # machines solved at once: some 150 MB of working space
ORDERS = np.array([1.0, 2.0, 3.0, 6.0])


def solve_some(
    chosen: NDArray[np.intp],
    ops: Array,
    kind: int,
    series: bool,
    to_battery: bool,
    by_lead: bool,
    cosines: Array,
    turns: Array,
    plus: NDArray[np.int64],
    minus: NDArray[np.int64],
    answers: Array,
    results: Array,
) -> None:
    """Solve the ``chosen`` (k,) machines; arrays as in ``running.solve_all``."""
    for low in range(0, chosen.size, BLOCK):
        part = chosen[low : low + BLOCK]
        op = np.ascontiguousarray(ops[part].T)
        with np.errstate(all="ignore"):
            batch = assemble(op, kind, series, to_battery, cosines)
            result, runs = operate(batch, to_battery, by_lead)
            volts = np.zeros((POINTS, ROW, op.shape[1]))
            amps = np.zeros((WIRES, ROW, op.shape[1]))
            all_rows(op, batch.y, result, to_battery, by_lead, volts, amps)
            results[part] = result.T
            for probe in range(plus.size):
                if plus[probe] >= WIRE:
                    row = minus[probe] * amps[plus[probe] - WIRE]
                else:
                    row = volts[plus[probe]] - volts[minus[probe]]
                answers[part, probe] = statistics(row, runs, result[CUT], turns).T


def statistics(row: Array, runs: tuple[Running, Running], cut: Array, turns: Array) -> Array:
    """Return (mean, rms, rectified, order) (4, n) of a probe's row, as ``waveforms.statistics``."""
    waves = [np.einsum("rn,rkn->kn", row[:8], run.mode.samples[:8]) + row[8] for run in runs]
    weights = [
        share * run.mode.samples[WEIGHT] for share, run in zip((1.0 - cut, cut), runs, strict=True)
    ]
    mean = sum((w * v).sum(axis=0) for w, v in zip(weights, waves, strict=True))
    away = [v - mean for v in waves]
    square = sum((w * a * a).sum(axis=0) for w, a in zip(weights, away, strict=True))
    size = sum((w * np.abs(a)).sum(axis=0) for w, a in zip(weights, away, strict=True))
    rms = np.sqrt(square)
    order = np.where(
        cut > 0.5, *(main_order(w, runs[i], turns) for i, w in ((1, waves[1]), (0, waves[0])))
    )
    return np.array(
        [mean, rms, math.pi / (2.0 * math.sqrt(2.0)) * size, np.where(rms > STEADY, order, 0.0)]
    )


def main_order(wave: Array, run: Running, turns: Array) -> Array:
    """Return which of the orders 1, 2, 3 and 6 is strongest in waves (k, n)."""
    samples = run.mode.samples
    turn = turns[:, samples[STEP].astype(np.intp)]
    sums = np.einsum("okn,kn->on", turn, samples[WEIGHT] * wave)
    power = sums[0::2] ** 2 + sums[1::2] ** 2
    best, most = np.ones(wave.shape[1]), np.zeros(wave.shape[1])
    for order, strength in zip(ORDERS, power, strict=True):
        stronger = strength > most * 1.0001
        best, most = np.where(stronger, order, best), np.where(stronger, strength, most)
    return best
