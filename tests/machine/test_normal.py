"""The normal distribution function against published tables."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.machine import normal

# Abramowitz and Stegun, Handbook of Mathematical Functions, Table 26.1, P(x) to 15 places.
TABLE_26_1 = [
    (0.0, 0.5),
    (0.5, 0.691462461274013),
    (1.0, 0.841344746068543),
    (1.5, 0.933192798731142),
    (2.0, 0.977249868051821),
    (3.0, 0.998650101968370),
]


@pytest.mark.parametrize(("x", "p"), TABLE_26_1)
def test_table_26_1(x: float, p: float) -> None:
    assert float(normal.ndtr(x)) == pytest.approx(p, abs=1e-12)


def test_lower_tail_keeps_its_digits() -> None:
    # Q(5) = 2.866515719e-7 and Q(10) = 7.619853024e-24, standard tail table.
    values = normal.ndtr(np.array([-5.0, -10.0]))
    assert values == pytest.approx([2.866515719e-7, 7.619853024e-24], rel=1e-9)


@given(st.floats(-30, 30))
def test_symmetric(x: float) -> None:
    assert float(normal.ndtr(x) + normal.ndtr(-x)) == pytest.approx(1.0, abs=1e-15)


@given(st.floats(-26, 26))
def test_erfc_against_the_c_library(x: float) -> None:
    """The C library's erfc, correct to its last digits, is the outside truth."""
    assert float(normal.erfc(x)) == pytest.approx(math.erfc(x), rel=3e-15)


def test_keeps_the_shape() -> None:
    assert normal.ndtr(np.zeros((3, 2))).shape == (3, 2)
