"""Average-responding against true-rms on the waveforms of a charging system.

Ratios are exact integrals of each shape; waves are sampled finely and their mean taken off,
as the circuit does, then shown by one card of each kind.
"""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest

from chargewright.errors import InputError
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters.indicate import Indication, indicate_volts
from chargewright.meters.load import load_meter

N = 720_000
THETA = (np.arange(N) + 0.5) * 2 * pi / N
SINE = np.sin(THETA)
LINES = np.array([np.sin(THETA - k * pi / 3) for k in range(3)])
FORM_FACTOR = pi / (2 * sqrt(2))


def shown(card_id: str, wave: Array, frequency_hz: float = 0.0) -> Indication:
    alternating = wave - wave.mean()
    return indicate_volts(
        load_meter(card_id),
        Function.AC_V,
        dc=np.array([wave.mean()]),
        ac_true_rms=np.array([np.sqrt(np.mean(alternating**2))]),
        ac_average=np.array([FORM_FACTOR * np.mean(np.abs(alternating))]),
        frequency_hz=np.array([frequency_hz]),
    )


def firing(degrees: float) -> Array:
    """Both half-cycles blocked until the firing angle."""
    return np.where(np.mod(THETA, pi) >= np.radians(degrees), SINE, 0.0)


def clipped(level: float) -> Array:
    return np.clip(SINE / level, -1.0, 1.0)


PHASES = [np.sin(THETA - 2 * pi * k / 3) for k in range(3)]
# One upper diode open: the output is the largest remaining upper minus the lowest lower phase.
ONE_OPEN = np.clip(np.max(PHASES[1:], axis=0) - np.min(PHASES, axis=0), 0.0, None)
SIX_PULSE = (np.max(PHASES, axis=0) - np.min(PHASES, axis=0)) / sqrt(3)  # peak 1

WAVES = {
    "sine": (SINE, 0.7071, 0.7071, 1.000),
    "square": (np.sign(SINE), 1.0000, 1.1107, 1.111),
    "triangle": (2 / pi * np.arcsin(SINE), 0.5774, 0.5554, 0.962),
    "quasi-square 120": (np.where(np.abs(SINE) > 0.5, np.sign(SINE), 0.0), 0.8165, 0.7405, 0.907),
    "clipped at 0.9": (clipped(0.9), 0.757, 0.762, 1.007),
    "clipped at 0.7": (clipped(0.7), 0.828, 0.851, 1.028),
    "clipped at 0.5": (clipped(0.5), 0.884, 0.930, 1.052),
    "fired at 30": (firing(30), 0.697, 0.660, 0.947),
    "fired at 60": (firing(60), 0.634, 0.530, 0.836),
    "fired at 90": (firing(90), 0.500, 0.354, 0.707),
    "fired at 120": (firing(120), 0.313, 0.177, 0.565),
    "fired at 150": (firing(150), 0.120, 0.047, 0.394),
    "half-wave, AC part": (np.maximum(SINE, 0.0), 0.3856, 0.3897, 1.011),
    "full-wave, AC part": (np.abs(SINE), 0.3078, 0.2977, 0.967),
}


@pytest.mark.parametrize("name", WAVES)
def test_what_each_kind_of_meter_shows(name: str) -> None:
    wave, true, average, ratio = WAVES[name]
    digit = 5.5e-4 if true < 1 and round(true, 3) == true else 5.5e-5
    rms = shown("trms-6000", wave).centre[0]
    mean = shown("average-2000", wave).centre[0]
    assert rms == pytest.approx(true, abs=digit)
    assert mean == pytest.approx(average, abs=digit)
    assert mean / rms == pytest.approx(ratio, abs=5.5e-4)


def test_six_pulse_ripple() -> None:
    # peak of the line voltage sqrt(3): the AC part in units of the phase peak
    wave = SIX_PULSE * sqrt(3)
    rms, mean = (shown(card, wave).centre[0] for card in ("trms-6000", "average-2000"))
    assert rms == pytest.approx(0.0694, abs=5.5e-5)
    assert mean == pytest.approx(0.0664, abs=5.5e-5)
    assert mean / rms == pytest.approx(0.957, abs=5.5e-4)


def test_one_diode_open() -> None:
    rms, mean = (shown(card, ONE_OPEN).centre[0] for card in ("trms-6000", "average-2000"))
    assert ONE_OPEN.mean() == pytest.approx(1.3783, abs=5.5e-5)
    assert rms == pytest.approx(0.4696, abs=5.5e-5)
    assert mean == pytest.approx(0.4139, abs=5.5e-5)
    assert mean / rms == pytest.approx(0.881, abs=5.5e-4)


@pytest.mark.parametrize("degrees", [30, 60, 90, 120, 150])
def test_firing_angle_closed_forms(degrees: float) -> None:
    a = np.radians(degrees)
    rms = sqrt((pi - a + np.sin(2 * a) / 2) / (2 * pi))
    mean = FORM_FACTOR * (1 + np.cos(a)) / pi
    assert shown("trms-6000", firing(degrees)).centre[0] == pytest.approx(rms, abs=1e-6)
    assert shown("average-2000", firing(degrees)).centre[0] == pytest.approx(mean, abs=1e-5)


def test_one_pole_roll_off() -> None:
    card = load_meter("average-2000")
    corner = card.functions[Function.AC_V].bandwidth_hz
    low, at_corner = (shown("average-2000", 50 * SINE, f) for f in (0.0, corner))
    assert at_corner.centre[0] / low.centre[0] == pytest.approx(1 / sqrt(2))
    assert low.sigma[0] == 0.0
    assert at_corner.sigma[0] == pytest.approx((1 - 1 / sqrt(2)) / 3 * low.centre[0])


def test_second_frequency_band_is_wider() -> None:
    # 750 Hz (9 pole pairs at 5000 rpm): outside 40-400 Hz, second band of a 1 kHz meter
    inside, beyond = (shown("trms-6000", 50 * SINE, f) for f in (400.0, 750.0))
    volts = 50 / sqrt(2)
    assert inside.half_width[0] == pytest.approx(0.010 * volts + 0.03, rel=0.003)
    assert beyond.half_width[0] == pytest.approx(0.020 * volts + 0.03, rel=0.007)


def test_only_volts() -> None:
    nothing = np.zeros(1)
    with pytest.raises(InputError, match="'ohm': expected dc_v or ac_v"):
        indicate_volts(
            load_meter(),
            Function.OHM,
            dc=nothing,
            ac_true_rms=nothing,
            ac_average=nothing,
            frequency_hz=nothing,
        )


def test_a_sine_reads_the_same_on_both_kinds() -> None:
    first, second = (shown(card, 20 * SINE) for card in ("trms-6000", "average-2000"))
    assert first.centre[0] == pytest.approx(second.centre[0], rel=1e-6)
