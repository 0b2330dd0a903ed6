"""The 27 combinations of leg states, each a small linear map from sources to voltages.

The junctions make each leg piecewise linear: off, up (into the rectifier's plus, or into the
regulator's shunt while that cuts charging) or down (from the regulator body). A combination
is worked out when first met and kept as one row of a flat table.
"""

from __future__ import annotations

from chargewright.circuit.compiled import compiled
from chargewright.circuit.network import (
    BODY,
    CUT_S,
    CUT_V,
    DN_S_A,
    DN_V_A,
    DRIVE,
    INNER,
    LEAK_S,
    OF_X,
    SOURCE,
    UP_S_A,
    UP_V_A,
)
from chargewright.machine.parameters import Array

CHARGE, CUT_SHUNT, CUT_SERIES = 0, 1, 2
OFF, UP, DOWN = 0, 1, 2
CODES = 27
NEVER_V = 1e9

# One combination's row: for each source a column of four leg volts, then four branch currents;
# sources are the four companions, the junctions' own volts, the direct-current side's volt.
# FIXED is the sum of the last two at the present source.
COLUMN = 8
JUNCTIONS, SUPPLY, FIXED = 4 * COLUMN, 5 * COLUMN, 6 * COLUMN
SIZE = 7 * COLUMN

# One machine's legs: siemens up, volts up, siemens down, volts down (three each); the share of
# the plus voltage that an upper junction works against: 1 while charging, 0 into the shunt; and
# 1 where winding A has a fault to frame, so that its two parts carry different currents.
LEG_UP_S, LEG_UP_V, LEG_DN_S, LEG_DN_V, LEG_UP_TO, TAPPED = 0, 3, 6, 9, 12, 13
LEGS = 14


@compiled
def leg_lines(op: Array, mode: int, legs: Array) -> None:
    """Fill ``legs`` (LEGS,) with the junctions' lines in one mode of the regulator."""
    for leg in range(3):
        up_s = op[CUT_S] if mode == CUT_SHUNT else op[UP_S_A + leg]
        if mode == CUT_SERIES:
            up_s = 0.0
        up_v = op[CUT_V] if mode == CUT_SHUNT else op[UP_V_A + leg]
        legs[LEG_UP_S + leg] = up_s
        legs[LEG_UP_V + leg] = up_v if up_s > 0.0 else NEVER_V
        legs[LEG_DN_S + leg] = op[DN_S_A + leg]
        legs[LEG_DN_V + leg] = op[DN_V_A + leg] if op[DN_S_A + leg] > 0.0 else NEVER_V
    legs[LEG_UP_TO] = 0.0 if mode == CUT_SHUNT else 1.0
    legs[TAPPED] = 1.0 if op[LEAK_S] > 0.0 else 0.0


@compiled
def leg_state(legs: Array, leg: int, u: float, plus: float) -> int:
    """Return the state a leg's voltage asks for."""
    if u < -legs[LEG_DN_V + leg]:
        return DOWN
    return UP if u > legs[LEG_UP_V + leg] + legs[LEG_UP_TO] * plus else OFF


@compiled
def leg_current(legs: Array, leg: int, state: int, u: float, plus: float) -> float:
    """Return the current a conducting leg carries in its own direction [A]."""
    if state == UP:
        over = u - legs[LEG_UP_V + leg] - legs[LEG_UP_TO] * plus
        return legs[LEG_UP_S + leg] * over  # type: ignore[no-any-return]
    return legs[LEG_DN_S + leg] * (-legs[LEG_DN_V + leg] - u)  # type: ignore[no-any-return]


