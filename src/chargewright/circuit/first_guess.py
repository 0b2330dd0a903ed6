"""Where to start: the alternator by its first harmonics alone.

The rectifier counts as the fundamental V1 of its stepped voltage in phase with the current:
E^2 = (V1 + I R)^2 + (I X)^2 (textbook first-harmonic approximation of a rectifier into a
constant voltage). It gives the currents at the start of a period within some per cent, and
where the battery will settle.
"""

from __future__ import annotations

import math

import numpy as np

from chargewright.circuit.compiled import compiled
from chargewright.circuit.conduction import CHARGE, CUT_SERIES
from chargewright.circuit.network import (
    CUT_V,
    DELTA,
    DN_V_A,
    EMF_A,
    L_A,
    OMEGA,
    PLUG_A,
    R_A,
    SINGLE,
    UP_V_A,
    Number,
)
from chargewright.machine.parameters import Array


@compiled
def shape(kind: int) -> tuple[float, float, float, int]:
    """Return (fundamental per volt of the junctions' step, windings' share of what lies in
    series, mean output per ampere of a winding's peak, number of windings)."""
    if kind == DELTA:
        return 2.0 * math.sqrt(3.0) / math.pi, 3.0, math.sqrt(3.0) / math.pi, 3
    if kind == SINGLE:
        return 4.0 / math.pi, 2.0, 2.0 / math.pi, 1
    return 2.0 / math.pi, 1.0, 1.0 / math.pi, 3


@compiled
def peak_amps(
    op: Array, winding: int, v: Number, series: float, behind: Number
) -> tuple[Number, Number, Number]:
    """Return (peak current [A], resistance, reactance) of a winding against ``v`` volts peak."""
    e = op[EMF_A + winding]
    free = np.maximum(e * e - v * v, 0.0)
    x = op[OMEGA] * op[L_A + winding]
    r = op[R_A + winding] + series * op[PLUG_A + winding] + behind
    return free / (v * r + np.sqrt(v * v * r * r + (r * r + x * x) * free)), r, x


@compiled
def mean_output(op: Array, kind: int, source_v: Number, rp: Number) -> Number:
    """Return the mean output [A] while charging into ``source_v`` behind ``rp`` ohms."""
    level, series, rectified, windings = shape(kind)
    v = level * (op[DN_V_A] + source_v + op[UP_V_A])
    output = 0.0 * v
    for winding in range(windings):
        output = output + rectified * peak_amps(op, winding, v, series, 0.6 * series * rp)[0]
    return output


@compiled
def start_currents(
    op: Array, kind: int, mode: int, source_v: Number, rp: Number, current: Array
) -> None:
    """Set branch currents (4,) at the start of a period.

    ``source_v`` and ``rp`` are the direct-current side's source and resistance.
    """
    level, series, _, windings = shape(kind)
    v = level * (op[DN_V_A] + (source_v + op[UP_V_A] if mode == CHARGE else op[CUT_V]))
    behind = 0.6 * series * rp if mode == CHARGE else 0.0 * rp
    for branch in range(4):
        current[branch] = 0.0
    for branch in range(0 if mode == CUT_SERIES else windings):
        peak, r, x = peak_amps(op, branch, v, series, behind)
        lag = np.arctan2(peak * x, v + peak * r)
        current[branch] = peak * np.cos(-2.0 * math.pi * branch / 3.0 - lag)
    current[3] = current[0]
