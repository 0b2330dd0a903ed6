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

from chargewright.circuit.compiled import compiled, inlined
from chargewright.circuit.conduction import (
    AMPS,
    DOWN,
    JUNCTIONS,
    LEG_DN_S,
    LEG_UP_S,
    OFF,
    SIZE,
    SUPPLY,
    TAPPED,
    UP,
    VOLTS,
    code_of,
    leg_current,
    leg_state,
    prepare,
    state_of,
)
from chargewright.circuit.fours import Four, blend
from chargewright.circuit.network import COLUMN, MAPS
from chargewright.machine.parameters import Array

MOST_TRIES = 40  # combinations tried in one half before the last is taken as it is
MOST_PARTS = 4  # samples of one step: both halves divided

# Rows of a mode's samples: leg and plus voltages, companion sources, share of the period, and
# the number of the step (parts of one step share it).
X, J, WEIGHT, STEP = 0, 4, 8, 9
SAMPLE_ROWS = 10

# What a mode remembers from step to step: winding currents and voltages at the step's end, the
# combination, samples kept, and the direct-current side's source.
CURRENT, LAST, CODE, COUNT, STAND = 0, 4, 8, 9, 10
MEMORY = 11


@inlined
def ready(legs: Array, part: Array, t: Array, known: Array, code: int) -> None:
    """Make sure a combination's rows are in the table ``t`` (CODES, SIZE)."""
    if known[code] == 0.0:
        known[code] = 1.0
        prepare(legs, part, code)
        for i in range(SIZE):
            t[code, i] = part[MAPS + i]


@inlined
def fixed_four(t: Array, code: int, row: int, source_v: float) -> Four:
    """Return what four rows give without the companion sources."""
    s, o = row * COLUMN + SUPPLY, row * COLUMN + JUNCTIONS
    return (
        t[code, o] + source_v * t[code, s],
        t[code, o + 8] + source_v * t[code, s + 8],
        t[code, o + 16] + source_v * t[code, s + 16],
        t[code, o + 24] + source_v * t[code, s + 24],
    )


@inlined
def four_of(t: Array, code: int, row: int, tapped: bool, fixed: Four, j: Four) -> Four:
    """Return what four rows give, with ``fixed``, from the companion sources ``j``.

    The fourth source is not that of a winding's other part unless it is tapped.
    """
    m = row * COLUMN
    x0 = fixed[0] + t[code, m] * j[0] + (t[code, m + 1] * j[1] + t[code, m + 2] * j[2])
    x1 = fixed[1] + t[code, m + 8] * j[0] + (t[code, m + 9] * j[1] + t[code, m + 10] * j[2])
    x2 = fixed[2] + t[code, m + 16] * j[0] + (t[code, m + 17] * j[1] + t[code, m + 18] * j[2])
    x3 = fixed[3] + t[code, m + 24] * j[0] + (t[code, m + 25] * j[1] + t[code, m + 26] * j[2])
    if tapped:
        x0 += t[code, m + 3] * j[3]
        x1 += t[code, m + 11] * j[3]
        x2 += t[code, m + 19] * j[3]
        x3 += t[code, m + 27] * j[3]
    return x0, x1, x2, x3


@inlined
def volts_of(t: Array, code: int, tapped: bool, source_v: float, j: Four) -> Four:
    """Return leg and plus voltages under a combination from the companion sources."""
    return four_of(t, code, VOLTS, tapped, fixed_four(t, code, VOLTS, source_v), j)


@inlined
def amps_of(t: Array, code: int, tapped: bool, source_v: float, j: Four) -> Four:
    """Return the branch currents likewise."""
    return four_of(t, code, AMPS, tapped, fixed_four(t, code, AMPS, source_v), j)


@inlined
def wanted_code(legs: Array, x: Four) -> int:
    """Return the combination that the voltages ask for."""
    return code_of(
        leg_state(legs, 0, x[0], x[3]),
        leg_state(legs, 1, x[1], x[3]),
        leg_state(legs, 2, x[2], x[3]),
    )


