"""Peukert's law, temperature and the two-well model against data sheets."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.energy.capacity import (
    SINGLE_EXPONENT_U,
    capacity_at_a,
    exponent_from_ratings,
    temperature_share,
)
from chargewright.errors import InputError
from chargewright.machine.layout import Chemistry

SHEET = {20.0: 40.0, 10.0: 37.2, 5.0: 34.0, 1.0: 24.0}  # 40 Ah sealed battery: hours, Ah


def test_exponent_of_a_data_sheet() -> None:
    """40 Ah at 20 h and 24 Ah at 1 h: k = 1.2056; least squares over all four 1.209."""
    assert exponent_from_ratings((20.0, 1.0), (40.0, 24.0)) == pytest.approx(1.2056, abs=1e-4)
    hours, ah = np.array(list(SHEET)), np.array(list(SHEET.values()))
    slope = np.polyfit(np.log(ah / hours), np.log(hours), 1)[0]
    assert -slope == pytest.approx(1.209, abs=1e-3)


def test_one_exponent_misses_by_up_to_8_percent() -> None:
    """The same sheet: k 1.2056 predicts 35.2 Ah at C10 (-5.4 %) and 31.1 at C5 (-8.5 %)."""
    k = 1.2056
    c10 = capacity_at_a(40.0, 3.72, rated_h=20.0, exponent=k)
    c5 = capacity_at_a(40.0, 6.8, rated_h=20.0, exponent=k)
    assert c10 == pytest.approx(35.2, abs=0.05)
    assert c5 == pytest.approx(31.1, abs=0.05)
    assert abs(c5 / 34.0 - 1.0) == pytest.approx(SINGLE_EXPONENT_U, abs=0.006)


def test_peukert_by_hand() -> None:
    """100 Ah at 20 h, k 1.2: 20.0 h at 5 A, 8.71 h at 10 A.

    A published example gives 14.5 h at 5 A, taking 100 Ah as a one-hour capacity.
    """
    assert capacity_at_a(100.0, 5.0, rated_h=20.0, exponent=1.2) / 5.0 == pytest.approx(20.0)
    assert capacity_at_a(100.0, 10.0, rated_h=20.0, exponent=1.2) / 10.0 == pytest.approx(
        8.71, abs=0.005
    )
    one_c = capacity_at_a(100.0, 100.0, rated_h=20.0, exponent=1.1)
    assert one_c == pytest.approx(74.1, abs=0.05)


def test_exponent_of_the_porous_electrode_model() -> None:
    """PyBaMM lead-acid Full, 21.76 Ah at 0.85 A and 17.53 at 17 A: k = 1.072."""
    k = exponent_from_ratings((21.76 / 0.85, 17.53 / 17.0), (21.76, 17.53))
    assert k == pytest.approx(1.072, abs=0.001)


def test_not_for_cranking() -> None:
    with pytest.raises(InputError, match="3 C"):
        capacity_at_a(10.0, 100.0, rated_h=10.0, exponent=1.1)


@pytest.mark.parametrize(("temp_c", "share"), [(30, 1.03), (25, 1.0), (10, 0.9), (-10, 0.74)])
def test_temperature(temp_c: float, share: float) -> None:
    """Data sheet of the same battery."""
    assert float(temperature_share(Chemistry.AGM, temp_c)) == pytest.approx(share)


@given(st.floats(0.2, 50.0), st.floats(1.01, 1.5))
def test_more_current_gives_fewer_ampere_hours(current_a: float, exponent: float) -> None:
    low = capacity_at_a(20.0, current_a, rated_h=20.0, exponent=exponent)
    high = capacity_at_a(20.0, 1.1 * current_a, rated_h=20.0, exponent=exponent)
    assert high < low
    # t = H (C/(I H))^k, the other form of the law
    assert low / current_a == pytest.approx(20.0 * (20.0 / (current_a * 20.0)) ** exponent)
    assert math.isfinite(low)
