"""Voltages at every test point, and currents in every wire, from a solved running machine.

All of them are linear in the stored waveforms, so a probe is one row of nine numbers over
(x_a, x_b, x_c, x_plus, j_0..j_3, 1) and its statistics are sums over the last period.
"""

from __future__ import annotations

import math

import numpy as np

from chargewright.circuit.compiled import compiled
from chargewright.circuit.network import (
    BATTERY_OHM,
    CHARGE_OHM,
    CLAMP_OHM,
    FUSE_OHM,
    GROUND_OHM,
    LOAD_S,
    NEG_OHM,
    PLUG_A,
    SENSE_DROP_V,
    SHORT_OHM,
    node_row,
)
from chargewright.circuit.operate import (
    BATTERY_PATH_OHM,
    CUT,
    E_V,
    PLUS_OHM,
    SOURCE_V,
)
from chargewright.circuit.switching import MOST_PARTS, SAMPLE_ROWS, STEP, WEIGHT
from chargewright.machine.parameters import Array

ROW = 9
BLOCK = 16  # what runs along the samples goes in whole blocks, which a processor does at once
STEADY = 1e-6  # a volt or ampere that alternates by less does not alternate
POINTS = 14
WIRE = 100  # first row number that names a wire instead of a point
WIRES = 7  # leads A, B, C; rectifier output; battery (into its plus post); body ground; loads
LEADS, OUTPUT, BATTERY_WIRE, GROUND_WIRE, LOADS = 0, 3, 4, 5, 6

# Working space of one machine's reading: rows of all points, of all wires and of the probe, the
# basis signals' means, their orders' sums in both modes, then a number for each step.
POINT_ROWS = 0
WIRE_ROWS = POINT_ROWS + POINTS * ROW
PROBE = WIRE_ROWS + WIRES * ROW
MEANS = PROBE + ROW
ORDERS = MEANS + 8
READING = ORDERS + 2 * 8 * 8


@compiled
def all_rows(
    op: Array, y: Array, result: Array, to_battery: bool, by_lead: bool, volts: Array, amps: Array
) -> None:
    """Fill ``volts`` (POINTS, ROW), from the regulator body, and ``amps`` (WIRES, ROW)."""
    source = result[SOURCE_V]
    rp = result[PLUS_OHM]
    volts[:, :] = 0.0
    amps[:, :] = 0.0
    frame = volts[5]
    node_row(y, 5, frame)
    frame[8] *= source
    for leg in range(3):
        node_row(y, 2 + leg, volts[6 + leg])
        volts[6 + leg, 8] *= source
        volts[9 + leg, leg] = 1.0
    volts[3, 3] = 1.0
    for col in range(ROW):
        output = (volts[3, col] - frame[col]) / rp
        if col == 8:
            output -= source / rp
        amps[OUTPUT, col] = output
        joint = frame[col] + (rp - op[CHARGE_OHM]) * output  # where the output lead ends
        inner = result[E_V] if col == 8 else 0.0
        if col == 8:
            joint += source
        battery = (joint - frame[col] - inner) / result[BATTERY_PATH_OHM]
        amps[BATTERY_WIRE, col] = battery
        negative = frame[col] + op[NEG_OHM] * battery
        positive = negative + inner + op[BATTERY_OHM] * battery
        clamp = positive + op[CLAMP_OHM] * battery
        if to_battery:
            load = (clamp - frame[col]) * op[LOAD_S] / (1.0 + op[LOAD_S] * op[FUSE_OHM])
            harness = clamp - op[FUSE_OHM] * load
        else:
            harness = joint
            load = (joint - frame[col]) * op[LOAD_S]
        amps[LOADS, col] = load
        amps[GROUND_WIRE, col] = frame[col] / np.maximum(op[GROUND_OHM], SHORT_OHM)
        volts[0, col] = negative
        volts[1, col] = positive
        volts[2, col] = harness
        volts[12, col] = harness if by_lead else volts[3, col]
        volts[13, col] = frame[col]
        for leg in range(3):
            amps[LEADS + leg, col] = (volts[6 + leg, col] - volts[9 + leg, col]) / np.maximum(
                op[PLUG_A + leg], SHORT_OHM
            )
    if by_lead:
        volts[12, 8] -= op[SENSE_DROP_V]


@compiled
def turn_over(samples: Array, count: int, rows: Array) -> None:
    """Write samples (..., SAMPLE_ROWS) as ``rows`` (SAMPLE_ROWS, ...), which sums run along.

    Zeros fill them to whole blocks.
    """
    for i in range(count):
        for row in range(SAMPLE_ROWS):
            rows[row, i] = samples[i, row]
    for row in range(SAMPLE_ROWS):
        for i in range(count, count + -count % BLOCK):
            rows[row, i] = 0.0


@compiled
def add_means(samples: Array, count: int, share: float, means: Array) -> None:
    """Add a mode's means of the basis signals, for its share, to ``means`` (8,)."""
    for row in range(8):
        total = 0.0
        for i in range(count):
            total += samples[WEIGHT, i] * samples[row, i]
        means[row] += share * total


@compiled
def spread(row: Array, samples: Array, count: int, mean: float) -> tuple[float, float]:
    """Return (mean square, mean magnitude) of a row about ``mean`` over the stored period."""
    r0, r1, r2, r3 = row[0], row[1], row[2], row[3]
    r4, r5, r6, r7 = row[4], row[5], row[6], row[7]
    rest = row[8] - mean
    square = 0.0
    size = 0.0
    for i in range(count):
        away = (
            (r0 * samples[0, i] + r1 * samples[1, i])
            + (r2 * samples[2, i] + r3 * samples[3, i])
            + (r4 * samples[4, i] + r5 * samples[5, i])
            + (r6 * samples[6, i] + r7 * samples[7, i])
            + rest
        )
        square += samples[WEIGHT, i] * away * away
        size += samples[WEIGHT, i] * abs(away)
    return square, size


