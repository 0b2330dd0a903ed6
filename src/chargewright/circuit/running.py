"""The machine with its engine running and the alternator plug in: volts and amperes anywhere.

``operating_points`` turns parameters and state into the kernel's columns (temperatures, speed,
loads, junction lines); ``signals`` solves every machine once and reads off all probes.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit import network as nw
from chargewright.circuit import plain_signals
from chargewright.circuit.battery import BatteryArrays, battery_of
from chargewright.circuit.compiled import HAVE_NUMBA, entry, on_all_cores
from chargewright.circuit.conduction import LEGS
from chargewright.circuit.junction import chord, volts_at_1ma
from chargewright.circuit.operate import CONVERGED, RESULTS, operate
from chargewright.circuit.period import MODE, SCRATCH
from chargewright.circuit.signals import Probe, Signals
from chargewright.circuit.switching import COUNT, MOST_PARTS, SAMPLE_ROWS, STEP
from chargewright.circuit.waveforms import (
    BATTERY_WIRE,
    BLOCK,
    GROUND_WIRE,
    LEADS,
    LOADS,
    OUTPUT,
    READING,
    WIRE,
    order_table,
    read_off,
)
from chargewright.circuit.wires import check_probes, wire_between
from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense, Winding
from chargewright.machine.parameters import OPEN_OHM, Array, column
from chargewright.machine.points import State, Warmth
from chargewright.machine.winding import copper_factor

# Time steps in an electrical period. Not a multiple of 3: the legs' switchings then fall at
# different places within a step, and what is left of the error there averages out. Output
# against 1441 steps over one class's causes and pairs, median and 99th percentile:
STEPS = 53  # 0.03 % and 0.7 %
ROUGH_STEPS = 31  # 0.07 % and 1.6 %, for populations, whose model error is wider than that
RATED_LOAD_V = 13.5  # voltage at which load currents are stated
KIND = {Winding.STAR: nw.STAR, Winding.DELTA: nw.DELTA, Winding.SINGLE: nw.SINGLE}


def winding_temperature_c(params: Array, warmth: Warmth) -> Array:
    """Return the copper temperature [C] of each machine, shape (n,)."""
    return column(params, "stator_hot_c" if warmth is Warmth.HOT else "ambient_c")


def emf_peak_v(params: Array, state: State, rpm: Array) -> Array:
    """Return the peak EMF [V] of each winding, shape (n, 3)."""
    warm = column(params, "magnet_hot_c" if state.warmth is Warmth.HOT else "ambient_c")
    flux = 1.0 + column(params, "magnet_per_k") * (warm - 20.0)
    return np.stack(
        [
            np.sqrt(2.0) * column(params, f"emf_v_per_krpm_{leg}") * rpm / 1000.0 * flux
            for leg in "abc"
        ],
        axis=1,
    )


def load_siemens(params: Array, state: State) -> Array:
    """Return the conductance [S] of the loads that are on, shape (n,)."""
    amps = column(params, "running_load_a") + column(params, "accessory_load_a")
    if state.lights_on:
        amps = amps + column(params, "light_load_a")
    return amps / RATED_LOAD_V + column(params, "drain_a") / 12.6


def operating_points(layout: Layout, params: Array, state: State, rpm: Array) -> Array:
    """Return the kernel's columns, shape (n, network.POINT_COLUMNS)."""
    hot = state.warmth is Warmth.HOT
    op = np.zeros((params.shape[0], nw.POINT_COLUMNS))
    op[:, nw.OMEGA] = 2.0 * np.pi * np.round(column(params, "pole_pairs")) * rpm / 60.0
    op[:, nw.EMF_A : nw.EMF_A + 3] = emf_peak_v(params, state, rpm)
    op[:, nw.THIRD] = column(params, "emf_third")
    op[:, nw.FIFTH] = column(params, "emf_fifth")
    copper = copper_factor(winding_temperature_c(params, state.warmth))
    regulator_c = column(params, "regulator_hot_c" if hot else "ambient_c")
    for index, leg in enumerate("abc"):
        op[:, nw.R_A + index] = np.minimum(column(params, f"winding_ohm_{leg}") * copper, OPEN_OHM)
        op[:, nw.L_A + index] = column(params, f"winding_h_{leg}")
        op[:, nw.PLUG_A + index] = column(params, f"plug_ohm_{leg}")
        for side, volt_col, slope_col in (
            ("up", nw.UP_V_A, nw.UP_S_A),
            ("dn", nw.DN_V_A, nw.DN_S_A),
        ):
            at_1ma = volts_at_1ma(column(params, f"{side}_v_{leg}"), regulator_c)
            offset, ohm = chord(
                at_1ma, column(params, "junction_n"), column(params, "junction_ohm"), regulator_c
            )
            if side == "up" and layout.regulator is Regulator.SERIES:
                offset, ohm = column(params, "shunt_v"), column(params, "shunt_ohm")
            conducts = column(params, f"{side}_open_{leg}") < 0.5
            op[:, volt_col + index] = offset
            op[:, slope_col + index] = np.where(conducts, 1.0 / np.maximum(ohm, 1e-4), 0.0)
            leak_col = nw.UP_LEAK_A if side == "up" else nw.DN_LEAK_A
            op[:, leak_col + index] = column(params, f"{side}_leak_s_{leg}")
    if layout.winding is Winding.SINGLE:
        for col in (nw.UP_S_C, nw.DN_S_C, nw.UP_LEAK_C, nw.DN_LEAK_C):
            op[:, col] = 0.0
        op[:, nw.PLUG_C] = OPEN_OHM
    op[:, nw.LEAK_S] = column(params, "stator_leak_hot_s" if hot else "stator_leak_s")
    op[:, nw.LEAK_AT] = column(params, "stator_leak_at")
    op[:, nw.SHORT_S] = column(params, "phase_short_s")
    op[:, nw.HARNESS_S] = column(params, "harness_leak_s")
    op[:, nw.CUT_V] = column(params, "shunt_v")
    op[:, nw.CUT_S] = 1.0 / np.maximum(column(params, "shunt_ohm"), 1e-4)
    setpoint = column(params, "setpoint_v") + column(params, "setpoint_v_per_k") * (
        regulator_c - 20.0
    )
    op[:, nw.SETPOINT_V] = setpoint + (column(params, "setpoint_hot_shift_v") if hot else 0.0)
    if layout.regulator is not Regulator.NONE:
        op[:, nw.CUT_MIN] = column(params, "cut_min_hot" if hot else "cut_min")
        op[:, nw.CUT_MAX] = column(params, "cut_max")
    if layout.sense is Sense.LEAD:
        drop = column(params, "sense_ohm") * column(params, "sense_a")
        op[:, nw.SENSE_DROP_V] = np.minimum(drop, 14.0)
    op[:, nw.CHARGE_OHM] = column(params, "charge_lead_ohm")
    op[:, nw.FUSE_OHM] = column(params, "fuse_ohm")
    op[:, nw.CLAMP_OHM] = column(params, "pos_clamp_ohm")
    op[:, nw.NEG_OHM] = column(params, "neg_cable_ohm")
    op[:, nw.GROUND_OHM] = column(params, "reg_ground_ohm")
    op[:, nw.LOAD_S] = np.maximum(load_siemens(params, state), 1e-4)
    put_battery(op, battery_of(params, state))
    return op


