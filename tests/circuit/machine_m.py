"""Reference machine M as kernel columns, and a shortcut to solve such columns directly.

Machine M: three-phase star, 6 pole pairs, 15.0 V lead to lead per 1000 rpm, 0.15 ohm and
0.65 mH per phase, 0.90 V per junction, a stiff 14.4 V battery, no regulation.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from chargewright.circuit import network as nw
from chargewright.circuit import running
from chargewright.circuit.operate import RESULTS
from chargewright.machine.parameters import Array

Change = Callable[[Array], None]


def machine_m(rpm: float, change: Change | None = None, *, battery_v: float = 14.4) -> Array:
    """Return machine M's columns at a speed, changed by a fault."""
    op = np.zeros(nw.POINT_COLUMNS)
    op[nw.OMEGA] = 2 * np.pi * 6 * rpm / 60
    op[nw.EMF_A : nw.EMF_A + 3] = np.sqrt(2) * 15 / np.sqrt(3) * rpm / 1000
    op[nw.R_A : nw.R_A + 3] = 0.15
    op[nw.L_A : nw.L_A + 3] = 0.65e-3
    op[nw.UP_V_A : nw.UP_V_A + 3] = op[nw.DN_V_A : nw.DN_V_A + 3] = 0.9
    op[nw.UP_S_A : nw.UP_S_A + 3] = op[nw.DN_S_A : nw.DN_S_A + 3] = 1e4
    op[nw.CUT_V], op[nw.CUT_S], op[nw.SETPOINT_V] = 1.0, 200.0, 50.0
    op[nw.LOAD_S] = 1e-7
    op[nw.BATTERY_E_V], op[nw.BATTERY_OHM] = battery_v, 1e-5
    op[nw.CHARGE_V] = op[nw.DRAW_V] = 1e-9
    op[nw.CHARGE_A] = op[nw.DRAW_A] = op[nw.EMPTY_A] = 1.0
    if change is not None:
        change(op)
    return op


def solve(
    columns: Sequence[Array],
    rows: Sequence[tuple[int, int]],
    *,
    current: bool = False,
    steps: int = running.STEPS,
    kind: int = nw.STAR,
) -> tuple[Array, Array]:
    """Return (answers (n, m, 4), results (n, RESULTS)) of kernel columns."""
    ops = np.ascontiguousarray(np.array(columns))
    answers = np.zeros((len(ops), len(rows), 4))
    results = np.zeros((len(ops), RESULTS))
    running.solve_all(
        ops,
        kind,
        False,
        False,
        False,
        nw.emf_table(steps),
        np.array([row[0] + (running.WIRE if current else 0) for row in rows]),
        np.array([row[1] for row in rows]),
        answers,
        results,
    )
    return answers, results


def set_column(index: int, value: float) -> Change:
    """Return a fault that sets one column."""

    def change(op: Array) -> None:
        op[index] = value

    return change
