"""What was typed, repeats of it, and the advice when it does not decide."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.errors import ReadingError
from chargewright.machine.points import Function
from chargewright.meters.advice import advise, four_wire_u, judge_with_advice
from chargewright.meters.load import load_meter
from chargewright.meters.shown import Shown, alike, combine_repeats, typed_lsd
from chargewright.meters.verdict import Outcome, judge_reading, reading_spread

AUTO = load_meter("trms-6000")
MANUAL = load_meter("average-2000")


@pytest.mark.parametrize(
    ("text", "place"),
    [("13.9", 0.1), ("13.90", 0.01), ("14", 1.0), ("-0.005", 0.001), ("1.2e3", 100.0)],
)
def test_place_of_the_last_digit(text: str, place: float) -> None:
    assert typed_lsd(text) == pytest.approx(place)


@pytest.mark.parametrize("text", ["12,6", "OL", "", "nan", "13.9 V"])
def test_text_that_is_no_number(text: str) -> None:
    with pytest.raises(ReadingError, match="expected a decimal number"):
        typed_lsd(text)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"kind": "abuot"}, "did you mean 'about'"),
        ({"value": float("nan")}, "expected a finite number"),
        ({"lsd": -0.1}, "expected 0 or more"),
        ({"kind": "between", "value": 14.0}, "smaller figure first"),
        ({"kind": "between", "value": 14.0, "value_max": 13.0}, "smaller figure first"),
    ],
)
def test_readings_that_cannot_be(fields: dict, words: str) -> None:
    with pytest.raises(ReadingError, match=words):
        Shown(**fields)


def test_repeats_take_away_only_what_scatters() -> None:
    # five readings with s = 0.02 about 13.56: u_A 0.0089, u_B 0.0507 -> u 0.0515
    values = 13.56 + 0.02 * np.array([-1.0, 1.0, -1.0, 1.0, 0.0])  # s is exactly 0.02
    mean = combine_repeats([Shown(value=float(v), lsd=0.01) for v in values])
    assert mean.value == pytest.approx(13.56)
    assert mean.lsd / sqrt(12) == pytest.approx(0.0089, abs=6e-5)
    assert reading_spread(AUTO, Function.DC_V, mean).u == pytest.approx(0.0515, abs=6e-5)


@given(st.lists(st.floats(13, 15), min_size=1, max_size=12))
def test_repeats_never_beat_the_meter(values: list[float]) -> None:
    mean = combine_repeats([Shown(value=v, lsd=0.01) for v in values])
    alone = reading_spread(AUTO, Function.DC_V, Shown(value=mean.value, lsd=0.0)).u
    assert reading_spread(AUTO, Function.DC_V, mean).u >= alone * (1 - 1e-12)


@pytest.mark.parametrize("function", [Function.AC_V, Function.DC_V])
def test_repeats_that_scatter_do_not_move_the_dial(function: Function) -> None:
    """26.6 and 26.4 were read on the range of one decimal, and so was their mean."""
    pair = [Shown(value=value, lsd=0.1) for value in (26.6, 26.4)]
    mean = combine_repeats(pair)
    assert mean.place == pytest.approx(0.1)
    alone, both = (reading_spread(MANUAL, function, one).u for one in (pair[0], mean))
    scatter = 0.2 / sqrt(2) / sqrt(2)  # s = 0.1414, of a mean of two
    assert both < sqrt(alone**2 + scatter**2) * 1.001


def test_same_figure_again_is_no_news() -> None:
    one = Shown(value=13.9, lsd=0.1)
    mean = combine_repeats([one] * 10)
    assert mean.value == pytest.approx(13.9)
    assert (mean.kind, mean.lsd) == ("value", 0.1)


def test_repeats_of_words() -> None:
    beep, over = Shown(kind="continuity"), Shown(kind="overload")
    assert combine_repeats([over, over]) == over
    with pytest.raises(ReadingError, match="continuity, overload"):
        combine_repeats([beep, over])
    with pytest.raises(ReadingError, match="at least one"):
        combine_repeats([])
    spans = [Shown(kind="between", value=v, value_max=v + 1, lsd=0.1) for v in (13.0, 13.4)]
    assert combine_repeats(spans) == Shown(kind="between", value=13.0, value_max=14.4, lsd=0.1)
    bounds = [Shown(kind="at_least", value=v, lsd=1) for v in (50.0, 60.0)]
    assert combine_repeats(bounds).value == 60.0
    bounds = [Shown(kind="at_most", value=v, lsd=1) for v in (50.0, 60.0)]
    assert combine_repeats(bounds).value == 50.0
    mixed = [Shown(value=13.0, lsd=0.1), Shown(kind="about", value=14.0, lsd=1)]
    assert combine_repeats(mixed).kind == "about"


class TestAdvice:
    def test_low_ohms_want_four_wires(self) -> None:
        shown = Shown(value=0.4, lsd=0.1)
        verdict = judge_with_advice(MANUAL, Function.OHM, shown, low=0.1, high=1.0)
        assert verdict.outcome is Outcome.UNDECIDED
        assert verdict.advice[0].startswith("four-wire")
        assert "decides" in verdict.advice[0]
        null = next(line for line in verdict.advice if "null the meter" in line)
        assert "does not decide alone" in null
        # by the cautious rule the null's own counts eat the gain: 0.17 ohm against 0.15
        assert "if its maker states" in null

    @given(st.floats(0.1, 150.0), st.booleans())
    def test_no_remedy_is_worse_than_what_there_is(self, ohm: float, nulled: bool) -> None:
        shown = Shown(value=round(ohm, 1), lsd=0.1)
        verdict = judge_reading(MANUAL, Function.OHM, shown, low=ohm * 0.99, nulled=nulled)
        for line in advise(MANUAL, Function.OHM, shown, verdict, nulled=nulled)[:-1]:
            offered, have = (float(part.split()[0]) for part in line.split(": u ")[-1].split("of "))
            assert offered <= have

    def test_four_wire_is_far_better_than_two(self) -> None:
        two = reading_spread(AUTO, Function.OHM, Shown(value=0.2, lsd=0.1), nulled=True).u
        # 0.2000 V on 600 mV (0.5 % + 2) and 1.000 A (1 % + 3): u 0.00165 ohm
        assert four_wire_u(AUTO, 0.2) == pytest.approx(0.00165, abs=6e-6)
        assert two > 50 * four_wire_u(AUTO, 0.2)

    def test_rounded_volts_want_their_digits(self) -> None:
        shown = Shown(value=14.0, lsd=1.0)
        verdict = judge_with_advice(AUTO, Function.DC_V, shown, low=13.5, high=14.4)
        assert verdict.outcome is Outcome.UNDECIDED
        assert verdict.advice[0].startswith("read to 0.01 on the 60 range")
        assert ", decides" in verdict.advice[0]

    def test_better_meter(self) -> None:
        shown = Shown(value=13.61, lsd=0.01)
        verdict = judge_with_advice(MANUAL, Function.DC_V, shown, low=13.5, high=15.0)
        assert any(
            line.startswith("a 6000-count meter") and "decides" in line for line in verdict.advice
        )

    def test_what_is_needed_comes_last(self) -> None:
        verdict = judge_with_advice(
            AUTO, Function.DC_V, Shown(value=13.45, lsd=0.01), low=13.5, high=15.0
        )
        # distance 0.05 V / 1.645 = 0.030 V
        assert "u up to 0.03 V decides" in verdict.advice[-1]

    def test_on_the_limit(self) -> None:
        verdict = judge_with_advice(AUTO, Function.DC_V, Shown(value=13.5, lsd=0.01), low=13.5)
        assert verdict.advice[-1] == "the reading is on the limit itself: no meter decides that"

    def test_limits_too_narrow(self) -> None:
        verdict = judge_with_advice(
            MANUAL, Function.DC_V, Shown(value=13.6, lsd=0.01), low=13.55, high=13.65
        )
        assert "too narrow" in verdict.advice[-1]

    def test_bound_wants_a_figure(self) -> None:
        shown = Shown(kind="at_least", value=40.0, lsd=1.0)
        verdict = judge_with_advice(AUTO, Function.AC_V, shown, low=50.0)
        assert verdict.advice == (
            "take the reading as a figure in V: a bound leaves the limit open",
        )

    def test_decided_needs_none(self) -> None:
        shown = Shown(value=14.2, lsd=0.01)
        assert judge_with_advice(AUTO, Function.DC_V, shown, low=13.5, high=15.0).advice == ()

    @given(st.floats(0.05, 5.0), st.booleans())
    def test_remedies_that_decide_come_first(self, ohm: float, nulled: bool) -> None:
        shown = Shown(value=round(ohm, 1), lsd=0.1)
        verdict = judge_reading(MANUAL, Function.OHM, shown, low=0.1, high=1.0, nulled=nulled)
        lines = advise(MANUAL, Function.OHM, shown, verdict, nulled=nulled)[:-1]
        decides = [line.endswith(", decides") for line in lines]
        assert decides == sorted(decides, reverse=True)


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (Shown(value=12.4, lsd=0.1), Shown(value=1.24, lsd=0.01), False),
        (Shown(value=12.4, lsd=0.1), Shown(value=12.6, lsd=0.1), True),
        (Shown(value=0.002, lsd=0.001), Shown(value=0.006, lsd=0.001), True),
        (Shown(value=0.5, lsd=0.01), Shown(value=-0.5, lsd=0.01), False),
        (Shown(value=12.4, lsd=0.1), Shown(kind="about", value=12.0), True),
        (Shown(kind="overload"), Shown(kind="overload"), True),
        (Shown(kind="overload"), Shown(value=2.5, lsd=0.1), False),
    ],
)
def test_a_slip_is_not_alike(one: Shown, other: Shown, expected: bool) -> None:
    """A decimal slip, swapped probes and OL are no repeats of a reading (common practice)."""
    assert alike(one, other) is expected
    assert alike(other, one) is expected
