"""Steps one machine through electrical periods until they repeat.

The junctions make each leg piecewise linear: off, up (into the rectifier's plus, or into the
regulator's shunt while that cuts charging) or down (from the regulator body). For each of the
27 combinations the reduced network is inverted once, when first met; a step then costs a few
4 x 4 products, and the combination found is checked against the voltages it gives.
"""

from __future__ import annotations

import math

from chargewright.circuit.compiled import compiled
from chargewright.circuit.network import (
    BRANCHES,
    CUT_S,
    CUT_V,
    DN_S_A,
    DN_V_A,
    EMF_A,
    FIFTH,
    INNER,
    L_A,
    NODES,
    OMEGA,
    R_A,
    SOURCE,
    THIRD,
    UP_S_A,
    UP_V_A,
    invert_four,
)
from chargewright.machine.parameters import Array

CHARGE, CUT_SHUNT, CUT_SERIES = 0, 1, 2
OFF, UP, DOWN = 0, 1, 2
NEVER_V = 1e9
MOST_TRIES = 40  # combinations tried in one step before the last is taken as it is
MOST_PERIODS = 60
SCRATCH = 651  # numbers of working space
TOLERANCE_A = 2e-3  # period-to-period change that counts as repeating


@compiled
def prepare_combination(
    op: Array, y: Array, mode: int, code: int, work: Array, inverse: Array, offset: Array
) -> None:
    """Invert the reduced network for one combination of leg states; its junction sources too."""
    for i in range(4):
        for j in range(4):
            work[i, j] = y[INNER + i, INNER + j]
        offset[i] = 0.0
    inject = (0.0, 0.0, 0.0, 0.0)
    in_a, in_b, in_c, in_p = inject
    for leg in range(3):
        state = (code // (3**leg)) % 3
        current = 0.0
        if state == UP and mode == CUT_SHUNT:
            work[leg, leg] += op[CUT_S]
            current = op[CUT_S] * op[CUT_V]
        elif state == UP:
            s = op[UP_S_A + leg]
            work[leg, leg] += s
            work[3, 3] += s
            work[leg, 3] -= s
            work[3, leg] -= s
            current = s * op[UP_V_A + leg]
            in_p -= current
        elif state == DOWN:
            s = op[DN_S_A + leg]
            work[leg, leg] += s
            current = -s * op[DN_V_A + leg]
        if leg == 0:
            in_a = current
        elif leg == 1:
            in_b = current
        else:
            in_c = current
    invert_four(work, inverse)
    for i in range(4):
        offset[i] = (
            inverse[i, 0] * in_a
            + inverse[i, 1] * in_b
            + inverse[i, 2] * in_c
            + inverse[i, 3] * in_p
        )


@compiled
def leg_state(u: float, plus: float, up_v: float, down_v: float, up_to: float) -> int:
    """Return the state that a leg's voltage asks for.

    It conducts down below -``down_v`` and up beyond ``up_v`` over ``up_to`` times the plus
    (1 while charging, 0 into the shunt).
    """
    if u < -down_v:
        return DOWN
    return UP if u > up_v + up_to * plus else OFF


@compiled
def thresholds(op: Array, mode: int, leg: int) -> tuple[float, float]:
    """Return (up, down) voltages beyond which a leg conducts; NEVER where it cannot."""
    down = op[DN_V_A + leg] if op[DN_S_A + leg] > 0.0 else NEVER_V
    if mode == CUT_SHUNT:
        return op[CUT_V], down
    if mode == CHARGE and op[UP_S_A + leg] > 0.0:
        return op[UP_V_A + leg], down
    return NEVER_V, down


@compiled
def first_currents(op: Array, r_extra: float, current: Array) -> None:
    """Set branch currents at the start of a period from the phasor of a plain R-L circuit."""
    for branch in range(3):
        x = op[OMEGA] * op[L_A + branch]
        r = op[R_A + branch] + r_extra
        peak = op[EMF_A + branch] / math.sqrt(r * r + x * x)
        lag = math.atan2(x, r)
        current[branch] = peak * math.cos(-2.0 * math.pi * branch / 3.0 - lag)
    current[3] = 0.0


@compiled
def march(
    op: Array,
    y: Array,
    g: Array,
    keep: Array,
    share: Array,
    ends: Array,
    table: Array,
    mode: int,
    source_v: float,
    current: Array,
    scratch: Array,
    x_wave: Array,
    j_wave: Array,
) -> int:
    """Step until the period repeats; return the number of periods, negative if it never did.

    ``current`` (4,) branch currents at the start of the period, updated. ``scratch`` is at
    least ``SCRATCH`` long. ``x_wave`` and ``j_wave`` (steps, 4) receive the kept nodes'
    voltages and the branches' companion sources of the last period.
    """
    steps = x_wave.shape[0]
    known = scratch[0:27]
    known[:] = 0.0
    inverses = scratch[27 : 27 + 27 * 16].reshape(27, 4, 4)
    offsets = scratch[459 : 459 + 108].reshape(27, 4)
    work = scratch[567:583].reshape(4, 4)
    h_j = scratch[583:599].reshape(4, 4)  # reduced sources per companion source
    drive_x = scratch[599:615].reshape(4, 4)  # branch current per kept node
    drive_j = scratch[615:631].reshape(4, 4)  # branch current per companion source
    const = scratch[631:635]
    drive_c = scratch[635:639]
    start = scratch[639:643]
    old_start = scratch[643:647]
    old_end = scratch[647:651]
    for i in range(4):
        const[i] = y[INNER + i, NODES + SOURCE] * source_v
        for b in range(BRANCHES):
            h_j[i, b] = y[INNER + i, NODES + b]
    for b in range(BRANCHES):
        s = int(ends[b, 0])
        e = int(ends[b, 1])
        for col in range(4):
            drive_x[b, col] = g[b] * (coefficient(y, s, col) - coefficient(y, e, col))
            drive_j[b, col] = g[b] * (coefficient(y, s, 4 + col) - coefficient(y, e, 4 + col))
        drive_j[b, b] += 1.0
        drive_c[b] = g[b] * (coefficient(y, s, 8) - coefficient(y, e, 8)) * source_v

    up0, down0 = thresholds(op, mode, 0)
    up1, down1 = thresholds(op, mode, 1)
    up2, down2 = thresholds(op, mode, 2)
    up_to = 0.0 if mode == CUT_SHUNT else 1.0
    third, fifth = op[THIRD], op[FIFTH]
    peak0, peak1, peak2 = op[EMF_A], op[EMF_A + 1], op[EMF_A + 2]
    code = 0
    n_live = 4 if g[3] > 0.0 else 3
    for period in range(MOST_PERIODS):
        for i in range(4):
            start[i] = current[i]
        largest = 0.0
        for step in range(steps):
            j0 = 0.0
            j1 = 0.0
            j2 = 0.0
            j3 = 0.0
            t = table[step]
            e_a = peak0 * (t[0] + third * t[1] + fifth * t[2])
            e_b = peak1 * (t[3] + third * t[4] + fifth * t[5])
            e_c = peak2 * (t[6] + third * t[7] + fifth * t[8])
            j0 = g[0] * (share[0] * e_a + keep[0] * current[0])
            j1 = g[1] * (e_b + keep[1] * current[1])
            j2 = g[2] * (e_c + keep[2] * current[2])
            if n_live == 4:
                j3 = g[3] * (share[3] * e_a + keep[3] * current[3])
            s0 = const[0] + h_j[0, 0] * j0 + h_j[0, 1] * j1 + h_j[0, 2] * j2 + h_j[0, 3] * j3
            s1 = const[1] + h_j[1, 0] * j0 + h_j[1, 1] * j1 + h_j[1, 2] * j2 + h_j[1, 3] * j3
            s2 = const[2] + h_j[2, 0] * j0 + h_j[2, 1] * j1 + h_j[2, 2] * j2 + h_j[2, 3] * j3
            s3 = const[3] + h_j[3, 0] * j0 + h_j[3, 1] * j1 + h_j[3, 2] * j2 + h_j[3, 3] * j3
            x0 = 0.0
            x1 = 0.0
            x2 = 0.0
            x3 = 0.0
            for attempt in range(MOST_TRIES):
                if known[code] == 0.0:
                    prepare_combination(op, y, mode, code, work, inverses[code], offsets[code])
                    known[code] = 1.0
                m = 27 + 16 * code
                o = 459 + 4 * code
                w = scratch
                x0 = w[o] + w[m] * s0 + w[m + 1] * s1 + w[m + 2] * s2 + w[m + 3] * s3
                x1 = w[o + 1] + w[m + 4] * s0 + w[m + 5] * s1 + w[m + 6] * s2 + w[m + 7] * s3
                x2 = w[o + 2] + w[m + 8] * s0 + w[m + 9] * s1 + w[m + 10] * s2 + w[m + 11] * s3
                x3 = w[o + 3] + w[m + 12] * s0 + w[m + 13] * s1 + w[m + 14] * s2 + w[m + 15] * s3
                want0 = leg_state(x0, x3, up0, down0, up_to)
                want1 = leg_state(x1, x3, up1, down1, up_to)
                want2 = leg_state(x2, x3, up2, down2, up_to)
                wanted = want0 + 3 * want1 + 9 * want2
                if wanted == code:
                    break
                if attempt < 6:
                    code = wanted
                elif want0 != code % 3:  # change one leg at a time: a cycle cannot persist
                    code += want0 - code % 3
                elif want1 != (code // 3) % 3:
                    code += 3 * (want1 - (code // 3) % 3)
                else:
                    code += 9 * (want2 - code // 9)
            for b in range(n_live):
                current[b] = (
                    drive_c[b]
                    + drive_x[b, 0] * x0
                    + drive_x[b, 1] * x1
                    + drive_x[b, 2] * x2
                    + drive_x[b, 3] * x3
                    + drive_j[b, 0] * j0
                    + drive_j[b, 1] * j1
                    + drive_j[b, 2] * j2
                    + drive_j[b, 3] * j3
                )
            largest = max(largest, abs(current[0]))
            x_wave[step, 0] = x0
            x_wave[step, 1] = x1
            x_wave[step, 2] = x2
            x_wave[step, 3] = x3
            j_wave[step, 0] = j0
            j_wave[step, 1] = j1
            j_wave[step, 2] = j2
            j_wave[step, 3] = j3
        change = 0.0
        for b in range(n_live):
            change = max(change, abs(current[b] - start[b]))
        if change < TOLERANCE_A + 2e-4 * largest:
            return period + 1
        accelerate(current, start, old_start, old_end, period, n_live)
    return -MOST_PERIODS


@compiled
def coefficient(y: Array, node: int, col: int) -> float:
    """Return entry ``col`` of a node's row over (kept nodes, companion sources, source)."""
    if node >= INNER:
        return 1.0 if node - INNER == col else 0.0
    if col < 4:
        return -y[node, INNER + col]  # type: ignore[no-any-return]
    return y[node, NODES + col - 4]  # type: ignore[no-any-return]


@compiled
def accelerate(
    current: Array, start: Array, old_start: Array, old_end: Array, period: int, n_live: int
) -> None:
    """Choose the next period's starting currents by Anderson's mixing of depth one."""
    if period == 0:
        for b in range(n_live):
            old_start[b] = start[b]
            old_end[b] = current[b]
        return
    top = 0.0
    bottom = 0.0
    for b in range(n_live):
        residual = current[b] - start[b]
        difference = residual - (old_end[b] - old_start[b])
        top += residual * difference
        bottom += difference * difference
    gamma = 0.0
    if bottom > 1e-18:
        gamma = min(max(top / bottom, -5.0), 0.9)
    for b in range(n_live):
        end = current[b]
        current[b] = end - gamma * (end - old_end[b])
        old_start[b] = start[b]
        old_end[b] = end
