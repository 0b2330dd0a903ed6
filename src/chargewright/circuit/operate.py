"""Finds the voltage at which alternator, regulator, loads and battery agree.

The battery's slow over-voltage follows its mean current, the regulator cuts charging for the
share of time that holds its set point, and both shift the voltage against which the alternator
works. One unknown carries it all: the battery's internal voltage ``e`` (open-circuit voltage
plus settled over-voltage). The regulator alternates between charging and cutting over times
long against a period and short against the battery, so its state is a share of time ``cut``.
"""

from __future__ import annotations

import math

from chargewright.circuit.compiled import compiled
from chargewright.circuit.march import (
    CHARGE,
    CUT_SERIES,
    CUT_SHUNT,
    SCRATCH,
    first_currents,
    march,
)
from chargewright.circuit.network import (
    BATTERY_E_V,
    BATTERY_OHM,
    CHARGE_A,
    CHARGE_OHM,
    CHARGE_V,
    CLAMP_OHM,
    CUT_MAX,
    CUT_MIN,
    DRAW_A,
    DRAW_V,
    EMPTY_A,
    EMPTY_V,
    FRAME_NODE,
    FUSE_OHM,
    GROUND_OHM,
    LOAD_S,
    NEG_OHM,
    OMEGA,
    SENSE_DROP_V,
    SETPOINT_V,
    assemble,
    eliminate,
    node_row,
)
from chargewright.machine.parameters import Array

AGREE_V = 0.002  # accepted disagreement of the battery's internal voltage
MOST_ROUNDS = 25
SHORT_OHM = 1e-5

# Rows of the small result of one machine
E_V, CUT, SOURCE_V, PLUS_OHM, BATTERY_PATH_OHM, LOAD_PATH_S, CONVERGED, PERIODS = range(8)
RESULTS = 8
PARTS = 40  # kept per machine: companions, ends, frame row, currents of both modes, outputs


@compiled
def overvoltage(op: Array, current: float) -> float:
    """Return the battery's settled over-voltage at its mean current (charging positive).

    The law of ``polarisation.overvoltage_v``, one machine at a time.
    """
    if current >= 0.0:
        return op[CHARGE_V] * math.asinh(current / op[CHARGE_A])  # type: ignore[no-any-return]
    down = op[DRAW_V] * math.asinh(current / op[DRAW_A])
    return down + op[EMPTY_V] * math.tanh(current / op[EMPTY_A])  # type: ignore[no-any-return]


@compiled
def paths(op: Array, to_battery: bool) -> tuple[float, float, float]:
    """Return (resistance of the battery path, load conductance, plus-to-frame resistance).

    Both paths lie between frame and the node where the regulator's output lead joins.
    """
    battery = op[BATTERY_OHM] + op[CLAMP_OHM] + op[NEG_OHM]
    load = op[LOAD_S]
    if to_battery:
        load = load / (1.0 + load * op[FUSE_OHM])
    else:
        battery += op[FUSE_OHM]
    battery = max(battery, SHORT_OHM)
    return battery, load, op[CHARGE_OHM] + 1.0 / (load + 1.0 / battery)


@compiled
def at_setpoint(
    op: Array, to_battery: bool, by_lead: bool, battery: float, load: float
) -> tuple[float, float]:
    """Return (internal voltage, alternator current needed) when the set point is held."""
    low = -400.0
    high = 400.0
    e = op[BATTERY_E_V]
    need = 0.0
    for _ in range(60):
        current = 0.5 * (low + high)
        e = op[BATTERY_E_V] + overvoltage(op, current)
        joint = e + current * battery
        need = current + load * joint
        if by_lead:
            sensed = joint - op[SENSE_DROP_V]
            if to_battery:
                sensed = joint / (1.0 + op[LOAD_S] * op[FUSE_OHM]) - op[SENSE_DROP_V]
        else:
            sensed = joint + op[CHARGE_OHM] * need
        sensed += op[GROUND_OHM] * need
        if sensed > op[SETPOINT_V]:
            high = current
        else:
            low = current
    return e, need


@compiled
def mean_output(x_wave: Array, j_wave: Array, frame: Array, source_v: float, rp: float) -> float:
    """Return the mean current out of the rectifier's plus [A] over the stored period."""
    total = 0.0
    steps = x_wave.shape[0]
    for step in range(steps):
        f = frame[8] * source_v
        for col in range(4):
            f += frame[col] * x_wave[step, col] + frame[4 + col] * j_wave[step, col]
        total += x_wave[step, 3] - f
    return (total / steps - source_v) / rp


