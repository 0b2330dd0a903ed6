"""One step in which a leg's current ends or turns round: two half-steps by implicit Euler.

The midpoint rule of ``march.py`` would throw what a step cuts off to the other side of zero.
Half a step of implicit Euler has the same matrices as a whole step of the midpoint rule, so
that two of them cost no further tables, and they damp what the change has stirred up (critical
damping adjustment: J. Lin, J. Marti, IEEE Trans. Power Systems 5(2), 1990, from memory).

In each half the junctions' conditions are put on the current at its end. A leg that reverses
while it carries current gets both combinations, each for its share of the half: the current at
the end and the mean voltages are those of a switch at the zero itself. Any other change is put
on the whole half. All parts are kept as samples with weights, so that means, rms and rectified
values see them.
"""

from __future__ import annotations

from chargewright.circuit.compiled import compiled
from chargewright.circuit.conduction import (
    DOWN,
    FIXED,
    LEG_DN_S,
    LEG_UP_S,
    OFF,
    SIZE,
    UP,
    leg_current,
    leg_state,
    prepare,
    supply,
)
from chargewright.circuit.network import MAPS
from chargewright.machine.parameters import Array

MOST_TRIES = 40  # combinations tried in one half before the last is taken as it is
MOST_PARTS = 4  # samples of one step: both halves divided

# Rows of a mode's samples: leg and plus voltages, companion sources, share of the period, and
# the number of the step (parts of one step share it).
X, J, WEIGHT, STEP = 0, 4, 8, 9
SAMPLE_ROWS = 10

# What a mode remembers from step to step: winding currents and voltages at the step's end, the
# combination, samples kept, and the source its table stands at.
CURRENT, LAST, CODE, COUNT, STAND = 0, 4, 8, 9, 10
MEMORY = 11

Four = tuple[float, float, float, float]


@compiled
def ready(legs: Array, part: Array, t: Array, known: Array, code: int, source_v: float) -> None:
    """Make sure a combination is worked out and stands at the present source."""
    if known[code] == 0.0:
        prepare(legs, part, code)
        row = row_of(t, code)
        for i in range(SIZE):
            row[i] = part[MAPS + i]
    if known[code] < 2.0:
        supply(row_of(t, code), source_v)
        known[code] = 2.0


@compiled
def row_of(t: Array, code: int) -> Array:
    """Return a combination's row of the table; written-out places in it cost no checks."""
    return t[code * SIZE : (code + 1) * SIZE]


@compiled
def volts_of(m: Array, tapped: bool, j0: float, j1: float, j2: float, j3: float) -> Four:
    """Return leg and plus voltages by a combination's rows ``m`` from the companion sources."""
    x0 = m[FIXED] + m[0] * j0 + (m[1] * j1 + m[2] * j2)
    x1 = m[FIXED + 8] + m[8] * j0 + (m[9] * j1 + m[10] * j2)
    x2 = m[FIXED + 16] + m[16] * j0 + (m[17] * j1 + m[18] * j2)
    x3 = m[FIXED + 24] + m[24] * j0 + (m[25] * j1 + m[26] * j2)
    if tapped:
        return x0 + m[3] * j3, x1 + m[11] * j3, x2 + m[19] * j3, x3 + m[27] * j3
    return x0, x1, x2, x3


@compiled
def amps_of(m: Array, tapped: bool, j0: float, j1: float, j2: float, j3: float) -> Four:
    """Return the branch currents likewise."""
    i0 = m[FIXED + 32] + m[32] * j0 + (m[33] * j1 + m[34] * j2)
    i1 = m[FIXED + 40] + m[40] * j0 + (m[41] * j1 + m[42] * j2)
    i2 = m[FIXED + 48] + m[48] * j0 + (m[49] * j1 + m[50] * j2)
    if tapped:
        i3 = m[FIXED + 56] + m[56] * j0 + (m[57] * j1 + m[58] * j2)
        return i0 + m[35] * j3, i1 + m[43] * j3, i2 + m[51] * j3, i3 + m[59] * j3
    return i0, i1, i2, i0


@compiled
def wanted_code(legs: Array, x: Four) -> int:
    """Return the combination that the voltages ask for."""
    a = leg_state(legs, 0, x[0], x[3])
    return a + 3 * leg_state(legs, 1, x[1], x[3]) + 9 * leg_state(legs, 2, x[2], x[3])


