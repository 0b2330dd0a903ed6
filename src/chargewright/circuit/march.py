"""Steps one machine through an electrical period.

A step takes the combination of the step before and the midpoint rule: the network's equations
hold for the step's means, and the mean current is half of its start and its end. Nearly always
the voltages then ask for the same combination again. Where a leg that was off begins to
conduct, the step is taken once more with it. Where the current of a leg would end within the
step, or turn round, the step is taken in two halves (``switching.py``).
"""

from __future__ import annotations

from chargewright.circuit.compiled import compiled
from chargewright.circuit.conduction import (
    DOWN,
    LEG_DN_V,
    LEG_UP_TO,
    LEG_UP_V,
    OFF,
    TAPPED,
    UP,
)
from chargewright.circuit.network import PAST
from chargewright.circuit.switching import (
    CODE,
    COUNT,
    LAST,
    MOST_TRIES,
    STAND,
    STEP,
    Four,
    amps_of,
    blend,
    keep,
    next_code,
    ready,
    row_of,
    share_of_first,
    turned_code,
    volts_of,
    wanted_code,
)
from chargewright.machine.parameters import Array


@compiled
def conducts(code: int, leg: int) -> bool:
    """Tell whether a leg conducts."""
    return bool((code // (3**leg)) % 3 != OFF)


@compiled
def begun(code: int, wanted: int) -> bool:
    """Tell whether all that changes is that legs begin to conduct."""
    return (
        (code % 3 in (OFF, wanted % 3))
        and ((code // 3) % 3 in (OFF, (wanted // 3) % 3))
        and (code // 9 in (OFF, wanted // 9))
    )


@compiled
def where_it_begins(legs: Array, leg: int, state: int, plus: float) -> float:
    """Return the voltage at which a leg begins to conduct into its state; 0 where it stays off."""
    if state == DOWN:
        return -legs[LEG_DN_V + leg]  # type: ignore[no-any-return]
    return legs[LEG_UP_V + leg] + legs[LEG_UP_TO] * plus if state == UP else 0.0


@compiled
def asked(legs: Array, code: int, x: Four, n: Four) -> int:
    """Return the combination asked for: by the mean ``x`` of a leg that is off, else its end."""
    end, mean = wanted_code(legs, n), wanted_code(legs, x)
    s0 = (end if conducts(code, 0) else mean) % 3
    s1 = (end if conducts(code, 1) else mean) // 3 % 3
    s2 = (end if conducts(code, 2) else mean) // 9
    return s0 + 3 * s1 + 9 * s2


@compiled
def march(  # noqa: C901  written in one piece: a call with many arrays costs a step's time
    legs: Array,
    part: Array,
    emf: Array,
    t: Array,
    known: Array,
    memory: Array,
    samples: Array,
) -> None:
    """March one period on from ``memory`` (MEMORY,), filling ``samples`` (SAMPLE_ROWS, ...).

    ``legs`` and ``part`` are the mode's junctions and the network; ``emf`` (4, steps)
    what the EMF adds to each companion source; ``t`` and ``known`` the mode's table of
    combinations. The first step is taken in halves: they forget what does not fit the
    combination in the currents it begins with.
    """
    steps = emf.shape[1]
    each = 1.0 / steps
    source_v = memory[STAND]
    c0, c1, c2, c3 = memory[0], memory[1], memory[2], memory[3]
    u0, u1, u2, u3 = memory[LAST], memory[LAST + 1], memory[LAST + 2], memory[LAST + 3]
    past0, past1, past2, past3 = part[PAST], part[PAST + 1], part[PAST + 2], part[PAST + 3]
    dn0, dn1, dn2 = -legs[LEG_DN_V], -legs[LEG_DN_V + 1], -legs[LEG_DN_V + 2]
    up0, up1, up2 = legs[LEG_UP_V], legs[LEG_UP_V + 1], legs[LEG_UP_V + 2]
    up_to = legs[LEG_UP_TO]
    tapped = legs[TAPPED] > 0.0
    code = int(memory[CODE])
    count = steps
    ready(legs, part, t, known, code, source_v)
    row = row_of(t, code)
    on0, on1, on2 = conducts(code, 0), conducts(code, 1), conducts(code, 2)
    j0, j1, j2, j3 = 0.0, 0.0, 0.0, 0.0
    for step in range(steps):
        e0, e1, e2, e3 = emf[0, step], emf[1, step], emf[2, step], emf[3, step]
        if step > 0:
            j0, j1, j2, j3 = e0 + past0 * c0, e1 + past1 * c1, e2 + past2 * c2, e3 + past3 * c3
            x0, x1, x2, x3 = volts_of(row, tapped, j0, j1, j2, j3)
            n0, n1, n2, n3 = 2.0 * x0 - u0, 2.0 * x1 - u1, 2.0 * x2 - u2, 2.0 * x3 - u3
            # a leg that is off is asked for its mean, one that conducts for the step's end
            v0, p0 = (n0, up_to * n3) if on0 else (x0, up_to * x3)
            v1, p1 = (n1, up_to * n3) if on1 else (x1, up_to * x3)
            v2, p2 = (n2, up_to * n3) if on2 else (x2, up_to * x3)
            s0 = DOWN if v0 < dn0 else (UP if v0 > up0 + p0 else OFF)
            s1 = DOWN if v1 < dn1 else (UP if v1 > up1 + p1 else OFF)
            s2 = DOWN if v2 < dn2 else (UP if v2 > up2 + p2 else OFF)
            wanted = s0 + 3 * s1 + 9 * s2
            if wanted == code:
                keep(samples, step, (x0, x1, x2, x3), (j0, j1, j2, j3), each)
                m0, m1, m2, m3 = amps_of(row, tapped, j0, j1, j2, j3)
                c0, c1, c2, c3 = 2.0 * m0 - c0, 2.0 * m1 - c1, 2.0 * m2 - c2, 2.0 * m3 - c3
                u0, u1, u2, u3 = n0, n1, n2, n3
                continue
            if begun(code, wanted):
                ready(legs, part, t, known, wanted, source_v)
                other = row_of(t, wanted)
                j = (j0, j1, j2, j3)
                x = volts_of(other, tapped, j0, j1, j2, j3)
                # from no current: a leg's voltage begins where it conducts
                u = (
                    u0 if on0 else where_it_begins(legs, 0, s0, u3),
                    u1 if on1 else where_it_begins(legs, 1, s1, u3),
                    u2 if on2 else where_it_begins(legs, 2, s2, u3),
                    u3,
                )
                n = (2.0 * x[0] - u[0], 2.0 * x[1] - u[1], 2.0 * x[2] - u[2], 2.0 * x[3] - u[3])
                if asked(legs, wanted, x, n) == wanted:
                    keep(samples, step, x, j, each)
                    m0, m1, m2, m3 = amps_of(other, tapped, j0, j1, j2, j3)
                    c0, c1, c2, c3 = 2.0 * m0 - c0, 2.0 * m1 - c1, 2.0 * m2 - c2, 2.0 * m3 - c3
                    u0, u1, u2, u3 = n
                    code = wanted
                    row = other
                    on0, on1, on2 = conducts(code, 0), conducts(code, 1), conducts(code, 2)
                    continue
        # a quarter of the EMF's rise over the step lies between its middle and each half's
        b, a = (step - 1 if step > 0 else steps - 1), (step + 1 if step < steps - 1 else 0)
        r0, r1 = 0.125 * (emf[0, a] - emf[0, b]), 0.125 * (emf[1, a] - emf[1, b])
        r2, r3 = 0.125 * (emf[2, a] - emf[2, b]), 0.125 * (emf[3, a] - emf[3, b])
        d = (0.0, 0.0, 0.0, 0.0)
        if step > 0:  # what the whole step would have ended at beyond two halves of its combination
            m = amps_of(row, tapped, j0, j1, j2, j3)
            g = amps_of(row, tapped, j0 - r0, j1 - r1, j2 - r2, j3 - r3)
            g = amps_of(
                row,
                tapped,
                e0 + r0 + past0 * g[0],
                e1 + r1 + past1 * g[1],
                e2 + r2 + past2 * g[2],
                e3 + r3 + past3 * g[3],
            )
            d = (
                2.0 * m[0] - c0 - g[0],
                2.0 * m[1] - c1 - g[1],
                2.0 * m[2] - c2 - g[2],
                2.0 * m[3] - c3 - g[3],
            )
        e0, e1, e2, e3 = e0 - r0, e1 - r1, e2 - r2, e3 - r3
        for half in range(2):
            at = step
            if half == 1:
                e0, e1, e2, e3 = e0 + 2.0 * r0, e1 + 2.0 * r1, e2 + 2.0 * r2, e3 + 2.0 * r3
                c0, c1, c2, c3 = c0 + d[0], c1 + d[1], c2 + d[2], c3 + d[3]
                at = count
                count += 1
                samples[STEP, at] = step
            j = (e0 + past0 * c0, e1 + past1 * c1, e2 + past2 * c2, e3 + past3 * c3)
            x = volts_of(row, tapped, j[0], j[1], j[2], j[3])
            wanted = wanted_code(legs, x)
            if wanted != code:
                turned = turned_code(legs, code, wanted)
                if turned >= 0:
                    ready(legs, part, t, known, turned, source_v)
                    other = row_of(t, turned)
                    z = volts_of(other, tapped, j[0], j[1], j[2], j[3])
                    share = share_of_first(legs, code, turned, (u0, u1, u2, u3), x, z)
                    if share >= 0.0:
                        keep(samples, at, x, j, 0.5 * share * each)
                        keep(samples, count, z, j, 0.5 * (1.0 - share) * each)
                        samples[STEP, count] = step
                        count += 1
                        first = amps_of(row, tapped, j[0], j[1], j[2], j[3])
                        then = amps_of(other, tapped, j[0], j[1], j[2], j[3])
                        c0, c1, c2, c3 = blend(share, first, then)
                        u0, u1, u2, u3 = z
                        code = turned
                        row = other
                        continue
                for attempt in range(MOST_TRIES):
                    code = next_code(code, wanted, attempt)
                    ready(legs, part, t, known, code, source_v)
                    row = row_of(t, code)
                    x = volts_of(row, tapped, j[0], j[1], j[2], j[3])
                    wanted = wanted_code(legs, x)
                    if wanted == code:
                        break
            keep(samples, at, x, j, 0.5 * each)
            c0, c1, c2, c3 = amps_of(row, tapped, j[0], j[1], j[2], j[3])
            u0, u1, u2, u3 = x
        on0, on1, on2 = conducts(code, 0), conducts(code, 1), conducts(code, 2)
    memory[0], memory[1], memory[2], memory[3] = c0, c1, c2, c3
    memory[LAST], memory[LAST + 1], memory[LAST + 2], memory[LAST + 3] = u0, u1, u2, u3
    memory[CODE] = code
    memory[COUNT] = count
