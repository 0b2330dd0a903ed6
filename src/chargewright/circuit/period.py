"""One period of one mode of the regulator, and whether it repeats."""

from __future__ import annotations

import math

from chargewright.circuit.compiled import compiled
from chargewright.circuit.conduction import CODES, LEGS, SIZE, leg_lines
from chargewright.circuit.first_guess import start_currents
from chargewright.circuit.march import march
from chargewright.circuit.mixing import MIX
from chargewright.circuit.network import (
    EMF_A,
    FIFTH,
    L_A,
    OMEGA,
    PART,
    PER_VOLT,
    R_A,
    SINGLE,
    THIRD,
)
from chargewright.circuit.switching import COUNT, MEMORY, STAND, WEIGHT
from chargewright.machine.parameters import Array

TOLERANCE_A = 5e-3  # accepted distance of a period's start from the periodic one, with
TOLERANCE_REL = 1e-3  # this part of the largest current
MOST_UNSETTLED = 50.0
# Near cut-in a period can go on alternating by about the step's own error, because a step is
# taken whole or in halves: after this many periods the tolerance is wider by that factor.
PATIENCE, WIDER = 20, 4.0

# Working space of one mode: legs, memory, currents its last period began with, outcome, table,
# which of its rows are known
BEGAN = LEGS + MEMORY
OUTPUT_A, STILL, MARCHED = BEGAN + 4, BEGAN + 5, BEGAN + 6
TABLE = BEGAN + 7
KNOWN = TABLE + CODES * SIZE
MODE = KNOWN + CODES
# of both modes, then the frame's row, ``unsettled``, what mixing keeps, the branches
FRAME = 2 * MODE
REST = FRAME + 9
MIXING = REST + 1
BRANCHES = MIXING + MIX
SCRATCH = BRANCHES + PART


@compiled
def fill_emf(op: Array, part: Array, cosines: Array, emf: Array) -> None:
    """Fill what each winding's EMF adds to its branch's companion source, (4, steps)."""
    third = op[THIRD]
    fifth = op[FIFTH]
    for winding in range(3):
        scale = part[PER_VOLT + winding] * op[EMF_A + winding]
        for step in range(emf.shape[1]):
            emf[winding, step] = scale * (
                cosines[3 * winding, step]
                + third * cosines[3 * winding + 1, step]
                + fifth * cosines[3 * winding + 2, step]
            )
    for step in range(emf.shape[1]):
        emf[3, step] = emf[0, step]


@compiled
def mean_output(samples: Array, count: int, frame: Array, source_v: float, rp: float) -> float:
    """Return the mean current out of the rectifier's plus [A] over the stored period."""
    total = -(1.0 + frame[8]) * source_v
    for row in range(8):
        factor = (1.0 if row == 3 else 0.0) - frame[row]
        if factor != 0.0:  # the frame hangs on few of them
            mean = 0.0
            for i in range(count):
                mean += samples[i, WEIGHT] * samples[i, row]
            total += factor * mean
    return total / rp  # type: ignore[no-any-return]


@compiled
def unsettled(op: Array, kind: int) -> float:
    """Return how far a period's start can be from the periodic one, per ampere it changes by.

    Junctions and resistances are passive, so that two solutions approach each other at least
    as fast as a winding's own current dies: by q = exp(-T R/L) in a period, and q + q^2 + ..
    remains. Held at ``MOST_UNSETTLED``, where windings have next to no resistance.
    """
    least = op[R_A] / op[L_A]
    if kind != SINGLE:
        least = min(least, min(op[R_A + 1] / op[L_A + 1], op[R_A + 2] / op[L_A + 2]))
    return min(1.0 / math.expm1(2.0 * math.pi / op[OMEGA] * least), MOST_UNSETTLED)


@compiled
def repeats(space: Array, rest: float) -> bool:
    """Tell whether a mode's last period began near the periodic one; ``rest`` is ``unsettled``."""
    change = 0.0
    largest = 0.0
    for b in range(4):
        end = space[LEGS + b]
        change = max(change, abs(end - space[BEGAN + b]))
        largest = max(largest, abs(end))
    wider = WIDER if space[MARCHED] >= PATIENCE else 1.0
    return max(1.0, rest) * change < wider * (TOLERANCE_A + TOLERANCE_REL * largest)


@compiled
def one_period(
    emf: Array, scratch: Array, which: int, samples: Array, source_v: float, rp: float
) -> None:
    """March one mode (0 charging, 1 cutting) on by a period; note its output and stillness."""
    space = scratch[which * MODE : (which + 1) * MODE]
    memory = space[LEGS:BEGAN]
    known = space[KNOWN:MODE]
    memory[STAND] = source_v
    for b in range(4):
        space[BEGAN + b] = memory[b]
    part = scratch[BRANCHES:SCRATCH]
    table = space[TABLE:KNOWN].reshape(CODES, SIZE)
    march(space[0:LEGS], part, emf, table, known, memory, samples[which])
    space[STILL] = 1.0 if repeats(space, scratch[REST]) else 0.0
    space[MARCHED] += 1.0
    space[OUTPUT_A] = mean_output(
        samples[which], int(memory[COUNT]), scratch[FRAME:REST], source_v, rp
    )


@compiled
def begin(op: Array, kind: int, mode: int, source_v: float, rp: float, space: Array) -> None:
    """Set up one mode's working space."""
    leg_lines(op, mode, space[0:LEGS])
    space[LEGS:MARCHED] = 0.0
    space[KNOWN:MODE] = 0.0
    start_currents(op, kind, mode, source_v, rp, space[LEGS : LEGS + 4])
