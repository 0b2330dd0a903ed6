"""Going on is advised only where it saves more than the sampled worlds can tell apart."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.diagnosis.advise import TOLD_APART_MIN, worth_it
from chargewright.diagnosis.plan import Plan, Step
from chargewright.diagnosis.rollout import least_left


def plan_saving(minutes: float) -> Plan:
    """Return a plan to go on that saves so much against ending at 23 min."""
    return Plan(
        step=Step(kind="check", index=3, name="mid_v"),
        cost_min=23.0 - minutes,
        act_now=Step(kind="decide", index=1, name="repair_plug"),
        act_now_min=23.0,
        bound_min=0.0,
        candidates=(),
        branches=(),
        depth=2,
    )


@given(st.floats(0.0, 20.0).filter(lambda saving: abs(saving - TOLD_APART_MIN) > 1e-6))
def test_a_tie_ends_the_job_and_a_real_saving_does_not(saving: float) -> None:
    plan = worth_it(plan_saving(saving))
    assert plan.step.kind == ("check" if saving > TOLD_APART_MIN else "decide")
    assert plan.worth_min == pytest.approx(saving if saving > TOLD_APART_MIN else 0.0)


def test_luck_of_the_worlds_drawn_is_taken_out() -> None:
    """Where the least loss follows a fixed ending's, only that ending's known mean counts."""
    fixed = np.array([3.0, 40.0, 7.0, 90.0])
    losses = np.stack([fixed, 0.5 * fixed + 1.0], axis=1)
    assert least_left(losses, 0, 20.0) == pytest.approx(0.5 * 20.0 + 1.0)


def test_it_is_unbiased_and_steadier_than_the_plain_mean() -> None:
    """Truth by the whole set of worlds; 400 draws of 24 (Glasserman 2003, section 4.1)."""
    rng = np.random.default_rng(11)
    fixed = rng.lognormal(3.0, 1.0, 20_000)
    losses = np.stack([fixed, 0.4 * fixed + rng.exponential(5.0, len(fixed))], axis=1)
    least = losses.min(axis=1)
    draws = rng.choice(len(fixed), (400, 24))
    steady = np.array([least_left(losses[rows], 0, float(fixed.mean())) for rows in draws])
    plain = least[draws].mean(axis=1)
    assert steady.std() < 0.6 * plain.std()
    assert steady.mean() == pytest.approx(least.mean(), rel=0.05)


def test_costs_that_differ_by_rounding_alone_correct_nothing() -> None:
    """One ending at 11.7 min in every world: what is left after any check is those 11.7 min."""
    price = 82.0 / 7.0
    fixed = np.array([price, price + 2e-15, price - 2e-15, price])
    losses = np.stack([fixed, np.full(4, 240.0)], axis=1)
    losses[1, 1] = 11.0
    left = least_left(losses, 0, price + 1e-14)
    assert left == pytest.approx((3.0 * price + 11.0) / 4.0)
