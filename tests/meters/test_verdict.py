"""Probability of conformance and the three outcomes, against published and tabulated values."""

from __future__ import annotations

from math import gamma, sqrt

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from chargewright.errors import InputError
from chargewright.jobs.reading_text import parse_reading
from chargewright.machine.points import Function
from chargewright.meters.advice import judge_with_advice
from chargewright.meters.card import Range
from chargewright.meters.load import load_meter
from chargewright.meters.shown import Shown
from chargewright.meters.uncertainty import Spread, ratio_u, rectangle_u
from chargewright.meters.verdict import Outcome, judge, judge_reading, reading_spread

VOLTS_60 = Range(full_scale=60, lsd=0.01, percent=0.5, counts=2)


@pytest.mark.parametrize(
    ("value", "u", "low", "high", "p"),
    [
        (-5.47, 0.05, None, -5.40, 0.92),
        (509.7, 8.6, 490.0, None, 0.99),
        (13.6, 1.8, 12.5, 16.3, 0.66),
    ],
    ids=["diode breakdown", "burst pressure", "oil viscosity"],
)
def test_jcgm_106_clause_7(
    value: float, u: float, low: float | None, high: float | None, p: float
) -> None:
    verdict = judge(value, Spread((), u), low=low, high=high)
    assert verdict.p_conform == pytest.approx(p, abs=0.005)


@pytest.mark.parametrize(
    ("p", "z"), [(0.80, 0.842), (0.90, 1.282), (0.95, 1.645), (0.99, 2.326), (0.999, 3.090)]
)
def test_jcgm_106_table_1(p: float, z: float) -> None:
    assert Spread((), 1.0).half_width(2 * p - 1) == pytest.approx(z, abs=5e-4)


def global_risks(
    prior: np.ndarray, eta: np.ndarray, u_m: float, tolerance: tuple, accept: tuple
) -> tuple[float, float]:
    """Consumer's and producer's risk [%]: prior times the probability of acceptance."""
    error = Spread((), u_m)
    chance = np.array([error.below(accept[1] - x) - error.below(accept[0] - x) for x in eta])
    weight = prior / prior.sum()
    good = (eta >= tolerance[0]) & (eta <= tolerance[1])
    consumer = float((weight * chance)[~good].sum())
    producer = float((weight * (1 - chance))[good].sum())
    return 100 * consumer, 100 * producer


@pytest.mark.parametrize(
    ("guard", "consumer", "producer"),
    [(0.0, 1.89, 3.72), (0.02, 0.99, 6.90), (0.08, 0.047, 24.8), (-0.08, 6.94, 0.068)],
)
def test_jcgm_106_9_5_resistors(guard: float, consumer: float, producer: float) -> None:
    step = 0.0004
    eta = (np.arange(-2000, 2000) + 0.5) * step  # limits fall on cell edges
    prior = np.exp(-0.5 * (eta / 0.12) ** 2)
    accept = (-0.2 + guard, 0.2 - guard)
    r_c, r_p = global_risks(prior, eta, 0.04, (-0.2, 0.2), accept)
    assert r_c == pytest.approx(consumer, rel=0.005, abs=6e-4)
    assert r_p == pytest.approx(producer, rel=0.005, abs=6e-4)


@pytest.mark.parametrize(
    ("accept", "consumer", "producer"), [(2.0, 0.802, 1.74), (1.672, 0.1, 7.5)]
)
def test_jcgm_106_9_5_4_ball_bearings(accept: float, consumer: float, producer: float) -> None:
    eta = (np.arange(4000) + 0.5) * 0.002
    prior = eta**3 * np.exp(-4 * eta) * 4**4 / gamma(4)
    r_c, r_p = global_risks(prior, eta, 0.25, (0.0, 2.0), (-10.0, accept))
    assert r_c == pytest.approx(consumer, abs=0.0006)
    assert r_p == pytest.approx(producer, abs=0.05 if accept < 2 else 0.006)


