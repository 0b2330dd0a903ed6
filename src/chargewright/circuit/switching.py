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
from chargewright.circuit.network import PAST
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
def half_source(emf: Array, part: Array, memory: Array, branch: int, step: int, half: int) -> float:
    """Return a branch's companion source over half a step, its EMF taken as a straight line."""
    steps = emf.shape[1]
    before = emf[branch, step - 1 if step > 0 else steps - 1]
    after = emf[branch, step + 1 if step < steps - 1 else 0]
    quarter = 0.125 * (after - before)
    middle = emf[branch, step] + part[PAST, branch] * memory[branch]
    return middle + quarter if half == 1 else middle - quarter  # type: ignore[no-any-return]


@compiled
def store(memory: Array, current: Four, last: Four, code: int) -> None:
    """Remember currents, voltages and combination."""
    memory[CURRENT], memory[CURRENT + 1] = current[0], current[1]
    memory[CURRENT + 2], memory[CURRENT + 3] = current[2], current[3]
    memory[LAST], memory[LAST + 1], memory[LAST + 2], memory[LAST + 3] = last
    memory[CODE] = code


@compiled
def half_step(
    legs: Array,
    y: Array,
    part: Array,
    emf: Array,
    t: Array,
    known: Array,
    memory: Array,
    samples: Array,
    step: int,
    half: int,
) -> None:
    """Take half a step on from ``memory``, arrays as in ``march.march``; keep its samples."""
    weight = 0.5 / emf.shape[1]
    source_v = memory[STAND]
    code = int(memory[CODE])
    at = step if half == 0 else int(memory[COUNT])
    count = int(memory[COUNT]) + half
    samples[STEP, at] = step
    j = (
        half_source(emf, part, memory, 0, step, half),
        half_source(emf, part, memory, 1, step, half),
        half_source(emf, part, memory, 2, step, half),
        half_source(emf, part, memory, 3, step, half),
    )
    x = four_of(t, code * SIZE, j[0], j[1], j[2], j[3])
    wanted = wanted_code(legs, x)
    if wanted != code:
        o0, o1, o2 = code % 3, (code // 3) % 3, code // 9
        t0 = turned_state(legs, 0, o0, wanted % 3)
        t1 = turned_state(legs, 1, o1, (wanted // 3) % 3)
        t2 = turned_state(legs, 2, o2, wanted // 9)
        if min(t0, t1, t2) >= 0:
            turned = t0 + 3 * t1 + 9 * t2
            ready(legs, y, part, t, known, turned, source_v)
            z = four_of(t, turned * SIZE, j[0], j[1], j[2], j[3])
            u0, u1, u2, u3 = memory[LAST], memory[LAST + 1], memory[LAST + 2], memory[LAST + 3]
            share = min(
                share_before(legs, 0, o0, t0, u0, u3, x[0], x[3]),
                share_before(legs, 1, o1, t1, u1, u3, x[1], x[3]),
                share_before(legs, 2, o2, t2, u2, u3, x[2], x[3]),
            )
            if (
                agrees(legs, 0, o0, t0, x[0], x[3], z[0], z[3], share)
                and agrees(legs, 1, o1, t1, x[1], x[3], z[1], z[3], share)
                and agrees(legs, 2, o2, t2, x[2], x[3], z[2], z[3], share)
            ):
                keep(samples, at, x, j, weight * share)
                keep(samples, count, z, j, weight * (1.0 - share))
                samples[STEP, count] = step
                first = four_of(t, code * SIZE + 4, j[0], j[1], j[2], j[3])
                then = four_of(t, turned * SIZE + 4, j[0], j[1], j[2], j[3])
                store(memory, blend(share, first, then), z, turned)
                memory[COUNT] = count + 1
                return
        for attempt in range(MOST_TRIES):
            code = next_code(code, wanted, attempt)
            ready(legs, y, part, t, known, code, source_v)
            x = four_of(t, code * SIZE, j[0], j[1], j[2], j[3])
            wanted = wanted_code(legs, x)
            if wanted == code:
                break
    keep(samples, at, x, j, weight)
    store(memory, four_of(t, code * SIZE + 4, j[0], j[1], j[2], j[3]), x, code)
    memory[COUNT] = count
