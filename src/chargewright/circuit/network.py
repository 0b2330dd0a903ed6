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
Branches: 0 winding A from its tap to lead A, 1 B, 2 C, 3 winding A between start and tap
    (the tap is where a ground fault would be; without one it leads nowhere).

Every function also works on arrays with the machines along a last axis more: ``op`` then is
(columns, n), ``y`` (nodes, width, n). The path without a compiler uses them so.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from chargewright.circuit.compiled import compiled
from chargewright.machine.parameters import Array

Number = Any  # one machine's float, or an array of n of them

NODES = 10
INNER = 6  # nodes eliminated; the rest carry junctions
TAP_NODE = 1
FRAME_NODE = 5
LEG_NODE = 6
PLUS_NODE = 9
BRANCHES = 4
BODY = NODES  # column of the conductance to the regulator body
DRIVE = NODES + 1  # columns of the windings' companion sources
SOURCE = DRIVE + BRANCHES  # column of the direct-current side's source
WIDTH = SOURCE + 1

# Rows of ``part``, a flat table: each branch's companion source per ampere a step before, and per
# volt of its winding's EMF; for each branch its current per unit of x_a, x_b, x_c, x_plus; for each
# branch, then for each kept node, what it gets per unit of j_0..j_3 and of the source; the kept
# nodes' conductances (four to the body, then 01, 02, 03, 12, 13, 23); room for eight rows that
# are made of these (``conduction.prepare``). One table, because a compiler that has to fear that
# two overlap computes number by number what a processor does eight at a time.
COLUMN = 8
PAST, PER_VOLT = 0, COLUMN
OF_X, OF_J, INTO = 2 * COLUMN, 6 * COLUMN, 10 * COLUMN
MESH, MAPS = 14 * COLUMN, 16 * COLUMN
PART = 24 * COLUMN
FROM_SOURCE = 4  # the source's place in a row

SHORT_OHM = 1e-5  # the least a joint counts
STRAY_S = 1e-8  # from every node but the tap to the regulator body: what insulation leaks

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
    STORED_A,
    GAS_V,
    GAS_A,
    DRAW_V,
    DRAW_A,
    EMPTY_V,
    EMPTY_A,
) = range(60)
POINT_COLUMNS = 60

STAR, DELTA, SINGLE = 0, 1, 2


@compiled
def join(y: Array, a: int, b: int, siemens: Number) -> None:
    """Put a conductance between nodes ``a`` and ``b``."""
    y[a, b] += siemens
    y[b, a] += siemens


@compiled
def winding_ends(kind: int, branch: int) -> tuple[int, int]:
    """Return start and end node of a winding: current counts from start to end."""
    if kind == STAR:
        return 0, 2 + branch
    if kind == DELTA:
        return 2 + (branch + 1) % 3, 2 + branch
    return 3, 2  # a single coil from lead B to lead A


@compiled
def companion(op: Array, winding: int, h: Number) -> tuple[Number, Number]:
    """Return (ohms, history ohms) of a winding: the midpoint rule's over a step of length ``h``.

    They are the implicit Euler rule's over half the step as well.
    """
    henry = 2.0 * op[L_A + winding] / h
    return henry + op[R_A + winding], henry


@compiled
def tap_at(op: Array) -> Number:
    """Return where winding A is tapped for its ground fault, counted from its start."""
    return np.minimum(np.maximum(op[LEAK_AT], 0.01), 0.99)


@compiled
def add_winding(y: Array, branch: int, start: int, end: int, ohm: Number) -> None:
    """Add one winding branch: its conductance and where its companion source enters."""
    join(y, start, end, 1.0 / ohm)
    y[end, DRIVE + branch] += 1.0
    y[start, DRIVE + branch] -= 1.0


@compiled
def assemble(op: Array, kind: int, h: Number, rp: Number, y: Array, part: Array) -> None:
    """Fill the network ``y`` (NODES, WIDTH), and ``past`` and ``per volt`` of ``part``.

    ``rp`` is the resistance of the direct-current side from rectifier plus to frame. Row i of
    ``y`` holds the conductances to the other nodes, to the body, and the sources into the
    node. ``part`` (PART,) describes the branches, see ``PAST``.
    """
    y[:, :] = 0.0
    part[:] = 0.0
    for node in range(NODES):
        y[node, BODY] = STRAY_S if node != TAP_NODE else 0.0
    at = tap_at(op)
    for winding in range(1 if kind == SINGLE else 3):
        start, end = winding_ends(kind, winding)
        ohm, past = companion(op, winding, h)
        if winding == 0:
            add_winding(y, 3, start, TAP_NODE, at * ohm)
            add_winding(y, 0, TAP_NODE, end, (1.0 - at) * ohm)
            part[PAST + 3] = past / ohm
            part[PER_VOLT + 3] = 1.0 / ohm
        else:
            add_winding(y, winding, start, end, ohm)
        part[PAST + winding] = past / ohm
        part[PER_VOLT + winding] = 1.0 / ohm
    join(y, TAP_NODE, FRAME_NODE, op[LEAK_S])
    for leg in range(3):
        join(y, 2 + leg, LEG_NODE + leg, 1.0 / np.maximum(op[PLUG_A + leg], SHORT_OHM))
        join(y, LEG_NODE + leg, PLUS_NODE, op[UP_LEAK_A + leg])
        y[LEG_NODE + leg, BODY] += op[DN_LEAK_A + leg]
    join(y, 2, 3, op[SHORT_S])
    join(y, LEG_NODE, FRAME_NODE, op[HARNESS_S])
    join(y, PLUS_NODE, FRAME_NODE, 1.0 / rp)
    y[FRAME_NODE, BODY] += 1.0 / np.maximum(op[GROUND_OHM], SHORT_OHM)
    y[PLUS_NODE, SOURCE] += 1.0 / rp
    y[FRAME_NODE, SOURCE] -= 1.0 / rp