@pytest.mark.parametrize(
    ("r", "percent", "digit"),
    [(1.5, 0.135, 6e-4), (1.0, 2.28, 6e-3), (0.83, 4.85, 6e-3), (0.0, 50.0, 1e-9)],
)
def test_ilac_g8_worst_false_accept(r: float, percent: float, digit: float) -> None:
    # a reading on the acceptance limit TL - r*U, U = 2u
    verdict = judge(10.0 - r * 2.0, Spread((), 1.0), high=10.0)
    assert verdict.p_conform is not None
    assert 100 * (1 - verdict.p_conform) == pytest.approx(percent, abs=digit)


def test_ilac_g8_three_u_below_a_part_per_million() -> None:
    assert Spread((), 1.0).below(-6.0) == pytest.approx(1.0e-9, rel=0.02)


@pytest.mark.parametrize(
    ("value", "p_normal", "p_rectangle", "outcome"),
    [
        (13.40, 0.023, 0.000, Outcome.OUTSIDE),
        (13.45, 0.160, 0.213, Outcome.UNDECIDED),
        (13.50, 0.500, 0.500, Outcome.UNDECIDED),
        (13.55, 0.838, 0.785, Outcome.UNDECIDED),
        (13.60, 0.975, 1.000, Outcome.INSIDE),
        (14.90, 0.967, 1.000, Outcome.INSIDE),
        (15.05, 0.182, 0.238, Outcome.UNDECIDED),
    ],
)
def test_bench_rule_13_5_to_15_0_v(
    value: float, p_normal: float, p_rectangle: float, outcome: Outcome
) -> None:
    a = VOLTS_60.limit(value)
    for spread, p in ((Spread((), rectangle_u(a)), p_normal), (Spread((a,)), p_rectangle)):
        verdict = judge(value, spread, low=13.5, high=15.0)
        assert verdict.p_conform == pytest.approx(p, abs=5.1e-4)
        assert verdict.outcome is outcome
    # and from the card, as typed
    card = load_meter("trms-6000")
    verdict = judge_reading(card, Function.DC_V, Shown(value=value, lsd=0.01), low=13.5, high=15.0)
    assert verdict.p_conform == pytest.approx(p_rectangle, abs=5.1e-4)


def test_bench_rule_limit_of_error() -> None:
    assert VOLTS_60.limit(13.40) == pytest.approx(0.0870, abs=5e-5)
    assert rectangle_u(VOLTS_60.limit(13.40)) == pytest.approx(0.0502, abs=5e-5)


# Computed reference, three digits; three entries were one unit off in the last digit and are
# replaced by the exact value: 0.871 -> 0.8715 and 0.322 -> 0.3211 (trapezoid by hand:
# p = 1 - (a1 + a2 - d)^2/(8 a1 a2)), 0.133 -> 0.1336 (2e7 draws give 0.13360).
TWO_WIRE = [
    # shown R1, then A: u, U95, p; B: U95, p; C: U95, p
    (0.4, 0.165, 0.314, 0.717, 0.078, 1.000, 0.133, 0.917),
    (0.5, 0.166, 0.315, 0.8715, 0.078, 1.000, 0.133, 1.000),
    (0.8, 0.167, 0.317, 1.000, 0.078, 1.000, 0.133, 1.000),
    (1.1, 0.168, 0.319, 0.714, 0.078, 1.000, 0.133, 0.916),
    (1.2, 0.168, 0.319, 0.500, 0.078, 0.500, 0.133, 0.500),
    (1.3, 0.168, 0.320, 0.287, 0.078, 0.001, 0.133, 0.084),
    (1.5, 0.169, 0.3211, 0.038, 0.078, 0.000, 0.1336, 0.000),
]


