"""The counter-question and the comparison of checks, against simulation and sums by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chargewright.checks.load import load_book
from chargewright.diagnosis import advise, refine
from chargewright.diagnosis import population as populations
from chargewright.diagnosis.assess import Session
from chargewright.diagnosis.belief import believe
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.counter import what_if
from chargewright.diagnosis.decisions import load_prices
from chargewright.diagnosis.flips import what_would_change
from chargewright.diagnosis.habit import USUAL_ORDER, usual_next, why_not
from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.population import Population, name_of, populate
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.question import Answer, question_of
from chargewright.errors import InputError
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.prior import prior
from chargewright.meters.load import load_meter
from chargewright.meters.shown import Shown

SPORT = load_class("sport-600-1000")
METER = load_meter("trms-6000")
BOOK = load_book()
CHECKS = BOOK.catalogue(SPORT.layout, SPORT.speeds, lights_always_on=SPORT.lights_always_on)


def answer(check: str, value: float, lsd: float = 0.001) -> Answer:
    found = CHECKS.get(check)
    return Answer(
        id=check,
        title=found.title,
        question=question_of(found),
        meter=METER,
        shown=Shown(value=value, lsd=lsd),
    )


@pytest.fixture(scope="module")
def people() -> Population:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(populations, "SINGLE_COUNT", 300)
        patch.setattr(populations, "PAIR_COUNT", 10)
        patch.setattr(populations, "SOUND_COUNT", 300)
        return populate(SPORT, prior(SPORT, "battery_goes_flat"), np.random.default_rng(3))


def shown_by(cause: str, check: str, count: int) -> list[float]:
    """Return what machines with the cause, drawn apart, show in a check, errors drawn too."""
    rng = np.random.default_rng(41)
    causes = next(h.causes for h in prior(SPORT) if name_of(h) == cause)
    params = draw(SPORT, causes, rng.standard_normal((count, LATENTS)))
    question = question_of(CHECKS.get(check))
    display = Predictions(SPORT.layout, params).indication(question, METER)
    error = rng.uniform(-1.0, 1.0, count) * display.half_width
    noise = np.hypot(display.sigma, model_sigma(question, display.centre, SPORT.layout))
    return [float(x) for x in display.centre + error + noise * rng.standard_normal(count)]


@pytest.mark.parametrize("check", ["high_lights_v", "rest_v"])
@pytest.mark.parametrize("cause", ["no_fault", "battery_worn"])
def test_a_fit_means_what_it_says(people: Population, cause: str, check: str) -> None:
    """Of 200 machines with the cause, 5 % fit at 5 % or worse, 50 % at 50 %; four standard errors.

    The two hundred come from the same law as the population: the fit is a plain tail area
    (D. Cox and D. Hinkley, *Theoretical Statistics*, 1974, ch. 3).
    """
    fits = np.array(
        [
            what_if(believe(people, (answer(check, value),)), cause).reads[0].fit
            for value in shown_by(cause, check, 200)
        ]
    )
    for level in (0.05, 0.5):
        share = float((fits <= level).mean())
        assert share == pytest.approx(level, abs=4.0 * (level * (1.0 - level) / 200) ** 0.5)


def test_what_was_expected_does_not_depend_on_what_was_read(people: Population) -> None:
    rest = answer("rest_v", 12.6)
    bands = [
        what_if(believe(people, (rest, answer("high_lights_v", value))), "no_fault").reads[1]
        for value in (14.2, 12.2)
    ]
    assert bands[0].expected == bands[1].expected
    assert bands[0].fit > 0.05 > bands[1].fit


def test_the_reading_that_speaks_against_it_is_named(people: Population) -> None:
    """With a dead winding a pair cannot read like its neighbours; rest volts do not care."""
    readings = (answer("rest_v", 12.6), answer("ac_open_idle_v_ab", 15.0))
    found = what_if(believe(people, readings), "magnets_lost")
    assert found.worst is not None
    assert found.worst.answer.id == "ac_open_idle_v_ab"
    assert found.worst.fit < 0.005
    assert found.reads[0].fit > 0.05
    with pytest.raises(InputError, match="magnets_lost"):
        what_if(believe(people, readings), "magnets_los")


def test_overload_and_bounds_have_one_side(people: Population) -> None:
    ohms = answer("lead_frame_ohm", 1.0)
    over = replace(ohms, shown=Shown(kind="overload"))
    # a sound lead shows some 20 megohm on this meter, which one in two writes down as OL
    assert what_if(believe(people, (over,)), "no_fault").reads[0].fit > 0.4
    assert what_if(believe(people, (over,)), "stator_ground_fault").reads[0].fit < 0.05
    low = replace(answer("rest_v", 9.0), shown=Shown(kind="at_least", value=9.0))
    assert what_if(believe(people, (low,)), "no_fault").reads[0].fit > 0.99


@pytest.fixture(scope="module")
def session() -> Session:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(populations, "SINGLE_COUNT", 60)
        patch.setattr(populations, "PAIR_COUNT", 6)
        patch.setattr(populations, "SOUND_COUNT", 80)
        case = Case(
            machine=SPORT,
            book=BOOK,
            meter=METER,
            prices=load_prices(),
            complaint="battery_goes_flat",
            seed=2,
        )
        return Session(case)


def test_both_checks_have_the_planners_numbers(session: Session) -> None:
    """Ending now, less the best ending after each result, by plain loops."""
    advice = session.advice()
    usual = usual_next(session.case, advice)
    assert usual is not None
    assert usual.id == USUAL_ORDER[0]
    found = why_not(advice, usual.id)
    assert found is not None
    assert found.planned.check.id == advice.plan.step.name
    costs = {one.name: one.cost_min for one in advice.plan.candidates}
    assert found.other.total_min == costs[usual.id]
    problem, weights = advice.problem, advice.world_weights
    index = [check.name for check in problem.checks].index(usual.id)
    after = 0.0
    for column in problem.checks[index].outcomes.T:
        after += min(float((row * weights * column).sum()) for row in problem.loss)
    assert found.other.alone_min == pytest.approx(found.end_min - after)
    with pytest.raises(InputError, match="rest_v"):
        why_not(advice, "rest_vv")


def test_a_result_that_changes_the_decision_does_so(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reading typed in, 2 % inside the value told, the case ends as was told.

    With every machine of the population before the planner, and no fresh ones drawn after the
    reading: otherwise both know the edge less exactly.
    """
    monkeypatch.setattr(advise, "WORLDS", 100_000)
    monkeypatch.setattr(refine, "thin", lambda belief, least=0.0: np.empty(0, dtype=np.intp))
    advice = session.advice()
    now = advice.ways[advice.plan.act_now.index].id
    flips = what_would_change(session.case, session.belief, advice)
    assert flips
    assert sum(flip.chance for flip in flips if flip.check.id == flips[0].check.id) <= 1.0
    tried = 0
    for flip in flips:
        assert flip.ending.id != now
        if flip.low is None and flip.high is None:
            continue
        tried += 1
        if flip.low is not None and flip.high is not None:
            value = 0.5 * (flip.low + flip.high)
        else:
            edge = flip.high if flip.low is None else flip.low
            value = edge * (0.98 if flip.low is None else 1.02)
        reading = Answer(
            id="r1",
            title=flip.check.title,
            question=question_of(flip.check),
            meter=METER,
            shown=Shown(value=value),  # to the meter's last digit, as in thought
        )
        fresh = Session(replace(session.case, answers=(reading,)), lambda *_: session.belief)
        told = fresh.advice()
        then = told.ways[told.plan.act_now.index].id
        assert then == flip.ending.id, (flip.check.id, value)
    assert tried
