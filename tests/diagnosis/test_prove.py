"""What a repair is proved by, and how readings after it are weighed."""

from __future__ import annotations

from functools import cache

import numpy as np

from chargewright.checks.load import load_book
from chargewright.diagnosis.belief import Belief, believe
from chargewright.diagnosis.findings import ProofFinding
from chargewright.diagnosis.population import populate
from chargewright.diagnosis.prove import outside, proof_checks
from chargewright.diagnosis.question import Answer
from chargewright.diagnosis.repaired import after_repair, is_sound, remaining_fault
from chargewright.machine.cause_file import catalogue
from chargewright.machine.conditioning import load_class
from chargewright.machine.prior import Hypothesis
from chargewright.meters.load import load_meter
from chargewright.meters.shown import Shown

SPORT = load_class("sport-600-1000")
METER = load_meter("trms-6000")
CAUSES = catalogue()


@cache
def repaired() -> Belief:
    """Return a machine with a new battery, whose regulator may hold too high a voltage."""
    cell, high = CAUSES.get("battery_dead_cell"), CAUSES.get("regulator_high")
    hypotheses = (Hypothesis((cell,), 0.6), Hypothesis((cell, high), 0.4))
    before = believe(populate(SPORT, hypotheses, np.random.default_rng(3)), ())
    return after_repair(before, {"replace_battery"}, np.random.default_rng(1))


@cache
def proof() -> tuple[ProofFinding, ...]:
    """Return the proof of that repair."""
    return proof_checks(
        repaired(),
        catalogue=load_book().catalogue(SPORT.layout, SPORT.speeds, lights_always_on=True),
        effort=load_book().effort,
        meter=METER,
        lights_always_on=True,
    )


def read(one: ProofFinding, volts: float) -> Answer:
    """Return a proof's check answered with a figure."""
    return Answer(
        id="p1",
        title=one.check.title,
        question=one.question,
        meter=METER,
        shown=Shown(value=round(volts, 2), lsd=0.01),
    )


def test_a_likely_second_fault_is_looked_for_before_the_repair_counts_as_proved() -> None:
    """A new battery hides a dead cell's own signs; a set point too high shows only running."""
    assert any(one.question.state.engine.value == "running" for one in proof())
    assert proof()[-1].remaining < 0.4 / 5.0


def test_good_and_bad_readings_average_to_what_was_believed_before() -> None:
    """Bayes' rule: over what a meter would show, the mean of the belief after is that before.

    Readings are drawn on machines of the population in proportion to their weights, with the
    meter's error even between its limits, a normal error of the model and a share of blunders that
    can only lead astray (left out: at most their 2 %).
    """
    after, rng = repaired(), np.random.default_rng(7)
    one = next(one for one in proof() if one.question.state.engine.value == "running")
    shown = after.population.predictions.indication(one.question, METER)
    rows = rng.choice(len(after.weights), 400, p=after.weights)
    model = 0.12  # V, of running volts: data/model_error.toml
    volts = (
        shown.centre[rows]
        + shown.half_width[rows] * rng.uniform(-1.0, 1.0, len(rows))
        + np.hypot(model, shown.sigma[rows]) * rng.standard_normal(len(rows))
    )
    left = [
        remaining_fault(believe(after.population, (*after.answers, read(one, value)), after))
        for value in volts
    ]
    broken = ~is_sound(after.population)[rows]
    error = 3.0 * np.std(np.array(left) - broken) / np.sqrt(len(rows)) + 0.02
    assert abs(np.mean(left) - np.mean(broken)) < error
    # and it tells them apart: those with a fault left are believed to have one more often
    assert np.mean(np.array(left)[broken]) > 2.0 * np.mean(np.array(left)[~broken])


def test_only_what_a_sound_machine_does_not_show_is_called_outside() -> None:
    one = next(one for one in proof() if one.question.state.engine.value == "running")
    middle = 0.5 * (one.low + one.high)
    assert outside(repaired(), (read(one, middle),)) == ()
    ((answer, span),) = outside(repaired(), (read(one, one.high + 1.0),))
    assert answer.id == "p1"
    assert span == (one.low, one.high)
