"""What a meter would read from simulated waveforms: mean, true rms, average-responding."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from chargewright.circuit import network as nw
from chargewright.machine.layout import Layout, Sense
from chargewright.machine.parameters import Array
from chargewright.machine.points import Point
from tests.spice.kernel import AMPS, VOLTS
from tests.spice.run import Waves

SINE_FORM = np.pi / (2 * np.sqrt(2))  # rms of a sine over its mean magnitude
NODE = {
    Point.BATTERY_NEG: "v(neg)",
    Point.BATTERY_POS: "v(pos)",
    Point.FUSE_OUT: "v(harness)",
    Point.REG_OUT: "v(plus)",
    Point.FRAME: "v(frame)",
    Point.ALT_A: "v(alt_a)",
    Point.ALT_B: "v(alt_b)",
    Point.ALT_C: "v(alt_c)",
    Point.REG_A: "v(reg_a)",
    Point.REG_B: "v(reg_b)",
    Point.REG_C: "v(reg_c)",
}
WIRE = {
    "lead A": "i(vlead_a)",
    "lead B": "i(vlead_b)",
    "lead C": "i(vlead_c)",
    "output": "i(vout)",
    "battery": "i(vbattery)",
    "ground": "i(vground)",
    "loads": "i(vload)",
}


def mean(time_s: Array, wave: Array) -> float:
    """Return the mean over an uneven time axis by the trapezoidal rule."""
    return float(np.trapezoid(wave, time_s) / (time_s[-1] - time_s[0]))


def read(parts: Sequence[tuple[float, Array, Array]]) -> Array:
    """Return (mean, rms about it, average-responding) of waveforms that share the time.

    ``parts`` holds (share of time, time [s], wave); the shares add up to 1.
    """
    middle = sum(share * mean(time_s, wave) for share, time_s, wave in parts)
    square = sum(share * mean(time_s, (wave - middle) ** 2) for share, time_s, wave in parts)
    size = sum(share * mean(time_s, np.abs(wave - middle)) for share, time_s, wave in parts)
    return np.array([middle, np.sqrt(square), SINE_FORM * size])


def point_wave(waves: Waves, point: Point, layout: Layout, op: Array) -> Array:
    """Return the potential of a test point against the regulator's body [V]."""
    if point is Point.REG_BODY:
        return np.zeros_like(waves.time_s)
    if point is Point.REG_SENSE:
        if layout.sense is Sense.LEAD:
            return np.asarray(waves["v(harness)"] - op[nw.SENSE_DROP_V])
        return waves["v(plus)"]
    return waves[NODE[point]]


def read_volts(modes: Sequence[tuple[float, Waves]], layout: Layout, op: Array) -> dict[str, Array]:
    """Return the three readings of every pair of points in ``kernel.VOLTS``."""
    found = {}
    for name, (plus, minus) in VOLTS.items():
        parts = []
        for share, waves in modes:
            wave = point_wave(waves, plus, layout, op) - point_wave(waves, minus, layout, op)
            parts.append((share, waves.time_s, wave))
        found[name] = read(parts)
    return found


def read_amps(modes: Sequence[tuple[float, Waves]]) -> dict[str, Array]:
    """Return the three readings of every wire in ``kernel.AMPS``."""
    return {
        name: read([(share, waves.time_s, waves[WIRE[name]]) for share, waves in modes])
        for name in AMPS
    }
