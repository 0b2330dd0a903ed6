"""The alternator turning with its plug open: what stands between its own leads, and to frame.

Windings carry no current but what a fault or the meter draws, so everything is linear and each
harmonic is one phasor. Machines with sound windings have a closed form; the others a small
complex nodal solve (windings, ground fault, short between leads A and B, and the meter).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.network import winding_ends
from chargewright.circuit.running import KIND, emf_peak_v, winding_temperature_c
from chargewright.circuit.signals import Probe, Signals
from chargewright.machine.layout import Layout, Winding
from chargewright.machine.parameters import OPEN_OHM, Array, column
from chargewright.machine.points import Point, State, Warmth
from chargewright.machine.winding import copper_factor

METER_S = 1e-7  # a 10 megohm meter
STRAY_S = 1e-9  # the winding's own insulation, at its start
HARMONICS = (1, 3, 5)
SAMPLES = 60  # points per period for the mean magnitude
FIRST_LEAD = int(Point.ALT_A)
Phasors = NDArray[np.complex128]
Pair = tuple[int | None, int | None]


def winding_phasors(layout: Layout, params: Array, state: State, rpm: Array) -> Phasors:
    """Return EMF phasors (n, 3 windings, 3 harmonics), peak volts."""
    peak = emf_peak_v(params, state, rpm)
    share = np.stack(
        [np.ones(len(rpm)), column(params, "emf_third"), column(params, "emf_fifth")], axis=1
    )
    lag = np.exp(-2j * np.pi * np.outer(np.arange(3), HARMONICS) / 3.0)
    phasors: Phasors = peak[:, :, None] * share[:, None, :] * lag[None, :, :]
    if layout.winding is Winding.SINGLE:
        phasors[:, 1:, :] = 0.0
    return phasors


def _closed_form(layout: Layout, emf: Phasors) -> Phasors:
    """Return lead phasors (n, 3, harmonics) of sound windings; only differences mean anything."""
    if layout.winding is Winding.STAR:
        return emf
    leads = np.zeros_like(emf)
    if layout.winding is Winding.SINGLE:
        leads[:, 0] = emf[:, 0]
        return leads
    # Delta: the loop's own sum (third harmonic, imbalance) drops in its equal impedances.
    around = emf.sum(axis=1) / 3.0
    leads[:, 0] = emf[:, 0] - around
    leads[:, 2] = -(emf[:, 1] - around)
    return leads


def impedances(params: Array, state: State, rpm: Array, leg: str) -> Phasors:
    """Return one winding's R + j w L at each harmonic, (n, harmonics) [ohm]."""
    ohm = column(params, f"winding_ohm_{leg}") * copper_factor(
        winding_temperature_c(params, state.warmth)
    )
    omega = 2.0 * np.pi * np.round(column(params, "pole_pairs")) * rpm / 60.0
    reactance = np.outer(omega * column(params, f"winding_h_{leg}"), HARMONICS)
    return np.asarray(np.minimum(ohm, OPEN_OHM)[:, None] + 1j * reactance)


