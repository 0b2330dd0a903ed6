"""The 27 combinations of leg states, each a small linear map from sources to voltages.

The junctions make each leg piecewise linear: off, up (into the rectifier's plus, or into the
regulator's shunt while that cuts charging) or down (from the regulator body). A combination
is worked out when first met and kept as one row of a flat table.
"""

from __future__ import annotations

from chargewright.circuit.compiled import compiled, inlined
from chargewright.circuit.network import (
    COLUMN,
    CUT_S,
    CUT_V,
    DN_S_A,
    DN_V_A,
    FROM_SOURCE,
    INTO,
    LEAK_S,
    MAPS,
    MESH,
    OF_J,
    OF_X,
    UP_S_A,
    UP_V_A,
    Number,
)
from chargewright.machine.parameters import Array

CHARGE, CUT_SHUNT, CUT_SERIES = 0, 1, 2
OFF, UP, DOWN = 0, 1, 2
CODES = 64  # two bits for each leg; 27 of them are combinations
NEVER_V = 1e9

# One combination's rows: three leg volts, the plus, then four branch currents, each per unit of
# the sources: four companions, the direct-current side's volt, the junctions' own volts.
SUPPLY, JUNCTIONS = FROM_SOURCE, FROM_SOURCE + 1
VOLTS, AMPS, ROWS = 0, 4, 8
SIZE = ROWS * COLUMN

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


@inlined
def state_of(code: int, leg: int) -> int:
    """Return a leg's state in a combination."""
    return (code >> (2 * leg)) & 3


@inlined
def code_of(s0: int, s1: int, s2: int) -> int:
    """Return the combination of three legs' states."""
    return s0 + 4 * s1 + 16 * s2


@inlined
def conducting(code: int) -> int:
    """Return both bits of each leg that conducts."""
    return 3 * ((code | (code >> 1)) & 0b010101)


@inlined
def leg_state(legs: Array, leg: int, u: float, plus: float) -> int:
    """Return the state a leg's voltage asks for."""
    if u < -legs[LEG_DN_V + leg]:
        return DOWN
    return UP if u > legs[LEG_UP_V + leg] + legs[LEG_UP_TO] * plus else OFF


@inlined
def leg_current(legs: Array, leg: int, state: int, u: float, plus: float) -> float:
    """Return the current a conducting leg carries in its own direction [A]."""
    if state == UP:
        over = u - legs[LEG_UP_V + leg] - legs[LEG_UP_TO] * plus
        return legs[LEG_UP_S + leg] * over  # type: ignore[no-any-return]
    return legs[LEG_DN_S + leg] * (-legs[LEG_DN_V + leg] - u)  # type: ignore[no-any-return]


@inlined
def leg_between(legs: Array, leg: int, state: int) -> tuple[Number, Number, Number, Number]:
    """Return what a leg's state puts on its node: siemens to the body, siemens to the plus, the
    current [A] of its junction's own volts, and the part of that taken from the plus."""
    if state == UP:
        s, up_to = legs[LEG_UP_S + leg], legs[LEG_UP_TO]
        current = s * legs[LEG_UP_V + leg]
        return s * (1.0 - up_to), s * up_to, current, current * up_to
    none = 0.0 * legs[LEG_UP_TO]
    if state == DOWN:
        s = legs[LEG_DN_S + leg]
        return s + none, none, -s * legs[LEG_DN_V + leg], none
    return none, none, none, none


@compiled
def prepare(legs: Array, part: Array, code: int) -> None:
    """Fill the rows MAPS of ``part`` with those of a combination.

    The mesh of the four kept nodes is eliminated leg by leg as in ``network.eliminate``. Works
    on arrays with the machines along a last axis more, like ``network``'s functions.
    """
    g0, g1, g2, g3 = part[MESH], part[MESH + 1], part[MESH + 2], part[MESH + 3]
    l01, l02, l03 = part[MESH + 4], part[MESH + 5], part[MESH + 6]
    l12, l13, l23 = part[MESH + 7], part[MESH + 8], part[MESH + 9]
    body0, link0, own0, drawn0 = leg_between(legs, 0, state_of(code, 0))
    body1, link1, own1, drawn1 = leg_between(legs, 1, state_of(code, 1))
    body2, link2, own2, drawn2 = leg_between(legs, 2, state_of(code, 2))
    g0, g1, g2 = g0 + body0, g1 + body1, g2 + body2
    l03, l13, l23 = l03 + link0, l13 + link1, l23 + link2
    own = INTO + JUNCTIONS
    part[own], part[own + COLUMN], part[own + 2 * COLUMN] = own0, own1, own2
    part[own + 3 * COLUMN] = -(drawn0 + drawn1 + drawn2)
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
    p0, p1, p2, p3 = branch_row(part, 0)
    q0, q1, q2, q3 = branch_row(part, 1)
    u0, u1, u2, u3 = branch_row(part, 2)
    v0, v1, v2, v3 = branch_row(part, 3)
    for col in range(COLUMN):  # written out: only such a loop is computed eight columns at a time
        s0 = part[INTO + col]
        s1 = part[INTO + COLUMN + col] + a1 * s0
        s2 = part[INTO + 2 * COLUMN + col] + a2 * s0 + b2 * s1
        s3 = part[INTO + 3 * COLUMN + col] + a3 * s0 + b3 * s1 + c3 * s2
        x3 = r3 * s3
        x2 = r2 * s2 + c3 * x3
        x1 = r1 * s1 + b2 * x2 + b3 * x3
        x0 = r0 * s0 + a1 * x1 + a2 * x2 + a3 * x3
        i0 = part[OF_J + col] + p0 * x0 + p1 * x1 + p2 * x2 + p3 * x3
        i1 = part[OF_J + COLUMN + col] + q0 * x0 + q1 * x1 + q2 * x2 + q3 * x3
        i2 = part[OF_J + 2 * COLUMN + col] + u0 * x0 + u1 * x1 + u2 * x2 + u3 * x3
        i3 = part[OF_J + 3 * COLUMN + col] + v0 * x0 + v1 * x1 + v2 * x2 + v3 * x3
        part[MAPS + col] = x0
        part[MAPS + COLUMN + col] = x1
        part[MAPS + 2 * COLUMN + col] = x2
        part[MAPS + 3 * COLUMN + col] = x3
        part[MAPS + 4 * COLUMN + col] = i0
        part[MAPS + 5 * COLUMN + col] = i1
        part[MAPS + 6 * COLUMN + col] = i2
        part[MAPS + 7 * COLUMN + col] = i3


@inlined
def branch_row(part: Array, branch: int) -> tuple[Number, Number, Number, Number]:
    """Return a branch's current per unit of the kept nodes' voltages."""
    row = OF_X + COLUMN * branch
    return part[row], part[row + 1], part[row + 2], part[row + 3]
