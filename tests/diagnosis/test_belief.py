"""Belief, refinement and doubt on the real population, made small.

What must hold whatever the machine: order of entry does not matter, a repeated reading with the
same meter proves nothing new (persistent error, Jia et al., arXiv 2312.15357), a slip is found
and cannot convince, refined populations keep the evidence of the plain one.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chargewright.checks.load import load_book
from chargewright.diagnosis import belief as beliefs
from chargewright.diagnosis import population as populations
from chargewright.diagnosis.belief import MADE_AGAIN, believe, likelihood
from chargewright.diagnosis.population import Population, name_of, populate, predicted
from chargewright.diagnosis.question import Answer, question_of
from chargewright.diagnosis.refine import learn, refine, thin
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS
from chargewright.machine.prior import prior
from chargewright.meters.load import load_meter
from chargewright.meters.shown import Shown

SPORT = load_class("sport-600-1000")
METER = load_meter("trms-6000")
CHECKS = load_book().catalogue(SPORT.layout, SPORT.speeds, lights_always_on=SPORT.lights_always_on)


def answer(check: str, value: float, *, lsd: float = 0.01, name: str | None = None) -> Answer:
    """Return a catalogue check answered with a figure."""
    found = CHECKS.get(check)
    return Answer(
        id=name or check,
        title=found.title,
        question=question_of(found),
        meter=METER,
        shown=Shown(value=value, lsd=lsd),
    )


@pytest.fixture(scope="module")
def people() -> Population:
    """Return a small population of sport machines whose battery goes flat."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(populations, "SINGLE_COUNT", 160)
        patch.setattr(populations, "PAIR_COUNT", 30)
        patch.setattr(populations, "SOUND_COUNT", 200)
        return populate(SPORT, prior(SPORT, "battery_goes_flat"), np.random.default_rng(3))


def test_nothing_read_leaves_the_prior(people: Population) -> None:
    shares = believe(people, ()).hypothesis_shares()
    expected = np.array([h.share for h in people.hypotheses])
    assert shares == pytest.approx(expected / expected.sum(), abs=1e-12)


def test_order_of_entry_does_not_matter(people: Population) -> None:
    one, two = answer("rest_v", 12.4), answer("high_lights_v", 13.2)
    ab = believe(people, (one, two)).hypothesis_shares()
    ba = believe(people, (two, one)).hypothesis_shares()
    assert ab == pytest.approx(ba, abs=1e-9)


