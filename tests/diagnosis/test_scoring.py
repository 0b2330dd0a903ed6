"""Scores against worked examples (B1, D1, D2, N1; computed independently of this package)."""

from __future__ import annotations

import numpy as np
import pytest

from chargewright.diagnosis.scoring import (
    brier,
    calibration_error,
    diagnosis_utility,
    healthy_share_of_removals,
    log_loss,
    top_accuracy,
    wasted_share,
)
from chargewright.errors import InputError

FORECASTS = np.array([[0.7, 0.2, 0.1], [0.1, 0.8, 0.1], [0.3, 0.4, 0.3], [0.05, 0.15, 0.8]])
TRUTHS = np.array([0, 1, 0, 2])


def test_b1_proper_scores() -> None:
    assert brier(FORECASTS, TRUTHS) == pytest.approx(0.25125, abs=5e-6)
    assert log_loss(FORECASTS, TRUTHS) == pytest.approx(0.501734, abs=5e-7)
    assert top_accuracy(FORECASTS, TRUTHS) == 0.75


@pytest.mark.parametrize(("bins", "error"), [(1, 0.075), (2, 0.275), (5, 0.275), (10, 0.275)])
def test_b1_calibration_error_depends_on_the_bins(bins: int, error: float) -> None:
    assert calibration_error(FORECASTS, TRUTHS, bins=bins) == pytest.approx(error, abs=1e-9)


def test_an_edge_belongs_to_the_bin_that_ends_there() -> None:
    # .7 wrong, .75 right: one bin (.7, .8] would average to .225, two bins give (.7 + .25) / 2
    forecasts = np.array([[0.7, 0.3], [0.75, 0.25]])
    truths = np.array([1, 0])
    assert calibration_error(forecasts, truths, bins=10) == pytest.approx(0.475, abs=1e-9)


def test_certain_and_wrong_is_infinitely_bad() -> None:
    assert log_loss(np.array([[1.0, 0.0]]), np.array([1])) == np.inf
    assert brier(np.array([[1.0, 0.0]]), np.array([1])) == 2.0


@pytest.mark.parametrize(
    ("reported", "utility"),
    [({1}, 1.0), ({2}, 0.375), ({1, 2}, 0.8125), (set(), 0.4375), (set(range(8)), 0.015625)],
)
def test_d1_utility(reported: set[int], utility: float) -> None:
    found = diagnosis_utility(components=8, faulty=frozenset({1}), reported=frozenset(reported))
    assert found == pytest.approx(utility, abs=1e-12)


def test_d2_wasted_share() -> None:
    # six healthy parts, two of them replaced
    found = wasted_share(components=7, faulty=frozenset({0}), replaced=frozenset({3, 5, 0}))
    assert found == pytest.approx(2 / 6)


@pytest.mark.parametrize(
    ("q", "sp", "share"),
    # by hand: .07/(.27 + .07), .09/(.09 + .09), .007/(.27 + .007)
    [(0.3, 0.9, 0.205882), (0.1, 0.9, 0.5), (0.3, 0.99, 0.025271)],
)
def test_n1_healthy_parts_among_removals(q: float, sp: float, share: float) -> None:
    found = healthy_share_of_removals(prevalence=q, sensitivity=0.9, specificity=sp)
    assert found == pytest.approx(share, abs=5e-7)


def test_bad_input_is_refused() -> None:
    with pytest.raises(InputError, match="truth 0 to 3, expected 0 to 2"):
        brier(FORECASTS, np.array([0, 1, 3, 2]))
    with pytest.raises(InputError, match="sum to 1"):
        log_loss(FORECASTS * 2, TRUTHS)
    with pytest.raises(InputError, match=r"specificity 1\.5"):
        healthy_share_of_removals(prevalence=0.1, sensitivity=0.9, specificity=1.5)
    with pytest.raises(InputError, match="no part is ever removed"):
        healthy_share_of_removals(prevalence=0.0, sensitivity=0.9, specificity=1.0)