@compiled
def prepare(legs: Array, y: Array, part: Array, code: int, t: Array) -> None:
    """Fill combination ``code`` of the table ``t`` (CODES * SIZE,) but for its FIXED column.

    The mesh of the four kept nodes is eliminated leg by leg as in ``network.eliminate``. Works
    on arrays with the machines along a last axis more, like ``network``'s functions.
    """
    base = code * SIZE
    g0, g1, g2, g3 = y[INNER, BODY], y[INNER + 1, BODY], y[INNER + 2, BODY], y[INNER + 3, BODY]
    l01, l02, l03 = y[INNER, INNER + 1], y[INNER, INNER + 2], y[INNER, INNER + 3]
    l12, l13, l23 = y[INNER + 1, INNER + 2], y[INNER + 1, INNER + 3], y[INNER + 2, INNER + 3]
    plus = 0.0
    for leg in range(3):
        state = (code // (3**leg)) % 3
        current = 0.0
        s = 0.0
        to_plus = 0.0
        if state == UP:
            s = legs[LEG_UP_S + leg]
            current = s * legs[LEG_UP_V + leg]
            to_plus = s * legs[LEG_UP_TO]
            plus = plus - current * legs[LEG_UP_TO]
        elif state == DOWN:
            s = legs[LEG_DN_S + leg]
            current = -s * legs[LEG_DN_V + leg]
        if leg == 0:
            l03 = l03 + to_plus
            g0 = g0 + s - to_plus
        elif leg == 1:
            l13 = l13 + to_plus
            g1 = g1 + s - to_plus
        else:
            l23 = l23 + to_plus
            g2 = g2 + s - to_plus
        t[base + JUNCTIONS + leg] = current
    t[base + JUNCTIONS + 3] = plus
    r0 = 1.0 / (g0 + l01 + l02 + l03)
    a1, a2, a3 = l01 * r0, l02 * r0, l03 * r0
    l12 = l12 + a1 * l02
    l13 = l13 + a1 * l03
    l23 = l23 + a2 * l03
    g1 = g1 + a1 * g0
    r1 = 1.0 / (g1 + l12 + l13)
    b2, b3 = l12 * r1, l13 * r1
    l23 = l23 + b2 * l13
    g2 = g2 + a2 * g0 + b2 * g1
    r2 = 1.0 / (g2 + l23)
    c3 = l23 * r2
    r3 = 1.0 / (g3 + a3 * g0 + b3 * g1 + c3 * g2)
    for column in range(6):
        at = base + column * COLUMN
        if column == 4:
            s0, s1, s2, s3 = t[at], t[at + 1], t[at + 2], t[at + 3]
        else:
            source = SOURCE if column == 5 else DRIVE + column
            s0, s1 = y[INNER, source], y[INNER + 1, source]
            s2, s3 = y[INNER + 2, source], y[INNER + 3, source]
        s1 = s1 + a1 * s0
        s2 = s2 + a2 * s0 + b2 * s1
        s3 = s3 + a3 * s0 + b3 * s1 + c3 * s2
        x3 = r3 * s3
        x2 = r2 * s2 + c3 * x3
        x1 = r1 * s1 + b2 * x2 + b3 * x3
        x0 = r0 * s0 + a1 * x1 + a2 * x2 + a3 * x3
        t[at], t[at + 1], t[at + 2], t[at + 3] = x0, x1, x2, x3
        for b in range(4):
            current = (
                part[OF_X, b] * x0
                + part[OF_X + 1, b] * x1
                + part[OF_X + 2, b] * x2
                + part[OF_X + 3, b] * x3
            )
            if column != 4:
                current += part[OF_X + 4 + min(column, 4), b]
            t[at + 4 + b] = current
    # a whole winding's two parts have one source: the second's goes to the first
    for i in range(COLUMN):
        second = t[base + 3 * COLUMN + i]
        t[base + i] = t[base + i] + (1.0 - legs[TAPPED]) * second
        t[base + 3 * COLUMN + i] = legs[TAPPED] * second


@compiled
def supply(t: Array, code: int, source_v: float) -> None:
    """Put a combination's FIXED column at the direct-current side's present source."""
    base = code * SIZE
    for i in range(COLUMN):
        t[base + FIXED + i] = t[base + JUNCTIONS + i] + source_v * t[base + SUPPLY + i]