@compiled
def drive_rows(op: Array, kind: int, y: Array, part: Array) -> None:
    """Fill the branch currents as rows over kept nodes, companions and source (after
    ``eliminate``), i = (v_start - v_end) / ohm + j, and what reaches the kept nodes.

    A whole winding's two parts have one source: what the second does is put on the first.
    """
    at = tap_at(op)
    tapped = 1.0 * (op[LEAK_S] > 0.0)
    for branch in range(4):
        if branch in (1, 2) and kind == SINGLE:
            continue
        start, end = winding_ends(kind, branch % 3)
        g = part[PER_VOLT + branch]
        if branch == 3:
            end = TAP_NODE
            g = g / at
        elif branch == 0:
            start = TAP_NODE
            g = g / (1.0 - at)
        of_x, of_j = OF_X + COLUMN * branch, OF_J + COLUMN * branch
        for col in range(4):
            part[of_x + col] = g * (y[start, INNER + col] - y[end, INNER + col])
        for col in range(5):
            part[of_j + col] = g * (y[start, DRIVE + col] - y[end, DRIVE + col])
        part[of_j + branch] += 1.0
    link = MESH + 4
    for kept in range(4):
        part[MESH + kept] = y[INNER + kept, BODY]
        for other in range(kept + 1, 4):
            part[link] = y[INNER + kept, INNER + other]
            link += 1
        for col in range(5):
            part[INTO + COLUMN * kept + col] = y[INNER + kept, DRIVE + col]
    for row in range(OF_J, MESH, COLUMN):
        part[row] = part[row] + (1.0 - tapped) * part[row + 3]
        part[row + 3] = tapped * part[row + 3]


@compiled
def eliminate(y: Array) -> None:
    """Turn each inner node's star into a mesh of the nodes after it, in place.

    Afterwards row i < INNER holds the node's volts per volt of the kept nodes (columns INNER
    to NODES) and per unit of each source; rows of kept nodes hold the mesh between them and
    its sources. Pivots are sums of what is left, never differences, so that what hangs on a
    stray conductance keeps full accuracy (the idea of Grassmann, Taksar and Heyman, 1985).
    """
    for k in range(INNER):
        total = y[k, BODY]
        for j in range(k + 1, NODES):
            total += y[k, j]
        scale = 1.0 / total
        for col in range(k + 1, WIDTH):
            y[k, col] *= scale
        for i in range(k + 1, NODES):
            link = y[i, k]
            if link != 0.0:
                for col in range(k + 1, WIDTH):
                    y[i, col] += link * y[k, col]
    for k in range(INNER - 2, -1, -1):
        for i in range(k + 1, INNER):
            share = y[k, i]
            if share != 0.0:
                for col in range(INNER, WIDTH):
                    y[k, col] += share * y[i, col]


@compiled
def node_row(y: Array, node: int, row: Array) -> None:
    """Write node ``node`` as a row over (x_a, x_b, x_c, x_plus, j_0..j_3, source)."""
    row[:] = 0.0
    if node >= INNER:
        row[node - INNER] = 1.0
        return
    for col in range(4):
        row[col] = y[node, INNER + col]
    for col in range(BRANCHES + 1):
        row[4 + col] = y[node, DRIVE + col]


def emf_table(steps: int) -> Array:
    """Return the means of cosines over each time step, (9, steps).

    Rows are harmonics 1, 3 and 5 of winding A, then of B and C, displaced by 120 degrees.
    """
    middle = 2.0 * np.pi * (np.arange(steps) + 0.5) / steps
    shift = 2.0 * np.pi * np.arange(3) / 3.0
    order = np.array([1.0, 3.0, 5.0])
    angle = order[None, :, None] * (middle[None, None, :] - shift[:, None, None])
    mean = np.sinc(order / steps)  # of a cosine over a step, relative to its middle
    return np.ascontiguousarray((mean[None, :, None] * np.cos(angle)).reshape(9, steps))
