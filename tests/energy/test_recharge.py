"""Seven recharges of one 17 Ah 12 V VRLA battery, predicted from one of them.

Data: V. Sulzer et al., J. Electrochem. Soc. 166 (2019) A2363, public telemetry, thinned to every
half ampere-hour put in by medians over 0.25 Ah (0.5 Ah after 15 Ah, where the charger hunts) and
kept in ``tests/data`` with its licence. ``out_ah`` is what the discharge just before gave.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from chargewright.energy.charging import Charge, accepted
from chargewright.machine.layout import Chemistry
from chargewright.machine.parameters import Array

FOLDER = Path(__file__).parents[1] / "data"
OWN_OHM = 3.0 / (17.0 * 17.0)  # 17 Ah x 17 A/Ah, 3.0 V/CCA: the prior of its class
LIMIT_V = 14.4
HELD_A = 2.3  # below it the charger no longer holds its current: its volts jump by up to 0.6 V
PARTIAL = 4  # began after 8.57 Ah, the others after a discharge to 10.5 V
FULL = (1, 2, 3, 5, 6, 7)


class Recharge(NamedTuple):
    """What was measured at ``in_ah`` (k,), and the Ah taken out before."""

    out_ah: float
    in_ah: Array
    current_a: Array
    volts: Array
    temp_c: Array


class Fit(NamedTuple):
    """The two parameters: wiring, and the battery's capacity per Ah of the discharge before."""

    wiring_ohm: float
    share: float


def recharges() -> dict[int, Recharge]:
    with (FOLDER / "vrla-17ah-recharges.csv").open(encoding="utf-8") as file:
        rows = [[float(value) for value in row] for row in list(csv.reader(file))[1:]]
    table = np.array(rows)
    found = {}
    for number in range(1, 8):
        part = table[table[:, 0] == number]
        found[number] = Recharge(float(part[0, 1]), *part[:, 2:].T)
    return found


MEASURED = recharges()


def predicted(one: Recharge, fit: Fit, *, capacity_ah: float, soc: float = 0.0) -> Array:
    """Return post volts plus wiring (k,) at the measured currents; what gasses is not stored."""
    size = one.in_ah.size
    held = np.zeros(size)
    for _ in range(4):  # what gasses before a row depends on the rows before it
        at = np.minimum(soc + (one.in_ah - held) / capacity_ah, 0.9999)
        charge = Charge(
            chemistry=Chemistry.AGM,
            capacity_ah=np.full(size, capacity_ah),
            battery_ohm=np.full(size, OWN_OHM),
            soc=at,
            efficiency=np.ones(size),
            current_a=one.current_a,
            limit_v=LIMIT_V,
            temp_c=one.temp_c,
        )
        volts, amps, stored = accepted(charge, at)
        lost = np.concatenate([[0.0], 1.0 - stored / amps])
        steps = np.diff(np.concatenate([[0.0], one.in_ah]))
        held = np.cumsum(0.5 * (lost[1:] + lost[:-1]) * steps)
    return np.minimum(volts + fit.wiring_ohm * one.current_a, LIMIT_V)


def errors(number: int, fit: Fit, most_ah: float = 16.0) -> Array:
    one = MEASURED[number]
    volts = predicted(one, fit, capacity_ah=fit.share * one.out_ah)
    return (volts - np.minimum(one.volts, LIMIT_V))[one.in_ah <= most_ah]


def rms(error: Array) -> float:
    return float(np.sqrt((error**2).mean()))


def fitted(number: int) -> Fit:
    """Return wiring and capacity by least squares on one recharge, 0.5 to 16 Ah: Gauss-Newton."""
    at = np.array([0.036, 1.0])
    for _ in range(8):
        base = errors(number, Fit(*at))
        slopes = [
            (errors(number, Fit(*(at + step))) - base) / 1e-4 for step in 1e-4 * np.identity(2)
        ]
        at = at - np.linalg.lstsq(np.array(slopes).T, base, rcond=None)[0]
    return Fit(*at)


def held_ah(number: int) -> float:
    """Return the Ah up to which the charger held its current."""
    one = MEASURED[number]
    return float(one.in_ah[np.argmax(one.current_a < HELD_A) - 1])


AFTER_2_AND_3 = pytest.mark.xfail(
    strict=True, reason="after these two the battery lost more than its next discharge shows"
)


@pytest.mark.parametrize(
    "number",
    [1, pytest.param(2, marks=AFTER_2_AND_3), pytest.param(3, marks=AFTER_2_AND_3), 5, 6, 7],
)
def test_two_parameters_from_one_recharge_predict_the_others(number: int) -> None:
    """The other five full recharges within 60 mV rms while the charger holds its current.

    The law's shape was found on recharge 1 alone. Fitted on 2 or 3, recharges 5 and 6 are missed
    by up to 65 mV.
    """
    fit = fitted(number)
    assert 0.015 < fit.wiring_ohm < 0.05  # the load steps of the same record say 36 milliohm
    assert 0.97 < fit.share < 1.03
    found = {k: rms(errors(k, fit, min(held_ah(k), 16.0))) for k in FULL}
    assert max(found.values()) < 0.060, found


def test_the_others_up_to_16_ah() -> None:
    """From recharge 1, all rows from 0.5 to 16 Ah, the charger's hunting included.

    The worst is the seventh, by a hair: hunting from 15.4 Ah on, it reads 14.02 V at 16 Ah and
    14.48 V half an ampere-hour later. Up to 15.5 Ah it is 34 mV rms.
    """
    fit = fitted(1)
    found = {k: rms(errors(k, fit)) for k in FULL}
    assert max(found.values()) < 0.060, found


def test_the_taper_at_the_limit() -> None:
    """Held at the limit, the volts asked for the measured current stay within 0.15 V of it."""
    fit, one = fitted(1), MEASURED[1]
    late = one.in_ah > 17.0
    volts = predicted(one, fit, capacity_ah=fit.share * one.out_ah)
    assert np.abs(volts - np.minimum(one.volts, LIMIT_V))[late].max() < 0.15


def test_a_recharge_from_half_is_another_thing() -> None:
    """After 8.57 of 19.67 Ah the model reads 0.2 to 0.4 V too high.

    It takes charge like recharge 1 does 10 Ah in, which has 9.7 Ah to go, not 8.6: a battery not
    filled quite up before, or sulphate that is fresh. The record cannot tell which.
    """
    fit, one = fitted(1), MEASURED[PARTIAL]
    before = fit.share * MEASURED[3].out_ah
    error = predicted(one, fit, capacity_ah=before, soc=1.0 - one.out_ah / before) - one.volts
    early = one.in_ah <= 5.0
    assert 0.15 < float(error[early].mean()) < 0.30
    assert float(np.abs(error[one.in_ah <= 7.0]).max()) < 0.42
