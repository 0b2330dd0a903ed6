"""The set of checks that proves a repair, against trying every set."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.diagnosis.proof_set import remaining_after, shortest_set

chances = st.lists(
    st.tuples(*[st.floats(0.001, 1.0)] * 2, st.floats(0.8, 1.0)), min_size=1, max_size=6
)
BROKEN = np.array([True, True, False])


def test_odds_by_hand() -> None:
    """Half at first; the check passes 19 of 20 sound and 1 of 20 faulty: 1/20 is left."""
    half, broken = np.array([0.5, 0.5]), np.array([True, False])
    left = remaining_after(half, broken, np.array([[0.05, 0.95]]))
    assert left == pytest.approx((0.05 / 0.95) / (1.0 + 0.05 / 0.95))
    assert left == pytest.approx(0.05)
    twice = remaining_after(half, broken, np.array([[0.05, 0.95], [0.05, 0.95]]))
    assert twice == pytest.approx(1.0 / (1.0 + 19.0**2))


@given(chances, st.lists(st.floats(1.0, 30.0), min_size=6, max_size=6), st.floats(0.05, 0.6))
def test_no_other_set_is_quicker(
    rows: list[tuple[float, float, float]], minutes: list[float], prior: float
) -> None:
    weights, passes = np.array([0.6 * prior, 0.4 * prior, 1.0 - prior]), np.array(rows)
    found = shortest_set(weights, BROKEN, passes, minutes, enough=0.02)
    every = [chosen for size in range(1, 7) for chosen in combinations(range(len(rows)), size)]
    proving = [
        sum(minutes[i] for i in chosen)
        for chosen in every
        if remaining_after(weights, BROKEN, passes[list(chosen)]) < 0.02
    ]
    if proving:
        assert remaining_after(weights, BROKEN, passes[list(found)]) < 0.02
        assert sum(minutes[i] for i in found) == pytest.approx(min(proving))
    elif found:
        assert remaining_after(weights, BROKEN, passes[list(found)]) < prior


def test_a_check_that_tells_nothing_proves_nothing() -> None:
    """It fails sound machines as often: that a meter's width fails some is no news of a fault."""
    weights = np.array([0.25, 0.25, 0.5])
    for chance in (0.6, 0.95):
        blind = np.full((3, 3), chance)
        assert shortest_set(weights, BROKEN, blind, [1.0, 1.0, 1.0], enough=0.02) == ()
