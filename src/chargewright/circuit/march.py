"""Steps one machine through an electrical period.

A step takes the combination of the step before and the midpoint rule: the network's equations
hold for the step's means, and the mean current is half of its start and its end. Nearly always
the voltages then ask for the same combination again. Where a leg that was off begins to
conduct, the step is taken once more with it. Where the current of a leg would end within the
step, or turn round, ``switching.py`` takes the step in two halves.
"""

from __future__ import annotations

from chargewright.circuit.compiled import compiled
from chargewright.circuit.conduction import (
    DOWN,
    LEG_DN_V,
    LEG_UP_TO,
    LEG_UP_V,
    OFF,
    SIZE,
    UP,
)
from chargewright.circuit.network import PAST
from chargewright.circuit.switching import (
    CODE,
    COUNT,
    LAST,
    STAND,
    four_of,
    half_step,
    keep,
    ready,
    store,
)
from chargewright.machine.parameters import Array


@compiled
def conducts(code: int, leg: int) -> float:
    """Return 1 where a leg conducts, 0 where it is off."""
    return 0.0 if (code // (3**leg)) % 3 == OFF else 1.0


@compiled
def begun(code: int, wanted: int) -> bool:
    """Tell whether all that changes is that legs begin to conduct."""
    return (
        (code % 3 in (OFF, wanted % 3))
        and ((code // 3) % 3 in (OFF, (wanted // 3) % 3))
        and (code // 9 in (OFF, wanted // 9))
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
    combinations. The first step is taken in halves: they forget what does not fit the
    combination in the currents it begins with.
    """
    steps = emf.shape[1]
    each = 1.0 / steps
    past0, past1, past2, past3 = part[PAST, 0], part[PAST, 1], part[PAST, 2], part[PAST, 3]
    dn0, dn1, dn2 = -legs[LEG_DN_V], -legs[LEG_DN_V + 1], -legs[LEG_DN_V + 2]
    up0, up1, up2 = legs[LEG_UP_V], legs[LEG_UP_V + 1], legs[LEG_UP_V + 2]
    up_to = legs[LEG_UP_TO]
    memory[COUNT] = steps
    ready(legs, y, part, t, known, int(memory[CODE]), memory[STAND])
    step = 0
    while step < steps:
        half_step(legs, y, part, emf, t, known, memory, samples, step, 0)
        half_step(legs, y, part, emf, t, known, memory, samples, step, 1)
        step += 1
        c0, c1, c2, c3 = memory[0], memory[1], memory[2], memory[3]
        u0, u1, u2, u3 = memory[LAST], memory[LAST + 1], memory[LAST + 2], memory[LAST + 3]
        code = int(memory[CODE])
        before = code
        on0, on1, on2 = conducts(code, 0), conducts(code, 1), conducts(code, 2)
        again = False
        while step < steps:
            j0 = emf[0, step] + past0 * c0
            j1 = emf[1, step] + past1 * c1
            j2 = emf[2, step] + past2 * c2
            j3 = emf[3, step] + past3 * c3
            x0, x1, x2, x3 = four_of(t, code * SIZE, j0, j1, j2, j3)
            # a leg that is off is asked for its mean, one that conducts for the step's end
            v0, p0 = x0 + on0 * (x0 - u0), up_to * (x3 + on0 * (x3 - u3))
            v1, p1 = x1 + on1 * (x1 - u1), up_to * (x3 + on1 * (x3 - u3))
            v2, p2 = x2 + on2 * (x2 - u2), up_to * (x3 + on2 * (x3 - u3))
            s0 = DOWN if v0 < dn0 else (UP if v0 > up0 + p0 else OFF)
            s1 = DOWN if v1 < dn1 else (UP if v1 > up1 + p1 else OFF)
            s2 = DOWN if v2 < dn2 else (UP if v2 > up2 + p2 else OFF)
            wanted = s0 + 3 * s1 + 9 * s2
            if wanted == code:
                keep(samples, step, (x0, x1, x2, x3), (j0, j1, j2, j3), each)
                m0, m1, m2, m3 = four_of(t, code * SIZE + 4, j0, j1, j2, j3)
                c0, c1, c2, c3 = 2.0 * m0 - c0, 2.0 * m1 - c1, 2.0 * m2 - c2, 2.0 * m3 - c3
                u0, u1, u2, u3 = 2.0 * x0 - u0, 2.0 * x1 - u1, 2.0 * x2 - u2, 2.0 * x3 - u3
                before = code
                again = False
                step += 1
                continue
            if again or not begun(code, wanted):
                break
            again = True  # from no current: the leg's voltage begins where it conducts
            if on0 == 0.0 and s0 != OFF:
                u0, on0 = (dn0 if s0 == DOWN else up0 + up_to * u3), 1.0
            if on1 == 0.0 and s1 != OFF:
                u1, on1 = (dn1 if s1 == DOWN else up1 + up_to * u3), 1.0
            if on2 == 0.0 and s2 != OFF:
                u2, on2 = (dn2 if s2 == DOWN else up2 + up_to * u3), 1.0
            code = wanted
            ready(legs, y, part, t, known, code, memory[STAND])
        store(memory, (c0, c1, c2, c3), (u0, u1, u2, u3), before)
