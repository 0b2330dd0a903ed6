"""Steps one machine through an electrical period.

A step takes the combination of the step before and the midpoint rule: the network's equations
hold for the step's means, and the mean current is half of its start and its end. Nearly always
the voltages then ask for the same combination again. Where a leg that was off begins to
conduct, the step is taken once more with it. Where the current of a leg would end within the
step, or turn round, the step is taken in two halves (``switching.py``).
"""

from __future__ import annotations

from chargewright.circuit.compiled import compiled, inlined
from chargewright.circuit.conduction import (
    AMPS,
    DOWN,
    LEG_DN_V,
    LEG_UP_TO,
    LEG_UP_V,
    OFF,
    TAPPED,
    UP,
    VOLTS,
    conducting,
    state_of,
)
from chargewright.circuit.fours import NOTHING, Four, end_of, minus, plus, plus_times
from chargewright.circuit.network import PAST
from chargewright.circuit.switching import (
    CODE,
    COUNT,
    LAST,
    STAND,
    WEIGHT,
    amps_of,
    fixed_four,
    four_of,
    half_step,
    keep,
    ready,
    volts_of,
    wanted_code,
)
from chargewright.machine.parameters import Array


@inlined
def begun(code: int, wanted: int) -> bool:
    """Tell whether all that changes is that legs begin to conduct."""
    return (code ^ wanted) & conducting(code) == 0


@inlined
def where_it_begins(legs: Array, code: int, leg: int, wanted: int, u: float, plus: float) -> float:
    """Return a leg's voltage at the step's start: ``u`` where it conducted, else where it begins
    to conduct into the state wanted; 0 where it stays off."""
    if state_of(code, leg) != OFF:
        return u
    state = state_of(wanted, leg)
    if state == DOWN:
        return -legs[LEG_DN_V + leg]  # type: ignore[no-any-return]
    return legs[LEG_UP_V + leg] + legs[LEG_UP_TO] * plus if state == UP else 0.0


@inlined
def asked(legs: Array, code: int, x: Four, n: Four) -> int:
    """Return the combination asked for: by the mean ``x`` of a leg that is off, else its end."""
    on = conducting(code)
    return (wanted_code(legs, n) & on) | (wanted_code(legs, x) & ~on)


@inlined
def bounds_of(legs: Array, code: int, leg: int) -> tuple[Four, Four]:
    """Return by what a leg's state is told to last: two lines a mean + b start + c, of its voltage
    above the plus (or what else it works against) and of its voltage, that must not exceed 0.

    A leg that is off is asked for its mean, one that conducts for the step's end.
    """
    state = state_of(code, leg)
    up, down = legs[LEG_UP_V + leg], -legs[LEG_DN_V + leg]
    if state == OFF:
        return (1.0, 0.0, -up, 0.0), (-1.0, 0.0, down, 0.0)
    if state == UP:
        return (-2.0, 1.0, up, 0.0), (-2.0, 1.0, down, 0.0)
    return NOTHING, (2.0, -1.0, -down, 0.0)


@inlined
def strays(bounds: tuple[Four, Four], above: float, above_u: float, x: float, u: float) -> float:
    """Return how far a leg is beyond what its state allows [V], by ``bounds_of``."""
    a, b = bounds
    over = a[0] * above + (a[1] * above_u + a[2])
    under = b[0] * x + (b[1] * u + b[2])
    return over if over > under else under


@inlined
def run(
    legs: Array,
    emf: Array,
    t: Array,
    samples: Array,
    past: Four,
    source_v: float,
    code: int,
    step: int,
    c: Four,
    u: Four,
) -> tuple[int, Four, Four, Four, Four]:
    """Take steps while the combination agrees.

    Return the step where it does not, the currents and voltages it begins with, and the companion
    sources and mean voltages that told so.
    """
    j, x = NOTHING, NOTHING
    steps = emf.shape[1]
    tapped = legs[TAPPED] > 0.0
    up_to = legs[LEG_UP_TO]
    bounds0, bounds1, bounds2 = (
        bounds_of(legs, code, 0),
        bounds_of(legs, code, 1),
        bounds_of(legs, code, 2),
    )
    fixed_x, fixed_i = fixed_four(t, code, VOLTS, source_v), fixed_four(t, code, AMPS, source_v)
    while step < steps:
        e = (emf[0, step], emf[1, step], emf[2, step], emf[3, step])
        j = plus_times(e, past, c)
        x = four_of(t, code, VOLTS, tapped, fixed_x, j)
        p, p_u = up_to * x[3], up_to * u[3]
        s0 = strays(bounds0, x[0] - p, u[0] - p_u, x[0], u[0])
        s1 = strays(bounds1, x[1] - p, u[1] - p_u, x[1], u[1])
        s2 = strays(bounds2, x[2] - p, u[2] - p_u, x[2], u[2])
        s01 = s0 if s0 > s1 else s1
        if not (s2 if s2 > s01 else s01) <= 0.0:
            break
        keep(samples, step, x, j)
        c = end_of(four_of(t, code, AMPS, tapped, fixed_i, j), c)
        u = end_of(x, u)
        step += 1
    return step, c, u, j, x