def _faulted(
    layout: Layout, params: Array, state: State, emf: Phasors, rpm: Array, meter: Pair
) -> Phasors:
    """Return lead phasors (n, 3, harmonics) against frame by a nodal solve.

    Nodes: 0 winding start (neutral), 1 tap, 2..4 leads. ``meter`` names the two leads that a
    meter joins; None stands for the frame's side. Without the meter an open winding's lead would
    float at its full EMF; with it the reading is what leaks across the break.
    """
    n = params.shape[0]
    hot = state.warmth is Warmth.HOT
    leak = column(params, "stator_leak_hot_s" if hot else "stator_leak_s")
    at = np.clip(column(params, "stator_leak_at"), 0.01, 0.99)
    leads = np.zeros((n, 3, len(HARMONICS)), dtype=np.complex128)
    kind = KIND[layout.winding]
    z_of = {leg: impedances(params, state, rpm, leg) for leg in "abc"}
    for index in range(len(HARMONICS)):
        y = np.zeros((n, 5, 5), dtype=np.complex128)
        source = np.zeros((n, 5), dtype=np.complex128)

        def join(a: int, b: int, siemens: Phasors | Array | float, y: Phasors = y) -> None:
            y[:, a, a] += siemens
            y[:, b, b] += siemens
            y[:, a, b] -= siemens
            y[:, b, a] -= siemens

        for winding in range(1 if layout.winding is Winding.SINGLE else 3):
            z = z_of["abc"[winding]][:, index]
            start, end = winding_ends(kind, winding)
            pieces = [(start, end, 1.0 / z, np.ones(n))]
            if winding == 0:
                pieces = [
                    (start, 1, 1.0 / (at * z), at),
                    (1, end, 1.0 / ((1.0 - at) * z), 1.0 - at),
                ]
            for a, b, siemens, part in pieces:
                join(a, b, siemens)
                drive = siemens * part * emf[:, winding, index]
                source[:, b] += drive
                source[:, a] -= drive
        join(2, 3, column(params, "phase_short_s"))
        y[:, 1, 1] += leak
        for node in range(5):
            y[:, node, node] += STRAY_S if node == 0 else 1e-3 * STRAY_S
        first, second = meter
        if first is not None and second is not None:
            join(2 + first, 2 + second, METER_S)
        else:
            lead = 2 + (first if first is not None else second or 0)
            y[:, lead, lead] += METER_S
        leads[:, :, index] = np.linalg.solve(y, source[:, :, None])[:, 2:, 0]
    return leads


def from_phasors(phasors: Phasors) -> tuple[Array, Array]:
    """Return (true rms, 1.1107 x mean magnitude) of summed harmonics, each (n,)."""
    rms = np.sqrt(0.5 * (np.abs(phasors) ** 2).sum(axis=1))
    angle = 2j * np.pi * np.outer(HARMONICS, (np.arange(SAMPLES) + 0.5) / SAMPLES)
    samples = (phasors @ np.exp(angle)).real
    return rms, np.pi / (2.0 * np.sqrt(2.0)) * np.abs(samples).mean(axis=1)


def _lead(point: Point) -> int | None:
    """Return which lead a point is, or None for a point of the frame's side."""
    number = int(point) - FIRST_LEAD
    return number if 0 <= number < 3 else None


def lead_volts(
    layout: Layout, params: Array, state: State, rpm: Array, probes: Sequence[Probe]
) -> Signals:
    """Return signals for probes with at least one end on an alternator lead, plug open; (n, m).

    A probe from a lead to anything else is taken against frame: with the plug open the rest of
    the machine has no alternating voltage of its own.
    """
    emf = winding_phasors(layout, params, state, rpm)
    sound = _closed_form(layout, emf)
    hot = state.warmth is Warmth.HOT
    leak = column(params, "stator_leak_hot_s" if hot else "stator_leak_s")
    windings = [column(params, f"winding_ohm_{leg}") for leg in "abc"]
    broken = np.flatnonzero(
        (leak > 0) | (column(params, "phase_short_s") > 0) | (np.max(windings, axis=0) > 100.0)
    )
    n, m = params.shape[0], len(probes)
    rms = np.zeros((n, m))
    average = np.zeros((n, m))
    for col, probe in enumerate(probes):
        first, second = _lead(probe.plus), _lead(probe.minus)
        phasors = np.zeros((n, len(HARMONICS)), dtype=np.complex128)
        if first is not None and second is not None:
            phasors = sound[:, first] - sound[:, second]
        if broken.size:
            lead = _faulted(
                layout, params[broken], state, emf[broken], rpm[broken], (first, second)
            )
            zero = np.zeros_like(lead[:, 0])
            plus = zero if first is None else lead[:, first]
            minus = zero if second is None else lead[:, second]
            phasors[broken] = plus - minus
        rms[:, col], average[:, col] = from_phasors(phasors)
    period_hz = np.round(column(params, "pole_pairs")) * rpm / 60.0
    return Signals(
        dc=np.zeros((n, m)),
        ac_true_rms=rms,
        ac_average=average,
        frequency_hz=np.repeat(period_hz[:, None], m, axis=1),
        converged=np.ones(n, dtype=bool),
    )
