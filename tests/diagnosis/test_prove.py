"""What stands for a fault left after a repair: one of two, one not taken, one unthought of."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from chargewright.checks.load import load_book
from chargewright.diagnosis.belief import Belief, believe
from chargewright.diagnosis.decisions import Ending
from chargewright.diagnosis.population import populate
from chargewright.diagnosis.prove import NOT_TAKEN, OTHER_FAULT, proof_checks, set_up
from chargewright.machine.cause_file import catalogue
from chargewright.machine.conditioning import load_class
from chargewright.machine.parameters import INDEX
from chargewright.machine.prior import Hypothesis
from chargewright.meters.load import load_meter

SPORT = load_class("sport-600-1000")
METER = load_meter("trms-6000")
CAUSES = catalogue()
REPLACE = Ending(repairs=(CAUSES.get("battery_dead_cell").repair,))


@cache
def between(single: float, pair: float) -> Belief:
    """Return a belief with nothing read: a dead cell alone, or with a regulator that is high."""
    cell, high = CAUSES.get("battery_dead_cell"), CAUSES.get("regulator_high")
    hypotheses = (
        Hypothesis((cell,), single),
        Hypothesis((cell, high), pair),
        Hypothesis((high,), 1.0 - single - pair),
    )
    return believe(populate(SPORT, hypotheses, np.random.default_rng(3)), ())


def test_of_two_causes_the_one_not_mended_is_left_as_it_was() -> None:
    belief = between(0.5, 0.4999)
    proof = set_up(belief, REPLACE, np.random.default_rng(1))
    population = belief.population
    pair = population.params[population.of(1)]
    left = proof.broken.params[:150]
    columns = [INDEX["setpoint_v"], INDEX["lost_cell_v"]]
    assert np.isin(left[:, columns[0]], pair[:, columns[0]]).all(), "another set point than its own"
    assert (pair[:, columns[1]] > 0.0).all(), "the pair has no dead cell to lose"
    assert (left[:, columns[1]] == 0.0).all(), "the dead cell is still there after the repair"


def test_the_chance_that_a_fault_is_left_adds_what_belief_holds() -> None:
    sure = set_up(between(0.9999, 0.00005), REPLACE, np.random.default_rng(1))
    torn = set_up(between(0.6, 0.3999), REPLACE, np.random.default_rng(1))
    assert sure.prior_remaining == pytest.approx(OTHER_FAULT + NOT_TAKEN, abs=2e-3)
    assert torn.prior_remaining == pytest.approx(
        1.0 - 0.6 * (1.0 - NOT_TAKEN) * (1.0 - OTHER_FAULT), abs=1e-3
    )
    for proof in (sure, torn):
        assert proof.weights.sum() == pytest.approx(1.0)
        assert proof.sound.sum() == pytest.approx(1.0)


def test_a_likely_second_fault_is_looked_for_before_the_repair_counts_as_proved() -> None:
    """A new battery hides a dead cell's own signs; a set point too high shows only running."""
    found = proof_checks(
        between(0.6, 0.3999),
        REPLACE,
        catalogue=load_book().catalogue(SPORT.layout, SPORT.speeds, lights_always_on=True),
        effort=load_book().effort,
        meter=METER,
        lights_always_on=True,
        rng=np.random.default_rng(1),
    )
    assert any(one.question.state.engine.value == "running" for one in found)
    assert found[-1].remaining < 0.4 / 5.0