@compiled
def next_code(code: int, wanted: int, attempt: int) -> int:
    """Return what to try next: what is wanted, later one leg at a time so that no cycle lasts."""
    if attempt < 6:
        return wanted
    for leg in range(3):
        change = state_of(wanted, leg) - state_of(code, leg)
        if change != 0:
            return code + (change << (2 * leg))
    return code


@inlined
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


@inlined
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


@inlined
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


@inlined
def keep(samples: Array, i: int, x: Four, j: Four) -> None:
    """Store one sample but for its weight."""
    samples[i, X], samples[i, X + 1], samples[i, X + 2], samples[i, X + 3] = x
    samples[i, J], samples[i, J + 1], samples[i, J + 2], samples[i, J + 3] = j


@inlined
def keep_part(samples: Array, i: int, step: int, x: Four, j: Four, weight: float) -> None:
    """Store one sample of part of a step."""
    keep(samples, i, x, j)
    samples[i, WEIGHT] = weight
    samples[i, STEP] = step


@inlined
def turned_code(legs: Array, code: int, wanted: int) -> int:
    """Return the combination in which every leg that changes is turned round; -1 if none is."""
    t0 = turned_state(legs, 0, state_of(code, 0), state_of(wanted, 0))
    t1 = turned_state(legs, 1, state_of(code, 1), state_of(wanted, 1))
    t2 = turned_state(legs, 2, state_of(code, 2), state_of(wanted, 2))
    return code_of(t0, t1, t2) if min(t0, t1, t2) >= 0 else -1


@inlined
def share_of_first(legs: Array, code: int, turned: int, last: Four, x: Four, z: Four) -> float:
    """Return the share of a half before legs turn round; -1 where that does not fit.

    ``last`` are the voltages it begins with, ``x`` and ``z`` those under both combinations.
    """
    o0, o1, o2 = state_of(code, 0), state_of(code, 1), state_of(code, 2)
    t0, t1, t2 = state_of(turned, 0), state_of(turned, 1), state_of(turned, 2)
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


@inlined
def half_step(
    legs: Array,
    part: Array,
    t: Array,
    known: Array,
    samples: Array,
    source_v: float,
    code: int,
    j: Four,
    last: Four,
    at: int,
    count: int,
    step: int,
) -> tuple[Four, Four, int, int]:
    """Take half a step under the companion sources ``j``, after which ``last`` are the voltages.

    Return the currents and voltages it ends with, the combination and the samples kept: the
    half's own at ``at``, and a second one where a leg turned round.
    """
    tapped = legs[TAPPED] > 0.0
    each = 0.5 / (samples.shape[0] // MOST_PARTS)
    x = volts_of(t, code, tapped, source_v, j)
    wanted = wanted_code(legs, x)
    if wanted != code:
        turned = turned_code(legs, code, wanted)
        if turned >= 0:
            ready(legs, part, t, known, turned)
            z = volts_of(t, turned, tapped, source_v, j)
            share = share_of_first(legs, code, turned, last, x, z)
            if share >= 0.0:
                keep_part(samples, at, step, x, j, share * each)
                keep_part(samples, count, step, z, j, (1.0 - share) * each)
                first, then = (
                    amps_of(t, code, tapped, source_v, j),
                    amps_of(t, turned, tapped, source_v, j),
                )
                return blend(share, first, then), z, turned, count + 1
        code = whole_half(legs, part, t, known, source_v, code, wanted, j)
        x = volts_of(t, code, tapped, source_v, j)
    keep_part(samples, at, step, x, j, each)
    return amps_of(t, code, tapped, source_v, j), x, code, count


@compiled
def whole_half(
    legs: Array,
    part: Array,
    t: Array,
    known: Array,
    source_v: float,
    code: int,
    wanted: int,
    j: Four,
) -> int:
    """Return the combination that agrees with itself on the whole of a half."""
    tapped = legs[TAPPED] > 0.0
    for attempt in range(MOST_TRIES):
        code = next_code(code, wanted, attempt)
        ready(legs, part, t, known, code)
        wanted = wanted_code(legs, volts_of(t, code, tapped, source_v, j))
        if wanted == code:
            break
    return code