@compiled
def output_at(
    op: Array,
    y: Array,
    parts: Array,
    table: Array,
    cut_mode: int,
    run_charging: bool,
    run_cutting: bool,
    source: float,
    rp: float,
    scratch: Array,
    waves: Array,
) -> tuple[float, float, int]:
    """March the modes asked for; return (output charging, output cutting, periods).

    Outputs are mean currents from the rectifier's plus [A]; periods are negative when a mode
    did not repeat. ``parts`` holds what ``operate`` keeps of one machine (see there).
    """
    g = parts[0:4]
    keep = parts[4:8]
    share = parts[8:12]
    ends = parts[12:20].reshape(4, 2)
    frame = parts[20:29]
    outputs = parts[38:40]
    periods = 0
    good = True
    for which in range(2):
        outputs[which] = 0.0
        if (which == 0 and run_charging) or (which == 1 and run_cutting):
            mode = CHARGE if which == 0 else cut_mode
            now = parts[30 + 4 * which : 34 + 4 * which]
            x_wave = waves[which, 0]
            j_wave = waves[which, 1]
            n = march(
                op, y, g, keep, share, ends, table, mode, source, now, scratch, x_wave, j_wave
            )
            good = good and n > 0
            periods += abs(n)
            outputs[which] = mean_output(x_wave, j_wave, frame, source, rp)
    return outputs[0], outputs[1], periods if good else -periods


@compiled
def operate(
    op: Array,
    kind: int,
    series: bool,
    to_battery: bool,
    by_lead: bool,
    table: Array,
    y: Array,
    scratch: Array,
    waves: Array,
    result: Array,
) -> None:
    """Solve one machine. ``waves`` (2, 2, steps, 4) receives [charging, cutting][x, j].

    ``result`` (RESULTS,) receives internal voltage, share of time cut, source voltage and
    resistances of the direct-current side, whether all converged, and periods marched.

    First the alternator works against the voltage that its set point would give. If it can
    deliver more than is needed there, the regulator's share of time follows at once. If not
    (or if the regulator cannot cut enough), the voltage is the unknown and is sought.
    """
    h = 2.0 * math.pi / op[OMEGA] / waves.shape[2]
    battery, load, rp = paths(op, to_battery)
    parts = scratch[SCRATCH : SCRATCH + PARTS]
    ends = parts[12:20].reshape(4, 2)
    assemble(op, kind, h, rp, y, parts[0:4], parts[4:8], parts[8:12], ends)
    eliminate(y)
    node_row(y, FRAME_NODE, parts[20:29])
    first_currents(op, 0.6 * rp + 0.5, parts[30:34])
    first_currents(op, 0.05, parts[34:38])
    cut_mode = CUT_SERIES if series else CUT_SHUNT
    least = op[CUT_MIN]
    most = max(op[CUT_MAX], least)

    e, need = at_setpoint(op, to_battery, by_lead, battery, load)
    low_e = op[BATTERY_E_V] + overvoltage(op, -load * op[BATTERY_E_V] - 1.0)
    high_e = max(e, low_e + 0.01)
    gap_low = 1.0
    gap_high = -1.0
    side = 0
    cut = least
    known = False  # whether the regulator's share of time is settled
    periods = 0
    good = False
    trial = e
    for _ in range(MOST_ROUNDS):
        source = trial / (1.0 + load * battery)
        run_cutting = cut > 0.0 if known else least > 0.0
        charging, cutting, n = output_at(
            op, y, parts, table, cut_mode, cut < 1.0, run_cutting, source, rp, scratch, waves
        )
        periods += abs(n)
        good = n > 0
        e = trial
        if not known:
            known = True
            if charging > need and most > 0.0 and least < 1.0:
                if not run_cutting:
                    _, cutting, n = output_at(
                        op, y, parts, table, cut_mode, False, True, source, rp, scratch, waves
                    )
                    periods += abs(n)
                    good = good and n > 0
                wanted = (charging - need) / max(charging - cutting, 1e-9)
                cut = min(max(wanted, least), most)
                if cut == wanted:
                    break
        output = (1.0 - cut) * charging + cut * cutting
        current = (output - load * trial) / (1.0 + load * battery)
        gap = op[BATTERY_E_V] + overvoltage(op, current) - trial
        if abs(gap) < AGREE_V or high_e - low_e < 0.5 * AGREE_V:
            break
        good = False
        first = side == 0
        if gap > 0.0:
            if trial >= high_e:  # the regulator cannot hold its set point: look above it
                high_e = trial + gap
                gap_high = -gap
            low_e = trial
            gap_low = gap
            if side > 0:
                gap_high *= 0.5
            side = 1
        else:
            high_e = trial
            gap_high = gap
            if side < 0:
                gap_low *= 0.5
            side = -1
        # The law's own answer is exact where the alternator is a current source.
        trial = (
            trial + gap if first else (low_e * gap_high - high_e * gap_low) / (gap_high - gap_low)
        )
        if not low_e < trial < high_e:
            trial = 0.5 * (low_e + high_e)
    result[E_V] = e
    result[CUT] = cut
    result[SOURCE_V] = e / (1.0 + load * battery)
    result[PLUS_OHM] = rp
    result[BATTERY_PATH_OHM] = battery
    result[LOAD_PATH_S] = load
    result[CONVERGED] = 1.0 if good else 0.0
    result[PERIODS] = periods
