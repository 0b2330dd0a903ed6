"""The running machine as a linear network around its rectifier legs, one machine at a time.

Everything but the junctions is linear: windings (as companions of one time step), plug,
leaks, leads, grounds, loads and battery. It is reduced once per machine to the four nodes
where junctions attach (legs a, b, c and the rectifier's plus), so that a time step costs a
few small products.

Time step (Moreau's scheme with theta = 1/2, e.g. V. Acary and B. Brogliato, Numerical Methods
for Nonsmooth Dynamical Systems, Springer 2008, ch. 9): over a step of length h a winding obeys
    (L/h + R/2) i1 = (L/h - R/2) i0 + e + v_start - v_end,
with e and the node voltages averaged over the step and the junctions' conditions put on the
current at its end. Second-order while nothing switches, no chatter when something does.

Nodes, voltages counted from the regulator body:
    0 neutral, 1 tap of winding A (ground fault), 2..4 leads on the alternator side, 5 frame,
    6..8 the same leads on the regulator side, 9 rectifier plus (regulator output).
Branches: 0 winding A (from its tap to lead A when it has a ground fault), 1 B, 2 C,
    3 the part of winding A between start and tap.
"""

from __future__ import annotations

import numpy as np

from chargewright.circuit.compiled import compiled
from chargewright.machine.parameters import Array

NODES = 10
INNER = 6  # nodes eliminated; the rest carry junctions
FRAME_NODE = 5
LEG_NODE = 6
PLUS_NODE = 9
BRANCHES = 4
SOURCE = BRANCHES  # column of the direct-current side's source
WIDTH = NODES + BRANCHES + 1
STRAY_S = 1e-8  # from every node to the regulator body: what insulation leaks

# Columns of one machine's operating point (built in running.py)
(
    OMEGA,
    EMF_A,
    EMF_B,
    EMF_C,
    THIRD,
    FIFTH,
    R_A,
    R_B,
    R_C,
    L_A,
    L_B,
    L_C,
    PLUG_A,
    PLUG_B,
    PLUG_C,
    LEAK_S,
    LEAK_AT,
    SHORT_S,
    HARNESS_S,
    UP_V_A,
    UP_V_B,
    UP_V_C,
    DN_V_A,
    DN_V_B,
    DN_V_C,
    UP_S_A,
    UP_S_B,
    UP_S_C,
    DN_S_A,
    DN_S_B,
    DN_S_C,
    UP_LEAK_A,
    UP_LEAK_B,
    UP_LEAK_C,
    DN_LEAK_A,
    DN_LEAK_B,
    DN_LEAK_C,
    CUT_V,
    CUT_S,
    SETPOINT_V,
    CUT_MIN,
    CUT_MAX,
    SENSE_DROP_V,
    CHARGE_OHM,
    FUSE_OHM,
    CLAMP_OHM,
    NEG_OHM,
    GROUND_OHM,
    LOAD_S,
    BATTERY_E_V,
    BATTERY_OHM,
    CHARGE_V,
    CHARGE_A,
    DRAW_V,
    DRAW_A,
    EMPTY_V,
    EMPTY_A,
) = range(57)
POINT_COLUMNS = 57

STAR, DELTA, SINGLE = 0, 1, 2


@compiled
def join(y: Array, a: int, b: int, siemens: float) -> None:
    """Put a conductance between nodes ``a`` and ``b`` of the nodal matrix."""
    y[a, a] += siemens
    y[b, b] += siemens
    y[a, b] -= siemens
    y[b, a] -= siemens


@compiled
def winding_ends(kind: int, branch: int) -> tuple[int, int]:
    """Return start and end node of a winding: current counts from start to end."""
    if kind == STAR:
        return 0, 2 + branch
    if kind == DELTA:
        return 2 + (branch + 1) % 3, 2 + branch
    return 3, 2  # a single coil from lead B to lead A


@compiled
def add_winding(
    y: Array, branch: int, start: int, end: int, siemens: float, conductance: Array, ends: Array
) -> None:
    """Add one winding branch: its companion conductance and where its history enters."""
    join(y, start, end, siemens)
    y[end, NODES + branch] += 1.0
    y[start, NODES + branch] -= 1.0
    conductance[branch] = siemens
    ends[branch, 0] = start
    ends[branch, 1] = end


