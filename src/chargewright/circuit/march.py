"""Steps one machine through an electrical period.

A step takes the combination of the step before, works out its voltages and, nearly always,
finds that they ask for the same combination again. Where they do not, two things can happen.
A leg that reverses while it carries current (its current passes zero and goes on the other
way) gets both combinations, each for its share of the step: the current at the end and the mean
voltages are those of a switch at the zero itself. Any other change is put on the whole step;
Moreau's scheme is second-order there. Both parts of a divided step are kept as samples with
weights, so that means, rms and rectified values see both.
"""

from __future__ import annotations

from chargewright.circuit.compiled import compiled
from chargewright.circuit.conduction import (
    DOWN,
    FIXED,
    LEG_DN_S,
    LEG_DN_V,
    LEG_UP_S,
    LEG_UP_TO,
    LEG_UP_V,
    OFF,
    SIZE,
    UP,
    leg_current,
    leg_state,
    prepare,
    supply,
)
from chargewright.circuit.network import PAST
from chargewright.machine.parameters import Array

MOST_TRIES = 40  # combinations tried in one step before the last is taken as it is
MOST_DIVIDED = 24  # steps of a period that can be kept in two parts

# Rows of a mode's samples: leg and plus voltages, companion sources, share of the period, and
# the number of the step (two parts of a divided step share it).
X, J, WEIGHT, STEP = 0, 4, 8, 9
SAMPLE_ROWS = 10

# What a mode remembers from step to step: winding currents, the last step's voltages, the
# combination, samples kept, and the source its table stands at.
CURRENT, LAST, CODE, COUNT, STAND = 0, 4, 8, 9, 10
MEMORY = 11

Four = tuple[float, float, float, float]


@compiled
def ready(
    legs: Array, y: Array, part: Array, t: Array, known: Array, code: int, source_v: float
) -> None:
    """Make sure a combination is worked out and stands at the present source."""
    if known[code] == 0.0:
        prepare(legs, y, part, code, t)
    if known[code] < 2.0:
        supply(t, code, source_v)
        known[code] = 2.0