@compiled
def next_code(code: int, wanted: int, attempt: int) -> int:
    """Return what to try next: what is wanted, later one leg at a time so that no cycle lasts."""
    if attempt < 6:
        return wanted
    for weight in (1, 3, 9):
        change = (wanted // weight) % 3 - (code // weight) % 3
        if change != 0:
            return code + weight * change
    return code


@compiled
def turned_state(legs: Array, leg: int, state: int, wanted: int) -> int:
    """Return the state of a leg turned round if it ends conducting; -1 if it cannot be.

    A leg that was off must stay off.
    """
    if state == wanted:
        return state
    if state == OFF:
        return -1
    siemens = legs[LEG_DN_S + leg] if state == UP else legs[LEG_UP_S + leg]
    return UP + DOWN - state if siemens > 0.0 else -1


@compiled
def share_before(
    legs: Array,
    leg: int,
    state: int,
    then: int,
    last: float,
    last_plus: float,
    x: float,
    plus: float,
) -> float:
    """Return the share of a step before a leg's current passes zero; 1 where it stays.

    ``last`` and ``x``, with the plus, are voltages of the step before and of this one.
    """
    if state == then:
        return 1.0
    before = max(leg_current(legs, leg, state, last, last_plus), 0.0)
    beyond = -leg_current(legs, leg, state, x, plus)
    return before / max(before + beyond, 1e-30)


@compiled
def agrees(
    legs: Array,
    leg: int,
    state: int,
    then: int,
    x: float,
    plus: float,
    y: float,
    y_plus: float,
    share: float,
) -> bool:
    """Tell whether a leg fits a step divided into ``share`` in ``state`` and the rest in ``then``.

    ``x`` and ``y`` are the voltages of the two parts. A leg that turns must have brought its
    current beyond zero at the end; one that stays must ask for its state in both.
    """
    if state == then:
        return leg_state(legs, leg, y, y_plus) == then
    beyond = -leg_current(legs, leg, state, x, plus)
    return share * beyond + (1.0 - share) * leg_current(legs, leg, then, y, y_plus) > 0.0


@compiled
def keep(samples: Array, i: int, x: Four, j: Four, weight: float) -> None:
    """Store one sample."""
    samples[X, i] = x[0]
    samples[X + 1, i] = x[1]
    samples[X + 2, i] = x[2]
    samples[X + 3, i] = x[3]
    samples[J, i] = j[0]
    samples[J + 1, i] = j[1]
    samples[J + 2, i] = j[2]
    samples[J + 3, i] = j[3]
    samples[WEIGHT, i] = weight


@compiled
def blend(share: float, a: Four, b: Four) -> Four:
    """Return ``share`` of a and the rest of b."""
    rest = 1.0 - share
    return (
        share * a[0] + rest * b[0],
        share * a[1] + rest * b[1],
        share * a[2] + rest * b[2],
        share * a[3] + rest * b[3],
    )


@compiled
def turned_code(legs: Array, code: int, wanted: int) -> int:
    """Return the combination in which every leg that changes is turned round; -1 if none is."""
    t0 = turned_state(legs, 0, code % 3, wanted % 3)
    t1 = turned_state(legs, 1, (code // 3) % 3, (wanted // 3) % 3)
    t2 = turned_state(legs, 2, code // 9, wanted // 9)
    return t0 + 3 * t1 + 9 * t2 if min(t0, t1, t2) >= 0 else -1


@compiled
def share_of_first(legs: Array, code: int, turned: int, last: Four, x: Four, z: Four) -> float:
    """Return the share of a half before legs turn round; -1 where that does not fit.

    ``last`` are the voltages it begins with, ``x`` and ``z`` those under both combinations.
    """
    o0, o1, o2 = code % 3, (code // 3) % 3, code // 9
    t0, t1, t2 = turned % 3, (turned // 3) % 3, turned // 9
    share = min(
        share_before(legs, 0, o0, t0, last[0], last[3], x[0], x[3]),
        share_before(legs, 1, o1, t1, last[1], last[3], x[1], x[3]),
        share_before(legs, 2, o2, t2, last[2], last[3], x[2], x[3]),
    )
    if (
        agrees(legs, 0, o0, t0, x[0], x[3], z[0], z[3], share)
        and agrees(legs, 1, o1, t1, x[1], x[3], z[1], z[3], share)
        and agrees(legs, 2, o2, t2, x[2], x[3], z[2], z[3], share)
    ):
        return share
    return -1.0