@compiled
def assemble(
    op: Array,
    kind: int,
    h: float,
    rp: float,
    y: Array,
    g: Array,
    keep: Array,
    share: Array,
    ends: Array,
) -> None:
    """Fill the nodal matrix ``y`` (NODES, WIDTH) and the branches' companions.

    ``rp`` is the resistance of the direct-current side from rectifier plus to frame.
    ``g`` (4,) branch conductances, ``keep`` (4,) = L/h - R/2, ``share`` (4,) the part of its
    winding's EMF each branch holds, ``ends`` (4, 2) node numbers.
    """
    y[:, :] = 0.0
    g[:] = 0.0
    keep[:] = 0.0
    share[:] = 0.0
    ends[:, :] = 0.0
    for node in range(NODES):
        y[node, node] += STRAY_S
    leak = op[LEAK_S]
    windings = 1 if kind == SINGLE else 3
    for winding in range(windings):
        start, end = winding_ends(kind, winding)
        ohm = op[R_A + winding]
        henry = op[L_A + winding]
        if winding == 0 and leak > 0.0:
            at = min(max(op[LEAK_AT], 0.01), 0.99)
            near = at * (henry / h + 0.5 * ohm)
            far = (1.0 - at) * (henry / h + 0.5 * ohm)
            add_winding(y, 3, start, 1, 1.0 / near, g, ends)
            add_winding(y, 0, 1, end, 1.0 / far, g, ends)
            keep[3] = at * (henry / h - 0.5 * ohm)
            keep[0] = (1.0 - at) * (henry / h - 0.5 * ohm)
            share[3] = at
            share[0] = 1.0 - at
            join(y, 1, FRAME_NODE, leak)
        else:
            add_winding(y, winding, start, end, 1.0 / (henry / h + 0.5 * ohm), g, ends)
            keep[winding] = henry / h - 0.5 * ohm
            share[winding] = 1.0
    for leg in range(3):
        join(y, 2 + leg, LEG_NODE + leg, 1.0 / max(op[PLUG_A + leg], 1e-5))
        join(y, LEG_NODE + leg, PLUS_NODE, op[UP_LEAK_A + leg])
        y[LEG_NODE + leg, LEG_NODE + leg] += op[DN_LEAK_A + leg]
    join(y, 2, 3, op[SHORT_S])
    join(y, LEG_NODE, FRAME_NODE, op[HARNESS_S])
    join(y, PLUS_NODE, FRAME_NODE, 1.0 / rp)
    y[FRAME_NODE, FRAME_NODE] += 1.0 / max(op[GROUND_OHM], 1e-5)
    y[PLUS_NODE, NODES + SOURCE] += 1.0 / rp
    y[FRAME_NODE, NODES + SOURCE] -= 1.0 / rp


@compiled
def eliminate(y: Array) -> None:
    """Express the inner nodes by the kept ones and the sources, in place (Gauss-Jordan).

    Afterwards row i < INNER reads x_i = -sum_k y[i, k] x_k + sum_s y[i, NODES + s] source_s, and
    rows of kept nodes hold the reduced conductances and sources. The matrix is a diagonally
    dominant M-matrix, so no pivoting is needed.
    """
    for pivot in range(INNER):
        scale = 1.0 / y[pivot, pivot]
        for col in range(pivot, WIDTH):
            y[pivot, col] *= scale
        for row in range(NODES):
            factor = y[row, pivot]
            if row != pivot and factor != 0.0:
                for col in range(pivot, WIDTH):
                    y[row, col] -= factor * y[pivot, col]


@compiled
def node_row(y: Array, node: int, row: Array) -> None:
    """Write node ``node`` as a row over (x_a, x_b, x_c, x_plus, j_0..j_3, source)."""
    row[:] = 0.0
    if node >= INNER:
        row[node - INNER] = 1.0
        return
    for col in range(4):
        row[col] = -y[node, INNER + col]
    for col in range(BRANCHES + 1):
        row[4 + col] = y[node, NODES + col]


@compiled
def invert_four(matrix: Array, inverse: Array) -> None:
    """Invert a 4 x 4 diagonally dominant matrix, destroying ``matrix``."""
    inverse[:, :] = 0.0
    for i in range(4):
        inverse[i, i] = 1.0
    for pivot in range(4):
        scale = 1.0 / matrix[pivot, pivot]
        for col in range(4):
            matrix[pivot, col] *= scale
            inverse[pivot, col] *= scale
        for row in range(4):
            factor = matrix[row, pivot]
            if row != pivot and factor != 0.0:
                for col in range(4):
                    matrix[row, col] -= factor * matrix[pivot, col]
                    inverse[row, col] -= factor * inverse[pivot, col]


def emf_table(steps: int) -> Array:
    """Return cosines (steps, 9) at the middle of each time step.

    Columns are harmonics 1, 3 and 5 of winding A, then of B and C, displaced by 120 degrees.
    """
    middle = 2.0 * np.pi * (np.arange(steps) + 0.5) / steps
    shift = 2.0 * np.pi * np.arange(3) / 3.0
    order = np.array([1.0, 3.0, 5.0])
    angle = order[None, :, None] * (middle[None, None, :] - shift[:, None, None])
    return np.ascontiguousarray(np.cos(angle).reshape(9, steps).T)