def put_battery(op: Array, battery: BatteryArrays) -> None:
    """Write the battery's law into its columns."""
    op[:, nw.BATTERY_E_V] = battery.emf_v
    op[:, nw.BATTERY_OHM] = battery.ohmic_ohm
    op[:, nw.CHARGE_V] = battery.charge_scale_v
    op[:, nw.CHARGE_A] = battery.charge_knee_a
    op[:, nw.STORED_A] = battery.stored_most_a
    op[:, nw.GAS_V] = battery.gas_scale_v
    op[:, nw.GAS_A] = battery.gas_knee_a
    op[:, nw.DRAW_V] = battery.draw_scale_v
    op[:, nw.DRAW_A] = battery.draw_knee_a
    op[:, nw.EMPTY_V] = battery.empty_v
    op[:, nw.EMPTY_A] = battery.empty_a


@entry
def solve_some(
    chosen: NDArray[np.intp],
    ops: Array,
    kind: int,
    series: bool,
    to_battery: bool,
    by_lead: bool,
    cosines: Array,
    turns: Array,
    plus: np.ndarray,
    minus: np.ndarray,
    answers: Array,
    results: Array,
) -> None:
    """Solve the ``chosen`` (k,) machines one after another; arrays as in ``solve_all``."""
    steps = cosines.shape[1]
    y = np.zeros((nw.NODES, nw.WIDTH))
    scratch = np.zeros(SCRATCH)
    emf = np.zeros((4, steps))
    samples = np.zeros((2, MOST_PARTS * steps, SAMPLE_ROWS))
    rows = np.zeros((2, SAMPLE_ROWS, MOST_PARTS * steps + BLOCK))
    reading = np.zeros(READING + turns.shape[1])
    counts = np.zeros(2)
    for step in range(steps):
        samples[:, step, STEP] = step
    for i in chosen:
        op, result = ops[i], results[i]
        operate(op, kind, series, to_battery, by_lead, cosines, y, emf, scratch, samples, result)
        counts[0], counts[1] = scratch[LEGS + COUNT], scratch[MODE + LEGS + COUNT]
        read_off(
            op,
            y,
            result,
            to_battery,
            by_lead,
            samples,
            counts,
            turns,
            plus,
            minus,
            rows,
            reading,
            answers[i],
        )


