"""The program's side of the comparison, through as few of its doors as possible."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.circuit import network as nw
from chargewright.circuit import running
from chargewright.circuit.operate import CONVERGED, CUT, E_V, RESULTS
from chargewright.circuit.waveforms import (
    BATTERY_WIRE,
    GROUND_WIRE,
    LEADS,
    LOADS,
    OUTPUT,
    WIRE,
)
from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense
from chargewright.machine.parameters import Array
from chargewright.machine.points import Point
from tests.spice.cases import Case

# What is compared: volts between two points, amperes in a wire.
VOLTS: dict[str, tuple[Point, Point]] = {
    "battery": (Point.BATTERY_POS, Point.BATTERY_NEG),
    "regulator output": (Point.REG_OUT, Point.REG_BODY),
    "behind fuse": (Point.FUSE_OUT, Point.FRAME),
    "charge side drop": (Point.REG_OUT, Point.BATTERY_POS),
    "ground drop": (Point.FRAME, Point.REG_BODY),
    "leads A-B": (Point.ALT_A, Point.ALT_B),
    "leads B-C": (Point.ALT_B, Point.ALT_C),
    "leads C-A": (Point.ALT_C, Point.ALT_A),
    "lead A-frame": (Point.ALT_A, Point.FRAME),
    "plug A": (Point.ALT_A, Point.REG_A),
    "sense": (Point.REG_SENSE, Point.REG_BODY),
}
AMPS: dict[str, int] = {
    "lead A": LEADS,
    "lead B": LEADS + 1,
    "lead C": LEADS + 2,
    "output": OUTPUT,
    "battery": BATTERY_WIRE,
    "ground": GROUND_WIRE,
    "loads": LOADS,
}
DC, RMS, AVERAGE = 0, 1, 2
STIFF_V = 1e-9  # an over-voltage too small to matter


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The program's answer; ``volts`` and ``amps`` map a name to (dc, true rms, average)."""

    e_v: float
    cut: float
    converged: bool
    volts: dict[str, Array]
    amps: dict[str, Array]


def columns_of(case: Case) -> Array:
    """Return the operating point of a case, shape (POINT_COLUMNS,)."""
    rpm = np.array([case.rpm])
    points = running.operating_points(case.layout, case.params, case.state, rpm)
    return np.asarray(points[0])


def solve_many(layout: Layout, ops: Array, *, steps: int = running.STEPS) -> tuple[Array, Array]:
    """Return (readings (n, volts and amps, 4), results (n, RESULTS)) of n operating points."""
    plus = [int(a) for a, _ in VOLTS.values()] + [WIRE + w for w in AMPS.values()]
    minus = [int(b) for _, b in VOLTS.values()] + [1] * len(AMPS)
    answers = np.zeros((len(ops), len(plus), 4))
    results = np.zeros((len(ops), RESULTS))
    running.solve_all(
        np.ascontiguousarray(ops),
        running.KIND[layout.winding],
        layout.regulator is Regulator.SERIES,
        layout.charge_to is ChargeTo.BATTERY,
        layout.sense is Sense.LEAD,
        nw.emf_table(steps),
        np.array(plus, dtype=np.int64),
        np.array(minus, dtype=np.int64),
        answers,
        results,
    )
    return answers, results


def solve(layout: Layout, op: Array, *, steps: int = running.STEPS) -> Answer:
    """Return the program's answer at one operating point."""
    answers, results = solve_many(layout, op[None, :], steps=steps)
    return Answer(
        e_v=float(results[0, E_V]),
        cut=float(results[0, CUT]),
        converged=bool(results[0, CONVERGED] > 0.5),
        volts=dict(zip(VOLTS, answers[0, : len(VOLTS), :3], strict=True)),
        amps=dict(zip(AMPS, answers[0, len(VOLTS) :, :3], strict=True)),
    )


def one_mode(op: Array, e_v: float, *, cutting: bool) -> Array:
    """Return the operating point held in one of the regulator's two modes.

    The battery's internal voltage is fixed at ``e_v`` and its slow over-voltage is gone.
    """
    held = op.copy()
    held[nw.CUT_MIN] = held[nw.CUT_MAX] = 1.0 if cutting else 0.0
    held[nw.BATTERY_E_V] = e_v
    held[nw.CHARGE_V] = held[nw.DRAW_V] = held[nw.EMPTY_V] = STIFF_V
    held[nw.STORED_A] = np.inf
    held[nw.CHARGE_A] = held[nw.DRAW_A] = held[nw.EMPTY_A] = 1.0
    return held