@inlined
def with_legs_begun(
    legs: Array, t: Array, source_v: float, code: int, wanted: int, u: Four, j: Four
) -> tuple[bool, Four, Four]:
    """Take a whole step with legs that begin to conduct in it.

    Return whether the combination ``wanted`` agrees, and the step's mean and end voltages.
    """
    x = volts_of(t, wanted, legs[TAPPED] > 0.0, source_v, j)
    start = (  # from no current: a leg's voltage begins where it conducts
        where_it_begins(legs, code, 0, wanted, u[0], u[3]),
        where_it_begins(legs, code, 1, wanted, u[1], u[3]),
        where_it_begins(legs, code, 2, wanted, u[2], u[3]),
        u[3],
    )
    end = end_of(x, start)
    return asked(legs, wanted, x, end) == wanted, x, end


@inlined
def halves_of(emf: Array, step: int) -> tuple[Four, Four]:
    """Return the EMF's part of the companion sources in a step's two halves.

    A quarter of its rise over the step lies between the step's middle and each half's.
    """
    last = emf.shape[1] - 1
    b, a = (step - 1 if step > 0 else last), (step + 1 if step < last else 0)
    e = (emf[0, step], emf[1, step], emf[2, step], emf[3, step])
    rise = (
        0.125 * (emf[0, a] - emf[0, b]),
        0.125 * (emf[1, a] - emf[1, b]),
        0.125 * (emf[2, a] - emf[2, b]),
        0.125 * (emf[3, a] - emf[3, b]),
    )
    return minus(e, rise), plus(e, rise)


@inlined
def end_of_halves(
    t: Array, code: int, tapped: bool, source_v: float, past: Four, e: tuple[Four, Four], c: Four
) -> Four:
    """Return the currents after two halves of one combination."""
    middle = amps_of(t, code, tapped, source_v, plus_times(e[0], past, c))
    return amps_of(t, code, tapped, source_v, plus_times(e[1], past, middle))


@compiled
def march(
    legs: Array,
    part: Array,
    emf: Array,
    t: Array,
    known: Array,
    memory: Array,
    samples: Array,
) -> None:
    """March one period on from ``memory`` (MEMORY,), filling ``samples`` (..., SAMPLE_ROWS).

    ``legs`` and ``part`` are the mode's junctions and the network; ``emf`` (4, steps)
    what the EMF adds to each companion source; ``t`` (CODES, SIZE) and ``known`` (CODES,) the
    mode's table of combinations. The first step is taken in halves: they forget what does not fit
    the combination in the currents it begins with.
    """
    steps = emf.shape[1]
    source_v = memory[STAND]
    c = (memory[0], memory[1], memory[2], memory[3])
    u = (memory[LAST], memory[LAST + 1], memory[LAST + 2], memory[LAST + 3])
    past = (part[PAST], part[PAST + 1], part[PAST + 2], part[PAST + 3])
    tapped = legs[TAPPED] > 0.0
    code = int(memory[CODE])
    ready(legs, part, t, known, code)
    for i in range(steps):
        samples[i, WEIGHT] = 1.0 / steps
    step, count = 0, steps
    while step < steps:
        beyond = NOTHING
        if step > 0:
            step, c, u, j, x = run(legs, emf, t, samples, past, source_v, code, step, c, u)
            if step == steps:
                break
            wanted = asked(legs, code, x, end_of(x, u))
            if begun(code, wanted):
                ready(legs, part, t, known, wanted)
                fits, x, end = with_legs_begun(legs, t, source_v, code, wanted, u, j)
                if fits:
                    keep(samples, step, x, j)
                    c = end_of(amps_of(t, wanted, tapped, source_v, j), c)
                    u, code = end, wanted
                    step += 1
                    continue
            whole = end_of(amps_of(t, code, tapped, source_v, j), c)
            halved = end_of_halves(t, code, tapped, source_v, past, halves_of(emf, step), c)
            beyond = minus(whole, halved)
        early, late = halves_of(emf, step)
        for half in range(2):
            j = plus_times(late if half == 1 else early, past, c)
            at = step if half == 0 else count
            count += half
            c, u, code, count = half_step(
                legs, part, t, known, samples, source_v, code, j, u, at, count, step
            )
            if half == 0:  # the second starts with what a whole step would have had beyond halves
                c = plus(c, beyond)
        step += 1
    memory[0], memory[1], memory[2], memory[3] = c
    memory[LAST], memory[LAST + 1], memory[LAST + 2], memory[LAST + 3] = u
    memory[CODE] = code
    memory[COUNT] = count
