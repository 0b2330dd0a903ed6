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
def start_currents(
    op: Array, kind: int, mode: int, source_v: Number, rp: Number, current: Array
) -> Number:
    """Set branch currents (4,) at the start of a period; return the mean output [A].

    ``source_v`` and ``rp`` are the direct-current side's source and resistance.
    """
    level, series, rectified, windings = 2.0 / math.pi, 1.0, 1.0 / math.pi, 3
    if kind == DELTA:
        level, series, rectified = 2.0 * math.sqrt(3.0) / math.pi, 3.0, math.sqrt(3.0) / math.pi
    elif kind == SINGLE:
        level, series, rectified, windings = 4.0 / math.pi, 2.0, 2.0 / math.pi, 1
    height = op[DN_V_A] + (source_v + op[UP_V_A] if mode == CHARGE else op[CUT_V])
    behind = 0.6 * series * rp if mode == CHARGE else 0.0
    v = level * height
    output = 0.0 * v
    for branch in range(4):
        current[branch] = 0.0
    for branch in range(0 if mode == CUT_SERIES else windings):
        e = op[EMF_A + branch]
        free = np.maximum(e * e - v * v, 0.0)
        x = op[OMEGA] * op[L_A + branch]
        r = op[R_A + branch] + series * op[PLUG_A + branch] + behind
        peak = free / (v * r + np.sqrt(v * v * r * r + (r * r + x * x) * free))
        lag = np.arctan2(peak * x, v + peak * r)
        current[branch] = peak * np.cos(-2.0 * math.pi * branch / 3.0 - lag)
        output = output + rectified * peak
    current[3] = current[0]
    return output
