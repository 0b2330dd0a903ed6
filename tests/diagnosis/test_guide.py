"""Machines led to the readings: the fitted law against textbook formulas, and what moves leave.

Bayesian linear regression with a standard normal prior (C. M. Bishop, *Pattern Recognition and
Machine Learning*, Springer 2006, section 3.3): precision 1 + AᵀA, mean its inverse times Aᵀy.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargewright.diagnosis.cloud import KEEP_SHARE, anywhere, narrowest, systematic
from chargewright.diagnosis.guide import Guide, guide

LATENTS, READINGS, MACHINES = 12, 3, 4000


def linear_law(seed: int) -> tuple[Guide, np.ndarray, np.ndarray]:
    """Return (the law fitted to exact straight lines, its exact mean and covariance)."""
    rng = np.random.default_rng(seed)
    lines, shown = rng.normal(size=(READINGS, LATENTS)), rng.normal(size=READINGS)
    z = rng.standard_normal((MACHINES, LATENTS))
    misses = lines @ z.T - shown[:, None]
    covariance = np.linalg.inv(np.eye(LATENTS) + lines.T @ lines)
    return guide(z, misses, np.ones(READINGS)), covariance @ lines.T @ shown, covariance


@given(seed=st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_law_of_straight_lines_is_the_textbooks(seed: int) -> None:
    """The ridge's doubt, ten machines in four thousand, is all that is off."""
    law, mean, covariance = linear_law(seed)
    found = np.linalg.inv(np.eye(LATENTS) + law.lines.T @ law.lines)
    assert law.mean == pytest.approx(mean, abs=0.02)
    assert found == pytest.approx(covariance, abs=0.02)


def test_proposals_leave_the_law_untouched() -> None:
    """Machines drawn from the law are still of the law after a proposal (sampling error 0.02)."""
    law, mean, covariance = linear_law(1)
    rng = np.random.default_rng(2)
    z = rng.multivariate_normal(mean, covariance, size=20_000)
    moved = law.proposed(z, rng)
    assert moved.mean(axis=0) == pytest.approx(mean, abs=0.03)
    assert np.cov(moved.T) == pytest.approx(covariance, abs=0.04)


@given(seed=st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_density_is_the_laws_over_the_priors(seed: int) -> None:
    """Differences of the log-density against the textbook's normal densities."""
    law, _, _ = linear_law(seed)
    z = np.random.default_rng(seed + 1).standard_normal((5, LATENTS))
    precision = np.eye(LATENTS) + law.lines.T @ law.lines
    away = z - law.mean
    own = -0.5 * np.einsum("nd,de,ne->n", away, precision, away)
    expected = own + 0.5 * (z**2).sum(axis=1)
    assert np.diff(law.log_density(z)) == pytest.approx(np.diff(expected), abs=1e-8)


def test_a_reading_without_power_leads_nowhere() -> None:
    """The law is then the prior."""
    rng = np.random.default_rng(3)
    z = rng.standard_normal((200, LATENTS))
    law = guide(z, rng.normal(size=(READINGS, 200)), np.zeros(READINGS))
    assert law.mean == pytest.approx(0.0)
    assert law.lines == pytest.approx(0.0)


def test_anywhere_leaves_the_prior_untouched() -> None:
    """Standard normal latents stay standard normal, 20,000 machines (four standard errors)."""
    rng = np.random.default_rng(4)
    z = rng.standard_normal((20_000, 3))
    moved = anywhere(z, rng)
    assert moved.mean(axis=0) == pytest.approx(0.0, abs=0.03)
    assert moved.std(axis=0) == pytest.approx(1.0, abs=0.02)
    assert not np.allclose(moved, z)


def test_narrowest_keeps_its_share_of_the_machines() -> None:
    """A normal likelihood at 300 machines: three tenths narrower would keep fewer than asked."""
    miss = np.random.default_rng(5).normal(0.0, 10.0, 300)

    def gain(width: float) -> np.ndarray:
        return -0.5 * (miss / width) ** 2 - np.log(width)

    def kept(width: float) -> float:
        weights = np.exp(gain(width) - gain(width).max())
        return float(weights.sum() ** 2 / (weights**2).sum()) / 300

    width = narrowest(gain, np.zeros(300), 64.0)
    assert kept(width) >= KEEP_SHARE
    assert kept(0.7 * width) < KEEP_SHARE


def test_a_reading_that_all_miss_is_narrowed_from_afar() -> None:
    """Twenty deviations off, a blunder to all machines alike: that is no reason to stay there."""
    rng = np.random.default_rng(7)
    away = rng.normal(20.0, 3.0, 300)

    def gain(width: float) -> np.ndarray:
        return np.log(0.98 * np.exp(-0.5 * (away / width) ** 2) / width + 0.02 * 1e-3)

    assert narrowest(gain, np.zeros(300), 64.0) > 3.0


def test_systematic_counts_follow_the_weights() -> None:
    """Every index comes as often as its weight says, give or take one."""
    weights = np.array([1.0, 2.0, 0.0, 5.0])
    counts = np.bincount(systematic(weights, 800, np.random.default_rng(6)), minlength=4)
    assert np.abs(counts - 800 * weights / weights.sum()).max() <= 1.0
