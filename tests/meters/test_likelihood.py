"""From truth to the probability of what was typed."""

from __future__ import annotations

from math import exp, inf, log
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad  # an outside judge of the closed form

from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters import mass
from chargewright.meters.indicate import (
    Indication,
    indicate_amps,
    indicate_diode,
    indicate_ohms,
    indicate_volts,
)
from chargewright.meters.likelihood import (
    BLUNDER_SHARE,
    CONTINUITY_OHM,
    Blunders,
    log_likelihood,
)
from chargewright.meters.load import load_meter
from chargewright.meters.mass import interval_mass
from chargewright.meters.shown import Shown

AUTO = load_meter("trms-6000")
MANUAL = load_meter("average-2000")


def volts(values: Array | list[float], card_id: str = "trms-6000") -> Indication:
    dc = np.asarray(values, dtype=np.float64)
    nothing = np.zeros_like(dc)
    return indicate_volts(
        load_meter(card_id),
        Function.DC_V,
        dc=dc,
        ac_true_rms=nothing,
        ac_average=nothing,
        frequency_hz=nothing,
    )


def ohms(values: list[float], card_id: str = "trms-6000", *, nulled: bool = True) -> Indication:
    amps = 1e-4
    return indicate_ohms(
        load_meter(card_id),
        np.asarray(values) * amps,
        np.full(len(values), amps),
        nulled=nulled,
    )


@pytest.mark.parametrize(
    "half_width", [0.0, 1e-9, 0.003, 0.0099, 0.0101, 0.05, 0.1, 1.0, 30.0, 1e9]
)
@pytest.mark.parametrize(("low", "high"), [(-0.4, 0.7), (-3.0, -2.9), (1.0, inf), (2.0, 40.0)])
def test_closed_form_against_quadrature(half_width: float, low: float, high: float) -> None:
    phi = NormalDist().cdf

    def inside(t: float) -> float:
        return (1.0 if high == inf else phi(high - t)) - phi(low - t)

    if half_width == 0.0:
        expected = inside(0.0)
    else:
        a = min(half_width, 60.0 + max(abs(low), min(high, 100.0)))
        if high == inf and half_width > a:
            expected = 0.5 - low / (2 * half_width)
        else:
            edges = [x for x in (low, high) if -a < x < a]
            area = quad(inside, -a, a, points=edges or None, epsabs=1e-13, limit=400)[0]
            expected = area / (2 * half_width)
    got = interval_mass(np.zeros(1), np.full(1, half_width), 1.0, low=low, high=high)[0]
    assert got == pytest.approx(expected, abs=2e-12)


@given(
    st.floats(-20, 20),
    st.one_of(st.just(0.0), st.floats(1e-9, 30.0)),
    st.one_of(st.just(0.0), st.floats(1e-9, 30.0)),
    st.one_of(st.just(-inf), st.floats(-20, 20)),
    st.one_of(st.just(inf), st.floats(0.0, 20)),
)
def test_the_compiled_sum_is_the_plain_one(
    centre: float, half_width: float, sigma: float, low: float, width: float
) -> None:
    high = inf if width == inf or low == -inf else low + width
    given_to = [np.array([x]) for x in (centre, half_width, sigma, low, high)]
    plain, fast = np.zeros(1), np.zeros(1)
    mass._fill(*given_to, plain)
    mass.fill_masses(*given_to, fast)
    assert fast[0] == pytest.approx(plain[0], abs=1e-12)


def test_sharp_rectangle_without_a_normal_part() -> None:
    got = interval_mass(np.zeros(3), np.array([1.0, 1.0, 0.0]), 0.0, low=-0.5, high=0.25)
    assert got == pytest.approx([0.375, 0.375, 1.0])


@pytest.mark.parametrize("truth", [0.01, 0.599, 5.98, 13.9, 59.8, -13.9])
@pytest.mark.parametrize("model_steps", [0.0, 2.5, 40.0])
def test_all_displays_together_have_probability_one(truth: float, model_steps: float) -> None:
    indication = volts([truth])
    step = float(indication.lsd[0])
    model_sigma = model_steps * step
    reach = float(indication.half_width[0]) + 9 * model_sigma + step
    first, last = round((truth - reach) / step), round((truth + reach) / step)
    total = sum(
        exp(
            log_likelihood(
                indication,
                Shown(value=k * step, lsd=step),
                model_sigma=model_sigma,
                blunder_share=0.0,
            )[0]
        )
        for k in range(first, last + 1)
    )
    assert total == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("card_id", ["trms-6000", "average-2000"])
@pytest.mark.parametrize("truth", [199.0, 1990.0, 1.99e6])
def test_figures_and_overload_together_have_probability_one(card_id: str, truth: float) -> None:
    indication = ohms([truth], card_id)
    step = float(indication.lsd[0])
    reach = float(indication.half_width[0]) + 9 * float(indication.sigma[0]) + step
    first, last = round((truth - reach) / step), round((truth + reach) / step)
    figures = [Shown(value=k * step, lsd=step) for k in range(first, last + 1)]
    total = sum(exp(log_likelihood(indication, one, blunder_share=0.0)[0]) for one in figures)
    total += exp(log_likelihood(indication, Shown(kind="overload"), blunder_share=0.0)[0])
    # figures above a range's top are counted by whole steps: half a step may be counted twice
    assert total == pytest.approx(1.0, abs=0.6 * step / (2 * float(indication.half_width[0])))


