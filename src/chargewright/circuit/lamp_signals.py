"""What a meter finds at the lighting coil, its AC regulator and the headlamp, engine running.

Frame potential is the bridge between the two circuits of such a machine: a probe from the
lighting side to the battery side reads the sum of both, each against frame. Where both
alternate, the powers of the two are added, as if they were of different frequency (they are of
the same, with a phase this leaves out; the battery side's ripple is tenths of a volt).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from chargewright.circuit.half_wave import open_lead_phasors
from chargewright.circuit.lighting import Waves, coil_of, downstream_of, solve
from chargewright.circuit.signals import Probe, Signals, nothing
from chargewright.circuit.unplugged import HARMONICS, METER_S, from_phasors
from chargewright.circuit.wires import wire_between
from chargewright.machine.layout import LIGHTING_POINTS, Layout
from chargewright.machine.parameters import Array, column
from chargewright.machine.points import Point, State

SINE_FORM = np.pi / (2.0 * np.sqrt(2.0))
WAVE = {
    Point.LIGHT_COIL: "light_coil",
    Point.LIGHT_REG: "light_reg",
    Point.LAMP: "lamp",
    Point.REG_BODY: "body",
}
CURRENT = {"light_plug": "plug_a", "lamp_lead": "lamp_a"}


def battery_side(probe: Probe) -> Probe:
    """Return the probe with every point of the lighting side moved to frame."""
    plus, minus = (
        Point.FRAME if point in LIGHTING_POINTS else point for point in (probe.plus, probe.minus)
    )
    return Probe(plus, minus)


def is_lighting_wire(layout: Layout, probe: Probe) -> bool:
    """Tell whether a current is the lighting circuit's own."""
    return wire_between(layout, probe)[0] in CURRENT


def plugged(
    params: Array, state: State, rpm: Array, layout: Layout, volts: Sequence[Probe],
    amps: Sequence[Probe],
) -> tuple[Signals, Signals]:  # fmt: skip
    """Return the lighting side's part of volts and currents, plug in; (n, m) each."""
    coil = coil_of(params, state, rpm)
    waves = solve(coil, downstream_of(params, state))
    hertz = coil.omega / (2.0 * np.pi)
    zero = np.zeros_like(waves.lamp)

    def wave(point: Point) -> Array:
        return np.asarray(getattr(waves, WAVE[point])) if point in WAVE else zero

    across = [wave(probe.plus) - wave(probe.minus) for probe in volts]
    through = [_current(waves, params, layout, probe, zero) for probe in amps]
    return _read(across, hertz, waves), _read(through, hertz, waves)


def _current(waves: Waves, params: Array, layout: Layout, probe: Probe, zero: Array) -> Array:
    name, sign = wire_between(layout, probe)
    if name == "reg_ground":
        return sign * waves.body / np.maximum(column(params, "reg_ground_ohm"), 1e-5)
    return sign * getattr(waves, CURRENT[name]) if name in CURRENT else zero


def _read(waveforms: list[Array], hertz: Array, waves: Waves) -> Signals:
    """Return the statistics of odd waveforms, given by half a period (steps, n) each."""
    found = nothing(len(hertz), len(waveforms))
    for column_no, wave in enumerate(waveforms):
        rms = np.sqrt((wave**2).mean(axis=0))
        found.ac_true_rms[:, column_no] = rms
        found.ac_average[:, column_no] = SINE_FORM * np.abs(wave).mean(axis=0)
        found.frequency_hz[:, column_no] = np.where(rms > 0.0, hertz, 0.0)
    found.converged[:] = waves.converged
    return found


def unplugged(params: Array, state: State, rpm: Array, volts: Sequence[Probe]) -> Signals:
    """Return what probes on the open lighting lead read against frame, plug apart; (n, m)."""
    coil = coil_of(params, state, rpm)
    order = np.array(HARMONICS, dtype=np.float64)
    z = coil.ohm[:, None] + 1j * order * (coil.omega * coil.henry)[:, None]
    lead = open_lead_phasors(
        coil.emf_v.astype(complex), z, column(params, "light_leak_s"), np.ones(len(rpm)), METER_S
    )
    rms, average = from_phasors(lead)
    found = nothing(len(rpm), len(volts))
    for column_no, probe in enumerate(volts):
        if (probe.plus is Point.LIGHT_COIL) != (probe.minus is Point.LIGHT_COIL):
            found.ac_true_rms[:, column_no] = rms
            found.ac_average[:, column_no] = average
            found.frequency_hz[:, column_no] = coil.omega / (2.0 * np.pi)
    return found