class TestTwoWireOhms:
    """Can a 200 ohm range (0.8 % + 2 of 0.1 ohm) judge a 0.1...1.0 ohm stator?"""

    one = Range(full_scale=200, lsd=0.1, percent=0.8, counts=2)
    leads = 0.2

    @pytest.mark.parametrize("row", TWO_WIRE, ids=[str(row[0]) for row in TWO_WIRE])
    def test_a_independent_counts(self, row: tuple[float, ...]) -> None:
        spread = Spread((self.one.limit(row[0]), self.one.limit(self.leads)))
        verdict = judge(row[0] - self.leads, spread, low=0.1, high=1.0)
        assert verdict.u == pytest.approx(row[1], abs=5.1e-4)
        assert verdict.half_width == pytest.approx(row[2], abs=5.1e-4)
        assert verdict.p_conform == pytest.approx(row[3], abs=5.1e-4)

    @pytest.mark.parametrize("row", TWO_WIRE, ids=[str(row[0]) for row in TWO_WIRE])
    def test_b_null_removes_the_offset(self, row: tuple[float, ...]) -> None:
        ohm = row[0] - self.leads
        spread = Spread((0.05, 0.05, 0.008 * ohm))
        verdict = judge(ohm, spread, low=0.1, high=1.0)
        assert verdict.half_width == pytest.approx(row[4], abs=5.1e-4)
        assert verdict.p_conform == pytest.approx(row[5], abs=5.1e-4)

    @pytest.mark.parametrize("row", TWO_WIRE, ids=[str(row[0]) for row in TWO_WIRE])
    def test_c_contacts_scatter(self, row: tuple[float, ...]) -> None:
        ohm = row[0] - self.leads
        spread = Spread((0.05, 0.05, 0.008 * ohm, 0.1))
        verdict = judge(ohm, spread, low=0.1, high=1.0)
        assert verdict.half_width == pytest.approx(row[6], abs=5.1e-4)
        assert verdict.p_conform == pytest.approx(row[7], abs=5.1e-4)

    def test_imbalance_of_three_phases(self) -> None:
        spread = Spread((0.05, 0.05))  # only quantisation is left in a difference
        assert spread.u == pytest.approx(0.0408, abs=5e-5)
        assert spread.half_width() == pytest.approx(0.0776, abs=5e-5)

    def test_outcomes_of_the_text(self) -> None:
        a = [
            judge(r - 0.2, Spread((self.one.limit(r), 0.2016)), low=0.1, high=1.0).outcome
            for r in (0.4, 0.8, 1.5)
        ]
        assert a == [Outcome.UNDECIDED, Outcome.INSIDE, Outcome.OUTSIDE]


FOUR_WIRE = [
    # volts, its limit %, counts, digit; amps, %, counts, digit; R, u, U95
    ("600 mV, 1 A", 0.2, (0.5, 2, 1e-4), 1.0, (1.0, 3, 1e-3), 0.2, 0.00165, 0.0030),
    ("6 V range", 0.2, (0.5, 2, 1e-3), 1.0, (1.0, 3, 1e-3), 0.2, 0.00229, 0.0044),
    ("clamp 2 A", 0.4, (0.5, 2, 1e-3), 2.0, (2.5, 10, 1e-2), 0.2, 0.0087, 0.0145),
    ("drop 30 A", 0.15, (0.5, 2, 1e-4), 30.0, (2.5, 10, 1e-2), 0.005, 84e-6, 144e-6),
]


@pytest.mark.parametrize("case", FOUR_WIRE, ids=[case[0] for case in FOUR_WIRE])
def test_four_wire_by_injected_current(case: tuple) -> None:
    _, volts, volt_spec, amps, amp_spec, ohm, u, half_width = case
    a_v = volt_spec[0] / 100 * volts + volt_spec[1] * volt_spec[2]
    a_i = amp_spec[0] / 100 * amps + amp_spec[1] * amp_spec[2]
    assert volts / amps == pytest.approx(ohm)
    assert ratio_u(volts, rectangle_u(a_v), amps, rectangle_u(a_i)) == pytest.approx(u, rel=0.006)
    spread = Spread((a_v / amps, ohm * a_i / amps))
    assert spread.half_width() == pytest.approx(half_width, rel=0.02)
    assert judge(0.2, Spread((a_v / amps, 0.2 * a_i / amps)), low=0.1, high=1.0).p_conform == 1.0


spreads = st.builds(
    Spread,
    st.lists(st.floats(0.0, 5.0), max_size=3).map(tuple),
    st.floats(0.0, 5.0),
).filter(lambda spread: spread.u > 1e-6)