def test_typed_place_is_a_rounding() -> None:
    # 13.9 typed to a tenth covers 13.85...13.95: ten steps of a hundredth
    indication = volts([13.88])
    fine = sum(
        np.exp(log_likelihood(indication, Shown(value=v, lsd=0.01), blunder_share=0.0))
        for v in np.arange(13.855, 13.95, 0.01)
    )
    rough = np.exp(log_likelihood(indication, Shown(value=13.9, lsd=0.1), blunder_share=0.0))
    assert rough == pytest.approx(fine, rel=1e-9)


shown_readings = st.one_of(
    st.builds(
        Shown,
        kind=st.sampled_from(["value", "about", "at_least", "at_most"]),
        value=st.floats(-2e3, 2e3),
        lsd=st.sampled_from([0.0, 1e-3, 0.1, 1.0, 10.0]),
    ),
    st.builds(
        lambda low, width: Shown(kind="between", value=low, value_max=low + width, lsd=0.1),
        st.floats(-100, 100),
        st.floats(0, 50),
    ),
    st.sampled_from([Shown(kind="overload"), Shown(kind="continuity")]),
)
EXTREMES = [0.0, -0.0, 1e-12, 0.5, 13.9, -13.9, 999.0, 1e6, -1e6, inf, -inf, float("nan")]


@given(shown_readings, st.sampled_from([0.0, 1e-9, 0.1, 1e3]))
def test_always_finite_and_never_above_one(shown: Shown, model_sigma: float) -> None:
    for card in ("trms-6000", "average-2000"):
        for indication in (volts(EXTREMES, card), ohms([abs(x) for x in EXTREMES], card)):
            logs = log_likelihood(indication, shown, model_sigma=model_sigma)
            assert logs.shape == (len(EXTREMES),)
            assert np.isfinite(logs).all()
            assert (logs <= 1e-12).all()


@given(st.floats(11, 15), st.floats(11, 15), st.sampled_from([1e-3, 1e3]))
def test_units_do_not_matter_without_blunders(truth: float, value: float, scale: float) -> None:
    indication = volts([truth])
    scaled = Indication(
        function=indication.function,
        centre=scale * indication.centre,
        half_width=scale * indication.half_width,
        sigma=scale * indication.sigma,
        lsd=scale * indication.lsd,
        over=indication.over,
        tops=tuple((scale * top, share) for top, share in indication.tops),
    )
    here = log_likelihood(
        indication, Shown(value=value, lsd=0.01), model_sigma=0.1, blunder_share=0.0
    )
    there = log_likelihood(
        scaled,
        Shown(value=scale * value, lsd=scale * 0.01),
        model_sigma=scale * 0.1,
        blunder_share=0.0,
    )
    assert there == pytest.approx(here, abs=1e-6)


def test_one_bad_reading_does_not_convince() -> None:
    # of a machine at 14.4 V against one at 12.6 V: a reading that fits one exactly
    logs = log_likelihood(volts([14.4, 12.6]), Shown(value=14.40, lsd=0.01))
    assert 4.0 < logs[0] - logs[1] < 14.0


def test_decimal_slip_beats_other_nonsense() -> None:
    logs = log_likelihood(volts([13.9]), Shown(value=1.39, lsd=0.01))
    other = log_likelihood(volts([13.9]), Shown(value=2.90, lsd=0.01))
    assert logs[0] > other[0] + 2.0


def test_swapped_probes_beat_other_nonsense() -> None:
    logs = log_likelihood(volts([0.85]), Shown(value=-0.85, lsd=0.01))
    other = log_likelihood(volts([0.85]), Shown(value=-0.55, lsd=0.01))
    assert logs[0] > other[0] + 2.0


def test_a_dead_contact_shows_nothing_on_volts_and_overload_on_ohms() -> None:
    only = Blunders(anything=0.0, ten_times=0.0, tenth=0.0, reversed=0.0, dead=1.0)

    def chance(indication: Indication, shown: Shown) -> float:
        return float(np.exp(log_likelihood(indication, shown, blunders=only))[0])

    # zero within five counts: a tenth of it falls on one step
    nothing = chance(volts([13.9]), Shown(value=0.0, lsd=0.01))
    assert nothing == pytest.approx(0.1 * BLUNDER_SHARE)
    assert chance(volts([13.9]), Shown(value=5.0, lsd=0.01)) < 1e-20
    assert chance(ohms([0.5]), Shown(kind="overload")) == pytest.approx(BLUNDER_SHARE)
    assert chance(ohms([50.0]), Shown(value=0.0, lsd=0.1)) < 1e-20


