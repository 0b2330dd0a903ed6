"""Voltages at every test point, and currents in every wire, from a solved running machine.

All of them are linear in the stored waveforms, so a probe is one row of nine numbers over
(x_a, x_b, x_c, x_plus, j_0..j_3, 1) and its statistics are sums over the last period.
"""

from __future__ import annotations

import math

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
    node_row,
)
from chargewright.circuit.operate import (
    BATTERY_PATH_OHM,
    E_V,
    PLUS_OHM,
    SHORT_OHM,
    SOURCE_V,
)
from chargewright.machine.parameters import Array

ROW = 9
POINTS = 14
WIRES = 7  # leads A, B, C; rectifier output; battery (into its plus post); body ground; loads
LEADS, OUTPUT, BATTERY_WIRE, GROUND_WIRE, LOADS = 0, 3, 4, 5, 6


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
        amps[GROUND_WIRE, col] = frame[col] / max(op[GROUND_OHM], SHORT_OHM)
        volts[0, col] = negative
        volts[1, col] = positive
        volts[2, col] = harness
        volts[12, col] = harness if by_lead else volts[3, col]
        volts[13, col] = frame[col]
        for leg in range(3):
            amps[LEADS + leg, col] = (volts[6 + leg, col] - volts[9 + leg, col]) / max(
                op[PLUG_A + leg], SHORT_OHM
            )
    if by_lead:
        volts[12, 8] -= op[SENSE_DROP_V]


@compiled
def wave(row: Array, waves: Array, out: Array) -> None:
    """Write the waveform of one row over the stored period, ``waves`` (2, steps, 4)."""
    for step in range(out.shape[0]):
        value = row[8]
        for col in range(4):
            value += row[col] * waves[0, step, col] + row[4 + col] * waves[1, step, col]
        out[step] = value


@compiled
def statistics(
    row: Array, waves: Array, cut: float, steps_cut: Array, steps_charge: Array, answer: Array
) -> None:
    """Write (mean, rms about it, 1.1107 mean magnitude about it, order of its fundamental).

    The signal is a mixture: the charging waveform for the share 1 - ``cut`` of the time, the
    cutting one for the rest.
    """
    steps = steps_charge.shape[0]
    pass_share = 1.0 - cut
    mean = 0.0
    if pass_share > 0.0:
        wave(row, waves[0], steps_charge)
        mean += pass_share * steps_charge.mean()
    if cut > 0.0:
        wave(row, waves[1], steps_cut)
        mean += cut * steps_cut.mean()
    square = 0.0
    size = 0.0
    for step in range(steps):
        if pass_share > 0.0:
            away = steps_charge[step] - mean
            square += pass_share * away * away
            size += pass_share * abs(away)
        if cut > 0.0:
            away = steps_cut[step] - mean
            square += cut * away * away
            size += cut * abs(away)
    answer[0] = mean
    answer[1] = math.sqrt(square / steps)
    answer[2] = math.pi / (2.0 * math.sqrt(2.0)) * size / steps
    answer[3] = main_order(steps_cut if cut > 0.5 else steps_charge)


@compiled
def main_order(samples: Array) -> float:
    """Return which of the orders 1, 2, 3 and 6 of the electrical period is strongest."""
    steps = samples.shape[0]
    best = 1.0
    most = 0.0
    for order in (1, 2, 3, 6):
        turn = 2.0 * math.pi * order / steps
        c = math.cos(turn)
        s = math.sin(turn)
        re = 0.0
        im = 0.0
        u = 1.0
        v = 0.0
        for step in range(steps):
            re += samples[step] * u
            im += samples[step] * v
            u, v = u * c - v * s, u * s + v * c
        power = re * re + im * im
        if power > most * 1.0001:
            most = power
            best = float(order)
    return best