@given(spreads, st.floats(-20, 20), st.floats(-10, 10), st.floats(0.1, 15), st.floats(1, 30))
def test_a_worse_meter_never_makes_us_surer(
    spread: Spread, value: float, low: float, width: float, worse: float
) -> None:
    """One limit: p moves towards 0.5. Two: what was undecided stays so, nothing changes side."""
    one = judge(value, spread, low=low).p_conform
    one_worse = judge(value, spread.scaled(worse), low=low).p_conform
    assert one is not None
    assert one_worse is not None
    assert abs(one_worse - 0.5) <= abs(one - 0.5) + 1e-8
    both = judge(value, spread, low=low, high=low + width).outcome
    both_worse = judge(value, spread.scaled(worse), low=low, high=low + width).outcome
    assert both_worse in (both, Outcome.UNDECIDED)


@given(spreads, st.floats(-20, 20), st.floats(-10, 10), st.sampled_from([1e-3, 1e3]))
def test_units_do_not_matter(spread: Spread, value: float, low: float, scale: float) -> None:
    here = judge(value, spread, low=low).p_conform
    there = judge(scale * value, spread.scaled(scale), low=scale * low).p_conform
    assert there == pytest.approx(here, abs=1e-9)


@given(spreads, st.floats(0.5, 0.999))
def test_half_width_is_the_inverse_of_below(spread: Spread, coverage: float) -> None:
    h = spread.half_width(coverage)
    assert spread.below(h) - spread.below(-h) == pytest.approx(coverage, abs=1e-7)


@pytest.mark.parametrize(
    ("widths", "sigma"), [((1.0, 0.7, 0.2), 0.3), ((0.5, 0.5, 0.3, 0.02), 0.0), ((1.0,), 0.4)]
)
def test_distribution_function_against_summed_cells(
    widths: tuple[float, ...], sigma: float
) -> None:
    step = 1e-3
    density = np.ones(1)
    for a in widths:
        density = np.convolve(density, np.full(round(2 * a / step), step / (2 * a)))
    if sigma:
        x = np.arange(-round(8 * sigma / step), round(8 * sigma / step) + 1) * step
        bell = np.exp(-0.5 * (x / sigma) ** 2)
        density = np.convolve(density, bell / bell.sum())
    place = (np.arange(density.size) - (density.size - 1) / 2) * step
    spread = Spread(widths, sigma)
    for z in (-1.1, -0.4, 0.0, 0.3, 0.9):
        below = density[place < z - 1e-9].sum() + 0.5 * density[np.abs(place - z) <= 1e-9].sum()
        assert spread.below(z) == pytest.approx(below, abs=1e-3)  # one cell


@pytest.mark.parametrize("narrow", [0.5, 0.005, 0.0005])
def test_trapezoid_by_hand(narrow: float) -> None:
    # two rectangles, tail beyond d: (a1 + a2 - d)^2/(8 a1 a2), at d = a1
    assert Spread((1.0, narrow)).below(-1.0) == pytest.approx(narrow / 8, abs=1e-5)


@given(spreads, st.floats(-10, 10), st.floats(-10, 10))
def test_below_rises(spread: Spread, one: float, two: float) -> None:
    low, high = sorted((one, two))
    assert spread.below(low) <= spread.below(high) + 1e-9


def test_a_hopeless_meter_does_not_prove_outside() -> None:
    verdict = judge(14.2, Spread((), 100.0), low=13.5, high=15.0)
    assert verdict.p_conform is not None
    assert verdict.p_conform < 0.05
    assert verdict.outcome is Outcome.UNDECIDED


@given(st.floats(0.01, 5.0), st.floats(-3.0, 3.0))
def test_needed_u_decides(u: float, value: float) -> None:
    assume(abs(value) > 1e-3)
    needed = judge(value, Spread((), u), high=0.0).needed_u
    sharp = judge(value, Spread((), needed * 0.999), high=0.0)
    assert sharp.outcome is (Outcome.INSIDE if value < 0 else Outcome.OUTSIDE)
    blunt = judge(value, Spread((), needed * 1.001), high=0.0)
    assert blunt.outcome is Outcome.UNDECIDED