def test_a_worse_meter_tells_two_machines_apart_less() -> None:
    truths = [13.9, 13.5]
    seen = Shown(value=13.90, lsd=0.01)
    sharp = log_likelihood(volts(truths), seen)
    blunt = log_likelihood(volts(truths, "average-2000"), seen)
    assert sharp[0] - sharp[1] > blunt[0] - blunt[1] > 0


def test_bounds_and_spans() -> None:
    indication = volts([13.0, 14.0, 15.0])

    def chance(**fields: object) -> Array:
        shown = Shown(lsd=0.1, **fields)  # type: ignore[arg-type]
        return np.exp(log_likelihood(indication, shown, blunder_share=0.0))

    assert chance(kind="at_least", value=14.0) == pytest.approx([0, 0.5, 1], abs=1e-9)
    assert chance(kind="at_most", value=14.0) == pytest.approx([1, 0.5, 0], abs=1e-9)
    assert chance(kind="between", value=13.5, value_max=14.5) == pytest.approx([0, 1, 0], abs=1e-9)
    # about 14 reaches 5 % and half a digit: 13.25...14.75
    assert chance(kind="about", value=14.0) == pytest.approx([0, 1, 0], abs=1e-9)
    near = np.exp(
        log_likelihood(volts([13.2, 13.3]), Shown(kind="about", value=14, lsd=0.1), blunder_share=0)
    )
    assert near[0] < 0.5 < near[1]


class TestOhms:
    def test_leads_not_nulled_add_on_average_a_fifth_of_an_ohm(self) -> None:
        indication = ohms([0.4], nulled=False)
        assert indication.centre[0] == pytest.approx(0.6)
        assert indication.sigma[0] == pytest.approx(0.1)
        assert indication.half_width[0] == pytest.approx(0.009 * 0.6 + 0.2)

    def test_nulled_keeps_the_counts_of_the_null(self) -> None:
        indication = ohms([0.4])
        assert indication.centre[0] == pytest.approx(0.4)
        assert indication.sigma[0] == pytest.approx((0.03**2 + 0.2**2 / 3) ** 0.5)

    def test_no_current_is_overload(self) -> None:
        indication = indicate_ohms(AUTO, np.full(2, 2.7), np.array([0.0, -1e-12]), nulled=True)
        assert indication.over.all()
        assert log_likelihood(indication, Shown(kind="overload")) == pytest.approx(0, abs=0.03)

    def test_a_break_that_leaks_ten_megohms_may_be_written_as_overload(self) -> None:
        indication = ohms([1e7])
        chance = np.exp(log_likelihood(indication, Shown(kind="overload"), blunder_share=0.0))
        assert chance[0] == pytest.approx(0.5, abs=1e-6)

    def test_overload_of_a_range_set_by_hand(self) -> None:
        indication = ohms([0.5, 1e3, 1e9], "average-2000")
        chance = np.exp(log_likelihood(indication, Shown(kind="overload"), blunder_share=0.0))
        assert chance[0] < 1e-9
        assert chance[1] == pytest.approx(0.125)  # stayed on the lowest of five ranges
        assert chance[2] == pytest.approx(1.0)

    def test_bad_contact_reads_overload(self) -> None:
        logs = log_likelihood(ohms([0.5]), Shown(kind="overload"))
        assert logs[0] > log(0.1 * BLUNDER_SHARE)

    def test_beep(self) -> None:
        indication = ohms([0.5, CONTINUITY_OHM, 5e3, 1e9])
        chance = np.exp(log_likelihood(indication, Shown(kind="continuity"), blunder_share=0.0))
        assert chance == pytest.approx([1.0, 0.5, 0.0, 0.0], abs=1e-6)


class TestDiode:
    def test_forward_drop(self) -> None:
        indication = indicate_diode(AUTO, np.array([0.46]), np.array([1e-3]))
        assert indication.centre[0] == 0.46
        assert indication.half_width[0] == pytest.approx(0.009 * 0.46 + 0.002)
        assert not indication.over[0]

    def test_blocking_is_overload(self) -> None:
        indication = indicate_diode(AUTO, np.array([2.7, 2.69]), np.array([0.0, 1e-6]))
        assert indication.over.all()
        logs = log_likelihood(indication, Shown(kind="overload"))
        assert logs == pytest.approx(0.0, abs=0.03)

    def test_source_below_the_range_limits_it(self) -> None:
        spec = MANUAL.functions[Function.DIODE]
        assert spec.test_source.open_v > spec.top  # so here the range limits
        indication = indicate_diode(MANUAL, np.array([1.9, 2.1]), np.array([1e-3, 1e-3]))
        assert indication.over.tolist() == [False, True]


class TestAmps:
    def test_clamp_zero_counts(self) -> None:
        indication = indicate_amps(AUTO, Function.CLAMP_A, np.array([30.0]))
        assert indication.half_width[0] == pytest.approx(0.025 * 30 + 0.1)
        assert indication.sigma[0] == pytest.approx(0.05)

    def test_series_without_a_loop_leaves_the_burden_out(self) -> None:
        indication = indicate_amps(AUTO, Function.DC_A, np.array([0.05, 20.0]))
        assert indication.centre[0] == 0.05
        assert indication.over.tolist() == [False, True]