def solve_all(
    ops: Array,
    kind: int,
    series: bool,
    to_battery: bool,
    by_lead: bool,
    cosines: Array,
    plus: NDArray[np.int64],
    minus: NDArray[np.int64],
    answers: Array,
    results: Array,
    *,
    plain: bool = not HAVE_NUMBA,
) -> None:
    """Solve every machine; ``answers`` (n, m, 4) statistics of m probes, ``results`` (n, RESULTS).

    ``cosines`` is ``network.emf_table(steps)``; see also ``needs_fine_steps``. ``plus`` and
    ``minus`` (m,) are points, or ``plus`` is WIRE + a wire and ``minus`` its sign.
    """
    some = plain_signals.solve_some if plain else solve_some
    layout = (kind, series, to_battery, by_lead)

    def solve_these(rows: NDArray[np.bool_], table: Array) -> None:
        turns = order_table(table.shape[1])
        chosen = np.flatnonzero(rows)

        def solve(part: slice) -> None:
            some(chosen[part], ops, *layout, table, turns, plus, minus, answers, results)

        on_all_cores(solve, chosen.size)

    finer = finer_steps(cosines.shape[1])
    fine = needs_fine_steps(ops, kind)
    for rows, table in ((~fine, cosines), (fine, nw.emf_table(finer))):
        if rows.any():
            solve_these(rows, table)
    lost = results[:, CONVERGED] < 0.5  # alternating about a step's own error, where it is coarse
    if lost.any():
        solve_these(lost, nw.emf_table(finer_steps(finer)))


def finer_steps(steps: int) -> int:
    """Return about twice the steps, odd and no multiple of 3."""
    finer = 2 * steps + 1
    return finer if finer % 3 else finer + 2


def needs_fine_steps(ops: Array, kind: int) -> NDArray[np.bool_]:
    """Tell which machines get twice the steps, (n,).

    With two junctions open a lead's current ends and two others' begin at the same moment, and
    half a step of many volts is put on the wrong side of it; a short between leads makes a time
    constant not much longer than a step.
    """
    used = 2 if kind == nw.SINGLE else 3
    open_ = np.zeros(len(ops), dtype=np.intp)
    for first in (nw.UP_S_A, nw.DN_S_A):
        for column_no in range(first, first + used):
            open_ += ops[:, column_no] == 0.0
    return np.asarray((open_ >= 2) | (ops[:, nw.SHORT_S] > 0.0))


# The kernel's wire behind each name, and its sign against the name's own direction.
CARRIED = {
    "neg_cable": (BATTERY_WIRE, -1),
    "charge_lead": (OUTPUT, 1),
    "reg_ground": (GROUND_WIRE, -1),
    "plug_a": (LEADS, 1),
    "plug_b": (LEADS + 1, 1),
    "plug_c": (LEADS + 2, 1),
}


def current_row(layout: Layout, probe: Probe) -> tuple[int, int]:
    """Return the kernel's row for a current; the starter's cable carries none while running."""
    name, sign = wire_between(layout, probe)
    if name == "fuse":
        to_battery = layout.charge_to is ChargeTo.BATTERY
        wire, own = (LOADS, 1) if to_battery else (BATTERY_WIRE, -1)
    elif name in CARRIED:
        wire, own = CARRIED[name]
    else:
        return 0, 0  # a point against itself: nothing
    return WIRE + wire, sign * own


def signals(
    layout: Layout,
    params: Array,
    state: State,
    rpm: Array,
    volts: Sequence[Probe],
    amps: Sequence[Probe],
    *,
    steps: int = STEPS,
) -> tuple[Signals, Signals]:
    """Return (volts between points, amperes in wires), engine running, plug in; arrays (n, m).

    ``params`` (n, COUNT), ``rpm`` (n,) crankshaft speed of each machine. Raises ``InputError``
    for an ``amps`` probe whose points no single wire joins.
    """
    check_probes(layout, [*volts, *amps])
    rows = [(int(p.plus), int(p.minus)) for p in volts]
    rows += [current_row(layout, p) for p in amps]
    ops = operating_points(layout, params, state, rpm)
    answers = np.zeros((params.shape[0], len(rows), 4))
    results = np.zeros((params.shape[0], RESULTS))
    solve_all(
        ops,
        KIND[layout.winding],
        layout.regulator is Regulator.SERIES,
        layout.charge_to is ChargeTo.BATTERY,
        layout.sense is Sense.LEAD,
        nw.emf_table(steps),
        np.array([row[0] for row in rows], dtype=np.int64),
        np.array([row[1] for row in rows], dtype=np.int64),
        answers,
        results,
    )
    for column_no, probe in enumerate(amps, start=len(volts)):
        name, sign = wire_between(layout, probe)
        if name == "sense":  # drawn by the regulator, whatever the rest does
            answers[:, column_no, 0] = -sign * column(params, "sense_a")
    period_hz = ops[:, nw.OMEGA, None] / (2.0 * np.pi)
    converged = results[:, CONVERGED] > 0.5
    return (
        _signals(answers[:, : len(volts)], period_hz, converged),
        _signals(answers[:, len(volts) :], period_hz, converged),
    )


def _signals(answers: Array, period_hz: Array, converged: NDArray[np.bool_]) -> Signals:
    return Signals(
        dc=answers[:, :, 0],
        ac_true_rms=answers[:, :, 1],
        ac_average=answers[:, :, 2],
        frequency_hz=answers[:, :, 3] * period_hz,
        converged=converged,
    )