@compiled
def four_of(t: Array, m: int, j0: float, j1: float, j2: float, j3: float) -> Four:
    """Return four rows of a combination's map at table index ``m``: voltages, or currents."""
    a0 = t[m + FIXED] + t[m] * j0 + (t[m + 8] * j1 + t[m + 16] * j2) + t[m + 24] * j3
    a1 = t[m + FIXED + 1] + t[m + 1] * j0 + (t[m + 9] * j1 + t[m + 17] * j2) + t[m + 25] * j3
    a2 = t[m + FIXED + 2] + t[m + 2] * j0 + (t[m + 10] * j1 + t[m + 18] * j2) + t[m + 26] * j3
    a3 = t[m + FIXED + 3] + t[m + 3] * j0 + (t[m + 11] * j1 + t[m + 19] * j2) + t[m + 27] * j3
    return a0, a1, a2, a3


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
def march(
    legs: Array,
    y: Array,
    part: Array,
    emf: Array,
    t: Array,
    known: Array,
    memory: Array,
    samples: Array,
) -> None:
    """March one period on from ``memory`` (MEMORY,), filling ``samples`` (SAMPLE_ROWS, ...).

    ``legs``, ``y`` and ``part`` are the mode's junctions and the network; ``emf`` (4, steps)
    what the EMF adds to each companion source; ``t`` and ``known`` the mode's table of
    combinations.
    """
    steps = emf.shape[1]
    source_v = memory[STAND]
    c0, c1, c2, c3 = memory[0], memory[1], memory[2], memory[3]
    l0, l1, l2, l3 = memory[LAST], memory[LAST + 1], memory[LAST + 2], memory[LAST + 3]
    past0, past1, past2, past3 = part[PAST, 0], part[PAST, 1], part[PAST, 2], part[PAST, 3]
    dn0, dn1, dn2 = -legs[LEG_DN_V], -legs[LEG_DN_V + 1], -legs[LEG_DN_V + 2]
    up0, up1, up2 = legs[LEG_UP_V], legs[LEG_UP_V + 1], legs[LEG_UP_V + 2]
    up_to = legs[LEG_UP_TO]
    code = int(memory[CODE])
    ready(legs, y, part, t, known, code, source_v)
    each = 1.0 / steps
    count = steps
    for step in range(steps):
        j0 = emf[0, step] + past0 * c0
        j1 = emf[1, step] + past1 * c1
        j2 = emf[2, step] + past2 * c2
        j3 = emf[3, step] + past3 * c3
        x0, x1, x2, x3 = four_of(t, code * SIZE, j0, j1, j2, j3)
        plus = up_to * x3
        s0 = DOWN if x0 < dn0 else (UP if x0 > up0 + plus else OFF)
        s1 = DOWN if x1 < dn1 else (UP if x1 > up1 + plus else OFF)
        s2 = DOWN if x2 < dn2 else (UP if x2 > up2 + plus else OFF)
        wanted = s0 + 3 * s1 + 9 * s2
        if wanted == code:
            keep(samples, step, (x0, x1, x2, x3), (j0, j1, j2, j3), each)
            c0, c1, c2, c3 = four_of(t, code * SIZE + 4, j0, j1, j2, j3)
            l0, l1, l2, l3 = x0, x1, x2, x3
            continue
        x = (x0, x1, x2, x3)
        j = (j0, j1, j2, j3)
        t0 = turned_state(legs, 0, code % 3, s0)
        t1 = turned_state(legs, 1, (code // 3) % 3, s1)
        t2 = turned_state(legs, 2, code // 9, s2)
        if min(t0, t1, t2) >= 0 and count < steps + MOST_DIVIDED:
            turned = t0 + 3 * t1 + 9 * t2
            ready(legs, y, part, t, known, turned, source_v)
            z0, z1, z2, z3 = four_of(t, turned * SIZE, j0, j1, j2, j3)
            o0, o1, o2 = code % 3, (code // 3) % 3, code // 9
            share = min(
                share_before(legs, 0, o0, t0, l0, l3, x0, x3),
                share_before(legs, 1, o1, t1, l1, l3, x1, x3),
                share_before(legs, 2, o2, t2, l2, l3, x2, x3),
            )
            if (
                agrees(legs, 0, o0, t0, x0, x3, z0, z3, share)
                and agrees(legs, 1, o1, t1, x1, x3, z1, z3, share)
                and agrees(legs, 2, o2, t2, x2, x3, z2, z3, share)
            ):
                keep(samples, step, x, j, share * each)
                keep(samples, count, (z0, z1, z2, z3), j, (1.0 - share) * each)
                samples[STEP, count] = step
                count += 1
                before = four_of(t, code * SIZE + 4, j0, j1, j2, j3)
                after = four_of(t, turned * SIZE + 4, j0, j1, j2, j3)
                c0, c1, c2, c3 = blend(share, before, after)
                l0, l1, l2, l3 = blend(share, x, (z0, z1, z2, z3))
                code = turned
                continue
        for attempt in range(MOST_TRIES):
            code = next_code(code, wanted, attempt)
            ready(legs, y, part, t, known, code, source_v)
            x = four_of(t, code * SIZE, j0, j1, j2, j3)
            wanted = wanted_code(legs, x)
            if wanted == code:
                break
        keep(samples, step, x, j, each)
        c0, c1, c2, c3 = four_of(t, code * SIZE + 4, j0, j1, j2, j3)
        l0, l1, l2, l3 = x
    memory[0], memory[1], memory[2], memory[3] = c0, c1, c2, c3
    memory[LAST], memory[LAST + 1], memory[LAST + 2], memory[LAST + 3] = l0, l1, l2, l3
    memory[CODE] = code
    memory[COUNT] = count