class TestBounds:
    card = load_meter("trms-6000")

    def outcome(self, shown: Shown, **limits: float) -> Outcome:
        return judge_reading(self.card, Function.OHM, shown, **limits).outcome

    def test_overload(self) -> None:
        assert self.outcome(Shown(kind="overload"), low=1e6) is Outcome.INSIDE
        assert self.outcome(Shown(kind="overload"), low=0.1, high=1.0) is Outcome.OUTSIDE

    def test_overload_of_a_meter_set_by_hand_only_says_above_its_lowest_range(self) -> None:
        card = load_meter("average-2000")
        shown = Shown(kind="overload")
        assert judge_reading(card, Function.OHM, shown, high=1.0).outcome is Outcome.OUTSIDE
        assert judge_reading(card, Function.OHM, shown, low=1e6).outcome is Outcome.UNDECIDED

    def test_beep(self) -> None:
        assert self.outcome(Shown(kind="continuity"), low=1e6) is Outcome.OUTSIDE
        assert self.outcome(Shown(kind="continuity"), high=1.0) is Outcome.UNDECIDED
        assert self.outcome(Shown(kind="continuity"), high=1000.0) is Outcome.INSIDE

    def test_typed_bounds(self) -> None:
        def volts(shown: Shown, **limits: float) -> Outcome:
            return judge_reading(self.card, Function.AC_V, shown, **limits).outcome

        assert volts(Shown(kind="at_least", value=60.0, lsd=1.0), low=50.0) is Outcome.INSIDE
        assert volts(Shown(kind="at_least", value=40.0, lsd=1.0), low=50.0) is Outcome.UNDECIDED
        assert volts(Shown(kind="at_least", value=60.0, lsd=1.0), high=50.0) is Outcome.OUTSIDE
        assert volts(Shown(kind="at_most", value=40.0, lsd=1.0), low=50.0) is Outcome.OUTSIDE
        both = Shown(kind="at_least", value=60.0, lsd=1.0)
        assert volts(both, low=50.0, high=90.0) is Outcome.UNDECIDED


def test_typed_rounding_adds_to_the_meter() -> None:
    card = load_meter("trms-6000")
    fine = reading_spread(card, Function.DC_V, Shown(value=13.90, lsd=0.01))
    rough = reading_spread(card, Function.DC_V, Shown(value=13.9, lsd=0.1))
    assert fine.u == pytest.approx((0.005 * 13.9 + 0.02) / sqrt(3))
    assert rough.u == pytest.approx(sqrt(fine.u**2 + 0.05**2 / 3))


def test_mean_of_five_keeps_type_b() -> None:
    # five readings, s 0.02, at 13.56: u_A 0.0089, u_B 0.0507 -> u 0.0515 (with the digit's own)
    u_a, u_b = 0.02 / sqrt(5), rectangle_u(VOLTS_60.limit(13.56))
    assert u_a == pytest.approx(0.0089, abs=6e-5)
    assert u_b == pytest.approx(0.0507, abs=6e-5)
    assert Spread((VOLTS_60.limit(13.56),), u_a).u == pytest.approx(0.0515, abs=6e-5)


@pytest.mark.parametrize(("low", "high"), [(None, None), (2.0, 1.0), (1.0, 1.0)])
def test_limits_that_are_none_are_refused(low: float | None, high: float | None) -> None:
    with pytest.raises(InputError, match="limit"):
        judge(1.0, Spread((1.0,)), low=low, high=high)


def test_ol_on_a_range_set_by_hand_says_which_range_decides() -> None:
    """OL there only means "above some range"; typed as more than a range it is above the limit."""
    card = load_meter("average-2000")
    told = judge_with_advice(card, Function.OHM, Shown(kind="overload"), low=1e6)
    assert told.outcome is Outcome.UNDECIDED
    assert told.advice == (
        "turn the dial up to the 2 Mohm range or higher and read again; "
        "OL there is typed >2 Mohm and decides",
    )
    typed = parse_reading(">2 Mohm", Function.OHM)
    seen = Shown(kind="at_least", value=typed.value, lsd=typed.lsd)
    assert judge_with_advice(card, Function.OHM, seen, low=1e6).outcome is Outcome.INSIDE
    beyond = judge_with_advice(card, Function.OHM, Shown(kind="overload"), low=1e9)
    assert beyond.advice == ("no range of this meter goes beyond the limit: read a figure in ohm",)
