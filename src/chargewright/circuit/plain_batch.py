"""The path without a compiler: a batch of machines made ready to run, in NumPy."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from chargewright.circuit import network as nw
from chargewright.circuit.conduction import CUT_SERIES, CUT_SHUNT
from chargewright.circuit.direct_current import SAME_V, paths
from chargewright.circuit.network import INNER, NODES, PART, WIDTH
from chargewright.circuit.period import MOST_UNSETTLED
from chargewright.circuit.polarisation import (
    Polarisation,
    overvoltage_slope_ohm,
    overvoltage_v,
)
from chargewright.machine.parameters import Array


def eliminate(y: Array) -> None:
    """Eliminate the inner nodes of n networks (NODES, WIDTH, n), as ``network.eliminate``."""
    for k in range(INNER):
        y[k, k + 1 :] /= y[k, k + 1 : NODES + 1].sum(axis=0)
        y[k + 1 : NODES, k + 1 :] += y[k + 1 : NODES, k, None] * y[None, k, k + 1 :]
    for k in range(INNER - 2, -1, -1):
        for i in range(k + 1, INNER):
            y[k, INNER:] += y[k, i] * y[i, INNER:]


def law_of(op: Array) -> Polarisation:
    """Return the batteries' over-voltage laws; one without gassing has next to none."""
    return Polarisation(
        charge_scale_v=op[nw.CHARGE_V],
        charge_knee_a=op[nw.CHARGE_A],
        stored_most_a=np.where(op[nw.GAS_A] > 0.0, op[nw.STORED_A], np.inf),
        gas_scale_v=np.where(op[nw.GAS_A] > 0.0, op[nw.GAS_V], 1.0),
        gas_knee_a=np.maximum(op[nw.GAS_A], 1e-100),
        draw_scale_v=op[nw.DRAW_V],
        draw_knee_a=op[nw.DRAW_A],
        empty_v=op[nw.EMPTY_V],
        empty_a=op[nw.EMPTY_A],
    )


def battery_current(op: Array, ohm: Array, volts: Array) -> tuple[Array, Array]:
    """Return (current I, over-voltage eta) of eta(I) + ohm I = volts, arrays (n,).

    Newton with the bracket [0, volts / ohm] kept: halved where a step would leave it.
    """
    law = law_of(op)
    low, high = np.minimum(volts / ohm, 0.0), np.maximum(volts / ohm, 0.0)
    current = np.zeros(op.shape[1])
    for _ in range(200):
        miss = volts - overvoltage_v(law, current) - ohm * current
        low = np.where(miss > 0.0, current, low)
        high = np.where(miss < 0.0, current, high)
        step = current + miss / (overvoltage_slope_ohm(law, current) + ohm)
        inside = (step >= low) & (step <= high)
        current = np.where(inside, step, 0.5 * (low + high))
        if (np.abs(miss) < 1e-5 * SAME_V).all():
            break
    return current, overvoltage_v(law, current)


def law_gap(op: Array, e: Array, current: Array) -> Array:
    """Return how far the batteries' laws lie above ``e`` (n,), as ``direct_current.law_gap``."""
    return np.asarray(op[nw.BATTERY_E_V] + overvoltage_v(law_of(op), current) - e)


@dataclass(slots=True, kw_only=True)
class Batch:
    """n machines being solved: columns (c, n), network, direct-current side, sources."""

    op: Array
    kind: int
    cut_mode: int
    steps: int
    battery: Array
    load: Array
    rp: Array
    y: Array
    part: Array
    emf: Array
    frame: Array
    rest: Array

    @property
    def divide(self) -> Array:
        """The internal voltage per volt of the direct-current side's source."""
        return 1.0 + self.load * self.battery


def assemble(op: Array, kind: int, series: bool, to_battery: bool, cosines: Array) -> Batch:
    """Return the batch with its networks reduced and its sources filled."""
    n, steps = op.shape[1], cosines.shape[1]
    battery, load, rp = paths(op, to_battery)
    y = np.zeros((NODES, WIDTH, n))
    part = np.zeros((PART, n))
    nw.assemble(op, kind, 2.0 * math.pi / (op[nw.OMEGA] * steps), rp, y, part)
    eliminate(y)
    nw.drive_rows(op, kind, y, part)
    frame = np.zeros((9, n))
    nw.node_row(y, nw.FRAME_NODE, frame)
    shape = cosines.reshape(3, 3, steps, 1)
    wave = shape[:, 0] + op[nw.THIRD] * shape[:, 1] + op[nw.FIFTH] * shape[:, 2]
    per_volt = part[nw.PER_VOLT : nw.PER_VOLT + 3] * op[nw.EMF_A : nw.EMF_A + 3]
    emf = per_volt[:, None] * wave
    windings = 1 if kind == nw.SINGLE else 3
    decay = op[nw.R_A : nw.R_A + windings] / op[nw.L_A : nw.L_A + windings]
    rest = 1.0 / np.expm1(2.0 * math.pi / op[nw.OMEGA] * decay.min(axis=0))
    return Batch(
        op=op,
        kind=kind,
        cut_mode=CUT_SERIES if series else CUT_SHUNT,
        steps=steps,
        battery=battery,
        load=load,
        rp=rp,
        y=y,
        part=part,
        emf=np.concatenate([emf, emf[:1]]),
        frame=frame,
        rest=np.minimum(rest, MOST_UNSETTLED),
    )
