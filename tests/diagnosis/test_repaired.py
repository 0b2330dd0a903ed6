"""The machine with a repair done: what may be left, and what readings go on to say of it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from chargewright.checks.load import load_book
from chargewright.diagnosis.belief import Belief, believe
from chargewright.diagnosis.population import name_of, parameters_of, populate
from chargewright.diagnosis.question import Answer, question_of
from chargewright.diagnosis.refine import learn, refine
from chargewright.diagnosis.repaired import (
    NOT_TAKEN,
    OTHER_FAULT,
    after_repair,
    remaining_fault,
)
from chargewright.machine.cause_file import catalogue
from chargewright.machine.conditioning import load_class
from chargewright.machine.parameters import INDEX
from chargewright.machine.prior import Hypothesis
from chargewright.meters.load import load_meter
from chargewright.meters.shown import Shown

SPORT = load_class("sport-600-1000")
METER = load_meter("trms-6000")
CHECKS = load_book().catalogue(SPORT.layout, SPORT.speeds, lights_always_on=True)
CELL, HIGH = (catalogue().get(name) for name in ("battery_dead_cell", "regulator_high"))
BATTERY = {"replace_battery"}


@cache
def between(single: float, pair: float) -> Belief:
    """Return a belief with nothing read: a dead cell alone, or with a regulator that is high."""
    hypotheses = (
        Hypothesis((CELL,), single),
        Hypothesis((CELL, HIGH), pair),
        Hypothesis((HIGH,), 1.0 - single - pair),
    )
    return believe(populate(SPORT, hypotheses, np.random.default_rng(3)), ())


def answer(check: str, value: float, name: str) -> Answer:
    """Return a catalogue check answered with a figure, the battery charged."""
    found = CHECKS.get(check)
    question = question_of(found)
    return Answer(
        id=name,
        title=found.title,
        question=replace(question, state=replace(question.state, battery_charged=True)),
        meter=METER,
        shown=Shown(value=value, lsd=0.01),
    )


def repaired(belief: Belief, repairs: set[str] | None = None) -> Belief:
    """Return what to believe after new batteries, or after other repairs."""
    return after_repair(belief, repairs or BATTERY, np.random.default_rng(1))


def test_of_two_causes_the_one_not_mended_is_left_as_it_was() -> None:
    """The rest of that kind are second faults that nothing pointed to, in other severities."""
    before = between(0.5, 0.4999)
    belief = repaired(before)
    after = belief.population
    kinds = list(zip(map(name_of, after.hypotheses), map(name_of, after.before or ()), strict=True))
    rows = after.of(kinds.index(("regulator_high", "regulator_high+battery_dead_cell")))
    pair = before.population.params[before.population.of(1)]
    setpoint, lost = INDEX["setpoint_v"], INDEX["lost_cell_v"]
    own = np.isin(after.params[rows, setpoint], pair[:, setpoint])
    chances = (0.4999, NOT_TAKEN, OTHER_FAULT)
    missed = remaining_fault(belief) * 0.4999 / sum(chances)
    assert belief.weights[rows][own].sum() == pytest.approx(missed, rel=2e-3)
    assert (pair[:, lost] > 0.0).all(), "the pair has no dead cell to lose"
    assert (after.params[rows, lost] == 0.0).all(), "the dead cell is still there after the repair"


def test_every_machine_is_what_its_latents_make_it_before_and_after() -> None:
    """So that machines drawn anew from them are of the same kind."""
    population = repaired(between(0.6, 0.3999)).population
    before = population.predictions.before
    assert before is not None
    assert population.before is not None
    for hypotheses, params in (
        (population.hypotheses, population.params),
        (population.before, before.params),
    ):
        made = parameters_of(SPORT, hypotheses, population.member, population.z)
        assert np.array_equal(made, params)


def test_the_chance_that_a_fault_is_left_adds_what_belief_holds() -> None:
    sure, torn = (repaired(between(*shares)) for shares in ((0.9999, 0.00005), (0.6, 0.3999)))
    assert remaining_fault(sure) == pytest.approx(OTHER_FAULT + NOT_TAKEN, abs=2e-3)
    assert remaining_fault(torn) == pytest.approx(
        1.0 - 0.6 * (1.0 - NOT_TAKEN) * (1.0 - OTHER_FAULT), abs=1e-3
    )
    for after in (sure, torn):
        assert after.weights.sum() == pytest.approx(1.0)
        assert after.hypothesis_shares().sum() == pytest.approx(1.0)
        assert after.cause_shares()["no_fault"] == pytest.approx(1.0 - remaining_fault(after))


def test_the_old_fault_read_again_says_that_the_repair_has_not_taken() -> None:
    """A cell is about 2 V: 10.6 V at rest after hours on a charger is a battery without one."""
    after = repaired(between(0.98, 0.0199))
    again = learn(
        after.population,
        (*after.answers, answer("rest_charged_v", 10.6, "p1")),
        np.random.default_rng(2),
        after,
    )
    assert again.cause_shares()["battery_dead_cell"] > 0.5
    assert after.cause_shares()["battery_dead_cell"] < 2.0 * NOT_TAKEN


def test_both_repairs_done_leave_one_that_has_not_taken() -> None:
    """Whichever of the two it is: nobody is sent for both again."""
    after = repaired(between(0.0001, 0.9998), {"replace_battery", "replace_regulator"})
    names = {name_of(one) for one in after.population.hypotheses}
    assert remaining_fault(after) == pytest.approx(NOT_TAKEN, abs=2e-3)
    assert names == {"no_fault", "battery_dead_cell", "regulator_high"}


def test_what_was_read_before_goes_on_speaking_when_machines_are_drawn_anew() -> None:
    """15.4 V was read before the repair: fresh machines with that regulator read it, too."""
    before = between(0.3, 0.6999)
    told = answer("high_lights_v", 15.4, "r1")
    known = learn(before.population, (told,), np.random.default_rng(4), before)
    after = repaired(known)
    number = [name_of(one) for one in after.population.hypotheses].index("regulator_high")
    fresh = refine(after, np.array([number]), np.random.default_rng(5))
    at = fresh.population.predictions.at(fresh.answers[0])
    assert at is not fresh.population.predictions
    rows = fresh.population.of(number)
    assert not np.isin(fresh.population.z[rows, 0], after.population.z[:, 0]).all(), "none is new"
    volts = at.indication(told.question, METER, rows=rows).centre
    assert np.abs(np.median(volts) - 15.4) < 0.15  # the model's own doubt is 0.12 V
    assert fresh.hypothesis_shares()[number] == pytest.approx(
        after.hypothesis_shares()[number], rel=0.05
    )


def test_a_second_repair_starts_from_what_the_first_has_left() -> None:
    first = repaired(between(0.0001, 0.9998))
    second = after_repair(first, {"replace_regulator"}, np.random.default_rng(6))
    assert remaining_fault(first) > 0.9
    assert remaining_fault(second) < 0.2
    assert second.weights.sum() == pytest.approx(1.0)
