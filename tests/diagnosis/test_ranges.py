"""Readings whose speed or warmth is a range, or not known at all.

A reading says less when less is known of the state it was taken in: averaged over the machines
it may come from, the causes are then less certain (data processing: T. Cover and J. Thomas,
*Elements of Information Theory*, 2nd ed., section 2.8).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chargewright.circuit.observe import rpm_of, signals, under_test
from chargewright.circuit.signals import Probe, TestSource
from chargewright.diagnosis import population as populations
from chargewright.diagnosis.belief import believe
from chargewright.diagnosis.inference import entropy_bits
from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.population import Population, populate
from chargewright.diagnosis.question import Answer, Question
from chargewright.machine.conditioning import load_class
from chargewright.machine.parameters import INDEX, Array, column
from chargewright.machine.points import Engine, Function, Point, State, Warmth
from chargewright.machine.prior import prior
from chargewright.meters.load import load_meter
from chargewright.meters.shown import Shown

SPORT = load_class("sport-600-1000")
METER = load_meter("trms-6000")
RUNNING = State(engine=Engine.RUNNING, key_on=True, lights_on=True, rpm=3000.0)
HIDDEN = 1000  # machines, drawn apart from the population, over which is averaged


def drawn(seed: int, single: int) -> Population:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(populations, "SINGLE_COUNT", single)
        patch.setattr(populations, "PAIR_COUNT", single // 8)
        patch.setattr(populations, "SOUND_COUNT", 2 * single)
        return populate(SPORT, prior(SPORT, "battery_goes_flat"), np.random.default_rng(seed))


@pytest.fixture(scope="module")
def people() -> Population:
    return drawn(5, 80)


@pytest.fixture(scope="module")
def hidden() -> tuple[Population, np.ndarray]:
    """Return other machines, and rows of them picked by the prior."""
    others = drawn(6, 120)
    weights = np.exp(others.log_base)
    rows = np.random.default_rng(8).choice(len(weights), HIDDEN, p=weights / weights.sum())
    return others, rows


def asked(state: State, function: Function) -> Question:
    """Return running volts at the battery, or volts or ohms of a pair with the plug out."""
    if function is Function.DC_V:
        return Question(
            function=function, plus=Point.BATTERY_POS, minus=Point.BATTERY_NEG, state=state
        )
    state = replace(state, plug_in=False)
    if function is Function.OHM:
        state = replace(state, engine=Engine.OFF, rpm=None, rpm_max=None)
    return Question(function=function, plus=Point.ALT_A, minus=Point.ALT_B, state=state)


def readings(hidden: tuple[Population, np.ndarray], question: Question) -> Array:
    """Return what the hidden machines show, the meter's and the model's error drawn (OL: nan)."""
    others, rows = hidden
    shown = others.predictions.indication(question, METER, rows=rows)
    rng = np.random.default_rng(9)
    error = rng.uniform(-1.0, 1.0, len(rows)) * shown.half_width
    noise = np.hypot(shown.sigma, model_sigma(question, shown.centre, SPORT.layout))
    values = shown.centre + error + noise * rng.standard_normal(len(rows))
    return np.where(shown.over, np.nan, np.round(values, 3))


def told(
    people: Population, hidden: tuple[Population, np.ndarray], asking: list[Question], values: Array
) -> tuple[Array, Array]:
    """Return (entropy [bits], log2 of the true cause's share) after each reading as told."""
    others, rows = hidden
    found = []
    for row, question, value in zip(rows, asking, values, strict=True):
        if np.isnan(value):
            continue
        answer = Answer(
            id="r", title="r", question=question, meter=METER, shown=Shown(value=value, lsd=0.001)
        )
        shares = believe(people, (answer,)).hypothesis_shares()
        true = max(float(shares[others.member[row]]), 1e-12)
        found.append((float(entropy_bits(shares)), float(np.log2(true))))
    entropy, score = np.array(found).T
    return entropy, score


def clearly_below(low: Array, high: Array) -> bool:
    """Tell whether the mean is lower by more than two standard errors, machine by machine."""
    gap = high - low
    return bool(gap.mean() > 2.0 * gap.std() / len(gap) ** 0.5)


@pytest.mark.parametrize("function", [Function.DC_V, Function.AC_V])
def test_a_wider_range_of_speed_never_makes_us_surer(
    people: Population, hidden: tuple[Population, np.ndarray], function: Function
) -> None:
    """Read at any speed from 1000 to 5000 rpm; told as the quarter, the half, the whole.

    Mean entropy of the causes rises with the range, and the score of the true cause falls.
    """
    low, high = 1000.0, 5000.0
    whole = replace(RUNNING, rpm=low, rpm_max=high)
    values = readings(hidden, asked(whole, function))
    others, rows = hidden
    speeds = rpm_of(others.params[rows], whole)
    entropies, scores = [], []
    for parts in (4, 2, 1):
        width = (high - low) / parts
        cells = np.minimum(np.floor((speeds - low) / width), parts - 1)
        asking = [
            asked(replace(whole, rpm=low + c * width, rpm_max=low + (c + 1) * width), function)
            for c in cells
        ]
        entropy, score = told(people, hidden, asking, values)
        entropies.append(entropy)
        scores.append(score)
    for narrow, wide in ((0, 1), (1, 2), (0, 2)):
        assert not clearly_below(entropies[wide], entropies[narrow])
        assert not clearly_below(scores[narrow], scores[wide])
    if function is Function.DC_V:  # here the speed tells a great deal
        assert clearly_below(entropies[0], entropies[2])


@pytest.mark.parametrize("function", [Function.AC_V, Function.OHM])
@pytest.mark.parametrize("warmth", [Warmth.COLD, Warmth.HOT])
def test_unknown_warmth_never_tells_more(
    people: Population,
    hidden: tuple[Population, np.ndarray],
    warmth: Warmth,
    function: Function,
) -> None:
    """Read cold, or hot; told so, or told as unknown: on average the true cause scores lower."""
    known = asked(replace(RUNNING, warmth=warmth), function)
    unknown = asked(replace(RUNNING, warmth=Warmth.UNKNOWN), function)
    values = readings(hidden, known)
    _, right = told(people, hidden, [known] * HIDDEN, values)
    _, vague = told(people, hidden, [unknown] * HIDDEN, values)
    assert not clearly_below(right, vague)
    assert (vague - right).any()


def test_a_speed_by_ear_tells_less_than_a_tachometer(
    people: Population, hidden: tuple[Population, np.ndarray]
) -> None:
    exact, by_ear = (asked(replace(RUNNING, rpm_rel_u=u), Function.AC_V) for u in (0.03, 0.20))
    values = readings(hidden, exact)
    _, right = told(people, hidden, [exact] * HIDDEN, values)
    _, vague = told(people, hidden, [by_ear] * HIDDEN, values)
    assert vague.mean() < right.mean()


def test_a_range_is_spread_evenly(people: Population) -> None:
    """Quantiles of a uniform law over 1000 to 2000 rpm, within four standard errors."""
    rpm = rpm_of(people.params[people.of(0)], replace(RUNNING, rpm=1000.0, rpm_max=2000.0))
    assert rpm.min() >= 1000.0
    assert rpm.max() <= 2000.0
    for share in (0.1, 0.5, 0.9):
        within = float((rpm < 1000.0 + 1000.0 * share).mean())
        assert within == pytest.approx(share, abs=4.0 * (share * (1 - share) / len(rpm)) ** 0.5)


def moved(params: Array, z: float) -> Array:
    params = params[:200].copy()
    params[:, INDEX["warmth_z"]] = z
    return params


@pytest.mark.parametrize(("z", "warmth"), [(-5.0, Warmth.COLD), (5.0, Warmth.HOT)])
def test_the_ends_of_unknown_warmth_are_cold_and_hot(
    people: Population, z: float, warmth: Warmth
) -> None:
    """Volts running and ohms at rest, on machines of every cause."""
    params = moved(people.params, z)
    pair = [Probe(Point.ALT_A, Point.ALT_B)]
    source = TestSource(open_v=3.0, short_a=1e-3)
    unknown, known = (replace(RUNNING, warmth=w) for w in (Warmth.UNKNOWN, warmth))
    post = [Probe(Point.BATTERY_POS, Point.BATTERY_NEG)]
    ours, theirs = (signals(SPORT.layout, params, s, volts=post)[0].dc for s in (unknown, known))
    assert ours == pytest.approx(theirs, abs=2e-3)
    off = [replace(s, engine=Engine.OFF, rpm=None, plug_in=False) for s in (unknown, known)]
    ours, theirs = (under_test(SPORT.layout, params, s, pair, source).volts for s in off)
    assert ours == pytest.approx(theirs, rel=1e-4, abs=1e-6)


def test_halfway_copper_is_halfway_warm(people: Population) -> None:
    """Copper 0.393 %/K: half of the way from 20 to 110 C is 65 C, 1.177 times 20 C."""
    params = moved(people.params[:1], 0.0)
    params[:, INDEX["ambient_c"]], params[:, INDEX["stator_hot_c"]] = 20.0, 110.0
    off = State(plug_in=False)
    pair, source = [Probe(Point.ALT_A, Point.ALT_B)], TestSource(open_v=3.0, short_a=1e-3)
    unknown, cold = (
        under_test(SPORT.layout, params, replace(off, warmth=w), pair, source).volts[0, 0]
        for w in (Warmth.UNKNOWN, Warmth.COLD)
    )
    plug = column(params, "plug_ohm_a")[0] + column(params, "plug_ohm_b")[0]
    assert plug >= 0.0
    assert unknown / cold == pytest.approx(1.0 + 0.00393 * 45.0, rel=0.005)
