"""Where a running machine's power goes, part by part, from the solver's waveforms.

Every part by its own law from the voltages across it (junctions as their lines, leaks as
conductances), not by the solver's sums, so that what the EMFs give can be held against it.
"""

from __future__ import annotations

import numpy as np

from chargewright.circuit import network as nw
from chargewright.circuit.conduction import LEG_DN_S, LEG_DN_V, LEG_UP_S, LEG_UP_TO, LEG_UP_V
from chargewright.circuit.operate import CONVERGED, CUT, SOURCE_V
from chargewright.circuit.plain import Running, operate
from chargewright.circuit.plain_batch import Batch, assemble
from chargewright.circuit.running import KIND
from chargewright.circuit.switching import STEP, WEIGHT
from chargewright.circuit.waveforms import GROUND_WIRE, LEADS, OUTPUT, POINTS, ROW, WIRES, all_rows
from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense
from chargewright.machine.parameters import Array
from chargewright.machine.points import Point


def power_w(layout: Layout, op: Array, *, steps: int = 241) -> tuple[float, float] | None:
    """Return (what the EMFs give, what all parts take) [W] of one operating point (1, columns).

    None where the solver says that it has not converged.
    """
    to_battery, by_lead = layout.charge_to is ChargeTo.BATTERY, layout.sense is Sense.LEAD
    series = layout.regulator is Regulator.SERIES
    with np.errstate(all="ignore"):
        batch = assemble(
            np.ascontiguousarray(op.T),
            KIND[layout.winding],
            series,
            to_battery,
            nw.emf_table(steps),
        )
        result, runs = operate(batch, to_battery, by_lead)
    if not result[CONVERGED, 0]:
        return None
    volts, amps = np.zeros((POINTS, ROW, 1)), np.zeros((WIRES, ROW, 1))
    all_rows(batch.op, batch.y, result, to_battery, by_lead, volts, amps)
    cut = float(result[CUT, 0])
    total = np.zeros(2)
    for share, run in zip((1.0 - cut, cut), runs, strict=True):
        if share > 0.0:
            total += share * np.array(
                [
                    emf_w(batch, run, float(result[SOURCE_V, 0])),
                    winding_w(batch, run, float(result[SOURCE_V, 0]))
                    + parts_w(batch, run, float(result[SOURCE_V, 0]), volts[..., 0], amps[..., 0]),
                ]
            )
    return float(total[0]), float(total[1])


def branch_amps(batch: Batch, run: Running, source_v: float) -> Array:
    """Return the branches' currents (4, samples): means over a step, or at a half's end."""
    samples = run.mode.samples[:, :, 0]
    of_x, of_j = batch.part[nw.OF_X : nw.INTO, 0].reshape(2, nw.BRANCHES, nw.COLUMN)
    from_source = of_j[:, nw.FROM_SOURCE, None] * source_v
    return np.asarray(of_x[:, :4] @ samples[:4] + of_j[:, :4] @ samples[4:8] + from_source)


def shares_of(batch: Batch) -> Array:
    """Return the part (4,) of its winding that each branch is."""
    at = float(np.clip(batch.op[nw.LEAK_AT, 0], 0.01, 0.99))
    return np.array([1.0 - at, 1.0, 1.0, at])


def emf_w(batch: Batch, run: Running, source_v: float) -> float:
    """Return the mean power of the EMFs: mean EMF over a step times the current in it."""
    samples = run.mode.samples[:, :, 0]
    per_volt = np.maximum(batch.part[nw.PER_VOLT : nw.PER_VOLT + 4, 0], 1e-30)
    volts = batch.emf[:, :, 0] / per_volt[:, None] * shares_of(batch)[:, None]
    volts = volts[:, samples[STEP].astype(int)]
    return float((samples[WEIGHT] * volts * branch_amps(batch, run, source_v)).sum())


def winding_w(batch: Batch, run: Running, source_v: float) -> float:
    """Return the copper losses of the same currents."""
    square = branch_amps(batch, run, source_v) ** 2
    ohm = batch.op[[nw.R_A, nw.R_B, nw.R_C, nw.R_A], 0] * shares_of(batch)
    used = batch.part[nw.PER_VOLT : nw.PER_VOLT + 4, 0] > 0.0
    weights = run.mode.samples[WEIGHT, :, 0]
    return float((ohm[used, None] * square[used] * weights).sum())


def parts_w(batch: Batch, run: Running, source_v: float, volts: Array, amps: Array) -> float:
    """Return the mean power of all that lies behind the windings."""
    op, legs = batch.op[:, 0], run.mode.legs[:, 0]
    samples = run.mode.samples[:, :, 0]

    def wave(row: Array) -> Array:
        return np.asarray(row[:8] @ samples[:8] + row[8])

    tap_row = np.zeros((9, 1))
    nw.node_row(batch.y, 1, tap_row)
    tap_row[8] *= source_v
    at = {point: wave(volts[point]) for point in Point if point < POINTS}
    plus, frame = at[Point.REG_OUT], at[Point.FRAME]
    total = wave(amps[OUTPUT]) * (plus - frame)  # charge lead, battery, loads
    total = total + wave(amps[GROUND_WIRE]) * frame
    total += op[nw.LEAK_S] * (wave(tap_row[:, 0]) - frame) ** 2
    total += op[nw.SHORT_S] * (at[Point.ALT_A] - at[Point.ALT_B]) ** 2
    total += op[nw.HARNESS_S] * (at[Point.REG_A] - frame) ** 2
    for leg, (lead, behind) in enumerate(
        ((Point.ALT_A, Point.REG_A), (Point.ALT_B, Point.REG_B), (Point.ALT_C, Point.REG_C))
    ):
        u = at[behind]
        total += wave(amps[LEADS + leg]) * (at[lead] - u)
        total += op[nw.UP_LEAK_A + leg] * (u - plus) ** 2 + op[nw.DN_LEAK_A + leg] * u**2
        rail = legs[LEG_UP_TO] * plus
        up = legs[LEG_UP_S + leg] * np.maximum(u - rail - legs[LEG_UP_V + leg], 0.0)
        down = legs[LEG_DN_S + leg] * np.maximum(-u - legs[LEG_DN_V + leg], 0.0)
        total += up * (u - rail) - down * u
    return float((samples[WEIGHT] * total).sum())