def test_a_repeat_proves_nothing_new(people: Population) -> None:
    """But that the first reading was no slip: with blunders out of the question, nothing at all."""
    given = answer("high_lights_v", 13.2)
    again = (given, replace(given, id="again"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(beliefs, "BLUNDER_SHARE", 0.0)
        once = believe(people, (given,)).hypothesis_shares()
        assert believe(people, again).hypothesis_shares() == pytest.approx(once, abs=1e-12)
    once = believe(people, (given,)).hypothesis_shares()
    assert believe(people, again).hypothesis_shares() == pytest.approx(once, abs=0.01)


def test_an_odd_reading_found_again_is_believed() -> None:
    """The odds on a blunder fall by ``MADE_AGAIN`` with every repeat (Bayes' theorem)."""
    sound = [h for h in prior(SPORT, "battery_goes_flat") if name_of(h) == "no_fault"]
    people = populate(SPORT, sound, np.random.default_rng(3))
    odd = answer("high_lights_v", 15.4)
    odds = []
    for count in (1, 2, 3):
        repeats = tuple(replace(odd, id=f"r{n}") for n in range(count))
        doubt = believe(people, repeats).doubt()[0]
        odds.append(doubt / (1.0 - doubt))
    assert odds[0] > 0.005
    fell = np.array(odds[:-1]) / np.array(odds[1:])
    assert fell == pytest.approx([1.0 / MADE_AGAIN] * 2, rel=0.05)


def test_of_two_readings_that_differ_one_is_the_slip(people: Population) -> None:
    given = (answer("high_lights_v", 13.1), answer("high_lights_v", 1.31, name="slip"))
    belief = believe(people, given)
    assert [one.id for one in belief.answers] == ["high_lights_v", "slip"]
    assert belief.doubt()[0] < 0.1
    assert belief.doubt()[1] > 0.9


def test_a_slip_is_doubted_and_does_not_convince(people: Population) -> None:
    """1.31 V where 13.1 V was meant: doubted, and it says no more than the figure meant would."""
    rest = answer("rest_v", 12.4)
    slip = answer("high_lights_v", 1.31)
    belief = believe(people, (rest, slip))
    assert belief.doubt()[1] > 0.9
    assert belief.doubt()[0] < 0.1
    before = believe(people, (rest,)).hypothesis_shares()
    meant = believe(people, (rest, answer("high_lights_v", 13.1))).hypothesis_shares()
    moved = np.abs(belief.hypothesis_shares() - before).sum()
    assert moved < np.abs(meant - before).sum() + 0.1


def test_contradiction_never_crashes(people: Population) -> None:
    """Readings no machine could show together still give weights that sum to one."""
    odd = (answer("rest_v", 3.0), answer("high_lights_v", 19.9), answer("ripple_v", 8.0))
    belief = believe(people, odd)
    assert belief.weights.sum() == pytest.approx(1.0)
    assert np.isfinite(belief.log_evidence)
    assert belief.doubt().max() > 0.3


def test_refinement_keeps_the_evidence(people: Population) -> None:
    """Tempered Monte Carlo against the plain population where that is still good enough.

    Evidence of hypotheses with 30 or more effective machines may move by a third at most:
    both are estimates with an error near 20 %.
    """
    given = (answer("high_lights_v", 13.4),)
    plain = believe(people, given)
    sizes, shares = plain.sample_sizes(), plain.hypothesis_shares()
    good = np.flatnonzero((sizes > 30) & (shares > 0.01))
    assert good.size >= 3
    refined = refine(plain, good, np.random.default_rng(8))
    assert refined.sample_sizes()[good].min() > 100
    ratio = refined.hypothesis_shares()[good] / shares[good]
    assert np.log(ratio) == pytest.approx(np.zeros(good.size), abs=0.4)


def test_learning_leaves_no_thin_hypothesis(people: Population) -> None:
    given = (answer("rest_v", 12.3), answer("idle_lights_v", 12.6), answer("high_lights_v", 13.0))
    belief = learn(people, given, np.random.default_rng(1))
    assert belief.weights.sum() == pytest.approx(1.0)
    assert thin(belief, 4.0).size == 0
    assert belief.sample_size() > 100


def test_the_one_place_that_explains_the_readings_is_found() -> None:
    """A leak of 2.4 ohm from frame to lead A: one junction of six, a twentieth of its severities.

    Machines that all take the readings for slips are as many as they were, and seem enough: of
    forty seeds the 32nd fell for it, a hundredth of its share left. Against 40,000 machines of each
    cause drawn from the prior and weighed; one seed scatters by 0.6 nats (over forty).
    """
    names = ("alternator_lead_chafed", "junction_leaky", "junction_shorted")
    among = [h for h in prior(SPORT, "warning_light_or_low_volts") if name_of(h) in names]
    given = [
        answer("high_lights_v", 13.6),
        answer("harness_frame_ohm", 2.5, lsd=0.1),
        answer("diode_down_a", 0.004, lsd=0.001),
    ]
    z = np.random.default_rng(9).standard_normal((40_000, LATENTS))
    member = np.zeros(len(z), dtype=np.intp)
    brute = {}
    for one in among:
        drawn = predicted(SPORT, [one], None, member, z)
        logs = sum((likelihood(drawn, told) for told in given), np.zeros(len(z)))
        brute[name_of(one)] = one.share * float(np.exp(logs).mean())
    expected = brute["junction_leaky"] / sum(brute.values())
    found = []
    for seed in range(30, 36):
        rng = np.random.default_rng(seed)
        belief = learn(populate(SPORT, among, rng), given, rng)
        found.append(belief.cause_shares()["junction_leaky"])
    assert np.log(np.mean(found)) == pytest.approx(np.log(expected), abs=0.6)
    assert min(found) > expected / 8.0


def test_a_cause_that_takes_a_reading_for_a_slip_is_drawn_anew() -> None:
    """None of its machines leaks near 2.5 ohm from frame to lead A, so all lose the same: enough
    are left by their number, and none that speaks for it."""
    rng = np.random.default_rng(4)
    names = ("junction_leaky", "alternator_lead_chafed")
    among = [h for h in prior(SPORT, "warning_light_or_low_volts") if name_of(h) in names]
    people = populate(SPORT, among, rng)
    read = answer("harness_frame_ohm", 2.5, lsd=0.1)
    leaky = [name_of(h) for h in among].index("junction_leaky")
    rows = people.of(leaky)
    far = rows[likelihood(people.predictions, read, rows) < -5.0]
    people.z[rows] = people.z[rng.choice(far, len(rows))]
    without = predicted(SPORT, among, None, people.member, people.z)
    people = replace(people, params=without.params, predictions=without)
    belief = believe(people, (read,))
    assert belief.sample_sizes()[leaky] > 100
    assert leaky in thin(belief)


def test_a_worse_meter_is_less_sure(people: Population) -> None:
    """The same figure from a coarser display moves belief less."""
    sharp = answer("drop_fuse_high_v", 0.300, lsd=0.0001)
    coarse = replace(sharp, meter=load_meter("average-2000"), shown=Shown(value=0.3, lsd=0.1))
    start = believe(people, ()).hypothesis_shares()

    def moved(given: Answer) -> float:
        return float(np.abs(believe(people, (given,)).hypothesis_shares() - start).sum())

    assert moved(coarse) < moved(sharp)