@compiled
def statistics(
    row: Array,
    samples: Array,
    counts: Array,
    cut: float,
    means: Array,
    orders: Array,
    answer: Array,
) -> None:
    """Write (mean, rms about it, 1.1107 mean magnitude about it, order of its fundamental, 0 where
    nothing alternates).

    The signal is a mixture: the charging waveform for the share 1 - ``cut`` of the time, the
    cutting one for the rest.
    """
    mean = row[8]
    for col in range(8):
        mean += row[col] * means[col]
    square = 0.0
    size = 0.0
    for mode in range(2):
        share = cut if mode == 1 else 1.0 - cut
        if share > 0.0:
            count = int(counts[mode])
            a, b = spread(row, samples[mode], count, mean)
            square += share * a
            size += share * b
    answer[0] = mean
    answer[1] = math.sqrt(square)
    answer[2] = math.pi / (2.0 * math.sqrt(2.0)) * size
    answer[3] = 0.0
    if answer[1] > STEADY:
        answer[3] = main_order(row, orders[1 if cut > 0.5 else 0])


@compiled
def main_order(row: Array, orders: Array) -> float:
    """Return which of the orders 1, 2, 3 and 6 of the electrical period is strongest."""
    best = 1.0
    most = 0.0
    for which in range(4):
        re = 0.0
        im = 0.0
        for col in range(8):
            re += row[col] * orders[2 * which, col]
            im += row[col] * orders[2 * which + 1, col]
        power = re * re + im * im
        if power > most * 1.0001:
            most = power
            best = 6.0 if which == 3 else which + 1.0
    return best


@compiled
def orders_sums(samples: Array, count: int, turns: Array, whole: Array, orders: Array) -> None:
    """Write the basis signals' sums against cosine and sine of four orders, (8, 8).

    Rows 2 i and 2 i + 1 belong to order 1, 2, 3 and 6, ``turns`` (8, steps) likewise, in whole
    blocks; ``whole`` (steps,) is scratch: a divided step counts as its mean.
    """
    steps, wide = (samples.shape[1] - BLOCK) // MOST_PARTS, turns.shape[1]
    for row in range(8):
        for i in range(wide):  # what stands beyond the last step meets zeros in the table
            whole[i] = samples[WEIGHT, i] * samples[row, i]
        for i in range(steps, count):
            whole[int(samples[STEP, i])] += samples[WEIGHT, i] * samples[row, i]
        a1, b1, a2, b2, a3, b3, a6, b6 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        for i in range(wide):
            v = whole[i]
            a1 += v * turns[0, i]
            b1 += v * turns[1, i]
            a2 += v * turns[2, i]
            b2 += v * turns[3, i]
            a3 += v * turns[4, i]
            b3 += v * turns[5, i]
            a6 += v * turns[6, i]
            b6 += v * turns[7, i]
        orders[0, row], orders[1, row], orders[2, row], orders[3, row] = a1, b1, a2, b2
        orders[4, row], orders[5, row], orders[6, row], orders[7, row] = a3, b3, a6, b6


@compiled
def read_off(
    op: Array,
    y: Array,
    result: Array,
    to_battery: bool,
    by_lead: bool,
    samples: Array,
    counts: Array,
    turns: Array,
    plus: Array,
    minus: Array,
    rows: Array,
    reading: Array,
    answer: Array,
) -> None:
    """Write all probes' statistics, ``answer`` (m, 4), of one solved machine.

    ``samples`` (2, ..., SAMPLE_ROWS) of which ``counts`` (2,) hold; ``rows`` (2, SAMPLE_ROWS, ...)
    and ``reading`` (READING + steps,) are scratch; the rest as in ``running.solve_all``.
    """
    volts = reading[POINT_ROWS:WIRE_ROWS].reshape(POINTS, ROW)
    amps = reading[WIRE_ROWS:PROBE].reshape(WIRES, ROW)
    row = reading[PROBE:MEANS]
    means = reading[MEANS:ORDERS]
    means[:] = 0.0
    orders = reading[ORDERS:READING].reshape(2, 8, 8)
    all_rows(op, y, result, to_battery, by_lead, volts, amps)
    cut = result[CUT]
    for mode in range(2):
        if (mode == 0 and cut < 1.0) or (mode == 1 and cut > 0.0):
            count = int(counts[mode])
            turn_over(samples[mode], count, rows[mode])
            counts[mode] = count + -count % BLOCK
            share = cut if mode == 1 else 1.0 - cut
            add_means(rows[mode], int(counts[mode]), share, means)
            if (cut > 0.5) == (mode == 1):
                orders_sums(rows[mode], count, turns, reading[READING:], orders[mode])
    for probe in range(plus.shape[0]):
        if plus[probe] >= WIRE:
            for col in range(ROW):
                row[col] = minus[probe] * amps[plus[probe] - WIRE, col]
        else:
            for col in range(ROW):
                row[col] = volts[plus[probe], col] - volts[minus[probe], col]
        statistics(row, rows, counts, cut, means, orders, answer[probe])


def order_table(steps: int) -> Array:
    """Return cosine and sine of the orders 1, 2, 3 and 6 at the middle of each step, zeros after
    the last: (8, steps in whole blocks)."""
    middle = 2.0 * np.pi * (np.arange(steps) + 0.5) / steps
    table = np.zeros((8, steps + -steps % BLOCK))
    table[:, :steps] = [f(order * middle) for order in (1, 2, 3, 6) for f in (np.cos, np.sin)]
    return table
