"""Typed readings: known texts, two-faced texts, and any text at all."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from chargewright.errors import ReadingError
from chargewright.jobs.quantity_text import format_quantity, format_shown
from chargewright.jobs.reading_text import parse_reading, parse_sign
from chargewright.jobs.shown import LIMITS, UNIT_OF, Qualifier, Shown, Unit
from chargewright.machine.points import Function

V, AC, OHM, DIODE, A = (
    Function.DC_V,
    Function.AC_V,
    Function.OHM,
    Function.DIODE,
    Function.DC_A,
)
METERED = [function for function in Function if function is not Function.LOOK]

# Text, function, value in V / ohm / A, place of the last digit.
FIGURES = [
    ("12.6", V, 12.6, 0.1),
    ("12,6 V", V, 12.6, 0.1),
    ("12,6", V, 12.6, 0.1),
    ("12.60", V, 12.6, 0.01),
    ("461 mV", V, 0.461, 0.001),
    ("461mv", V, 0.461, 0.001),
    ("13.9V DC", V, 13.9, 0.1),
    ("13.9 VDC", V, 13.9, 0.1),
    ("24 V AC", AC, 24.0, 1.0),
    ("24 V~", AC, 24.0, 1.0),
    ("-0.02", V, -0.02, 0.01),
    ("−0.02", V, -0.02, 0.01),  # the typographer's minus
    (".46", DIODE, 0.46, 0.01),
    ("0,461", DIODE, 0.461, 0.001),  # a leading zero cannot be thousands
    ("12.345", V, 12.345, 0.001),
    ("2.4k", OHM, 2400.0, 100.0),
    ("3 kohm", OHM, 3000.0, 1000.0),
    ("0.4 ohm", OHM, 0.4, 0.1),
    ("0.4 Ω", OHM, 0.4, 0.1),
    ("0.4\N{OHM SIGN}", OHM, 0.4, 0.1),
    ("400 mohm", OHM, 0.4, 0.001),
    ("2.2 MΩ", OHM, 2.2e6, 1e5),
    ("1.0", OHM, 1.0, 0.1),
    ("1 ohm", OHM, 1.0, 1.0),
    ("1", V, 1.0, 1.0),
    ("30 mA", A, 0.03, 0.001),
    ("350 µA", A, 0.00035, 1e-6),
    ("1.2 A", A, 1.2, 0.1),
]


@pytest.mark.parametrize(("text", "function", "value", "lsd"), FIGURES)
def test_figures(text: str, function: Function, value: float, lsd: float) -> None:
    shown = parse_reading(text, function)
    assert (shown.value, shown.lsd) == (value, lsd)
    assert shown.qualifier is Qualifier.EXACT
    assert shown.unit is UNIT_OF[function]


QUALIFIED = [
    (">16", V, Qualifier.AT_LEAST, 16.0, None),
    ("over 16 V", V, Qualifier.AT_LEAST, 16.0, None),
    ("<11", V, Qualifier.AT_MOST, 11.0, None),
    ("≤ 11", V, Qualifier.AT_MOST, 11.0, None),
    ("up to 40", AC, Qualifier.AT_MOST, 40.0, None),
    ("~24", AC, Qualifier.ABOUT, 24.0, None),
    ("about 24", AC, Qualifier.ABOUT, 24.0, None),
    ("approx. 24 V", AC, Qualifier.ABOUT, 24.0, None),
    ("12.9-13.15", V, Qualifier.BETWEEN, 12.9, 13.15),
    ("12.9–13.15 V", V, Qualifier.BETWEEN, 12.9, 13.15),
    ("12.9..13.15", V, Qualifier.BETWEEN, 12.9, 13.15),
    ("12,9 to 13,15", V, Qualifier.BETWEEN, 12.9, 13.15),
    ("between 12.9 and 13.15 V", V, Qualifier.BETWEEN, 12.9, 13.15),
    ("461-480 mV", V, Qualifier.BETWEEN, 0.461, 0.48),
    ("461 mV - 0.48 V", V, Qualifier.BETWEEN, 0.461, 0.48),
    ("-0.3--0.1", V, Qualifier.BETWEEN, -0.3, -0.1),
    ("OL", OHM, Qualifier.OVERLOAD, None, None),
    ("O.L.", DIODE, Qualifier.OVERLOAD, None, None),
    ("0L", OHM, Qualifier.OVERLOAD, None, None),
    ("open", OHM, Qualifier.OVERLOAD, None, None),
    ("OL", V, Qualifier.OVERLOAD, None, None),
    ("beep", OHM, Qualifier.CONTINUITY, None, None),
    ("Continuity", DIODE, Qualifier.CONTINUITY, None, None),
]


@pytest.mark.parametrize(("text", "function", "qualifier", "low", "high"), QUALIFIED)
def test_bounds_ranges_and_words(
    text: str, function: Function, qualifier: Qualifier, low: float | None, high: float | None
) -> None:
    shown = parse_reading(text, function)
    assert (shown.qualifier, shown.value, shown.value_max) == (qualifier, low, high)


@pytest.mark.parametrize(
    ("text", "function", "kind"),
    [
        ("12.6", V, "value"),
        ("about 24", AC, "about"),
        (">16", V, "at_least"),
        ("<11", V, "at_most"),
        ("12.9..13.15", V, "between"),
        ("OL", OHM, "overload"),
        ("beep", OHM, "continuity"),
    ],
)
def test_the_room_of_meters_gets_the_same(text: str, function: Function, kind: str) -> None:
    shown = parse_reading(text, function)
    judged = shown.for_meter()
    assert judged is not None
    assert judged.kind == kind
    if shown.value is not None:
        assert judged.value == shown.value
        assert judged.value_max == shown.value_max
        assert judged.lsd == shown.lsd


def test_a_blank_display_says_nothing_to_the_room_of_meters() -> None:
    assert Shown(unit=Unit.V, qualifier=Qualifier.NONE).for_meter() is None


REFUSED = [
    ("1.", OHM, "overload"),
    ("1.", V, "overload"),
    ("1", OHM, "overload"),
    ("1", DIODE, "overload"),
    ("1 .", OHM, "overload"),
    ("1,234", V, "1.234 or 1234"),
    ("12,345", OHM, "12.345 or 12345"),
    ("1,234.5", OHM, "one decimal point"),
    ("12.6.1", V, "one decimal point"),
    ("12 6", V, "one decimal point"),
    ("1'234", OHM, "one decimal point"),
    ("12.6V±0.1", V, "the figure alone"),
    ("12.6 +/- 0.1", V, "the figure alone"),
    ("126", V, "decimal point"),
    ("144 V", V, "decimal point"),
    ("461", DIODE, "mV"),
    ("12 V", OHM, "in V, but ohm is read in ohm"),
    ("0.4 ohm", V, "in ohm, but dc_v is read in V"),
    ("30 mA", OHM, "in A"),
    ("13.9 VAC", V, "says AC"),
    ("24 VDC", AC, "says DC"),
    ("461 MV", V, "expected mV"),
    ("461 m", V, "expected mV or V"),
    ("12.6 w", V, "'w' is no unit"),
    ("5 %", V, "'%' is no unit"),
    ("3k rpm", V, "is no unit"),
    ("1e3", OHM, "not understood"),
    ("12.", V, "not understood"),
    ("2k4", OHM, "2.4k"),
    ("٣", V, "not understood"),
    ("open", V, "ohm and diode only"),
    ("beep", AC, "ohm and diode only"),
    ("13.15-12.9", V, "lower figure comes first"),
    ("12.9V-13.15", V, "behind the second"),
    (">12-13", V, "no sign or word"),
    ("between 12", V, "one figure"),
    ("-5", AC, "sign"),
    ("yes", Function.LOOK, "yes or no"),
    ("", V, "empty"),
    ("12.6\x00", V, "cannot be printed"),
    ("9" * 61, V, "61 characters"),
]


@pytest.mark.parametrize(("text", "function", "expected"), REFUSED)
def test_what_is_unclear_is_asked_not_guessed(text: str, function: Function, expected: str) -> None:
    with pytest.raises(ReadingError) as caught:
        parse_reading(text, function)
    assert expected in str(caught.value)
    assert "\n" not in str(caught.value)


_alphabet = st.one_of(
    st.sampled_from("0123456789.,+-–<>~≥± vVmMkKµΩAOL\N{OHM SIGN}"), st.characters()
)


@given(text=st.text(_alphabet, max_size=70), function=st.sampled_from(Function))
@example(text="1" * 12 + "." + "1" * 12, function=OHM)
@example(text="\ud800", function=V)
@example(text="²", function=V)
@example(text="-0", function=OHM)
def test_any_text_gives_a_reading_or_a_reading_error(text: str, function: Function) -> None:
    try:
        outcome: Shown | ReadingError = parse_reading(text, function)
    except ReadingError as error:
        outcome = error
    if isinstance(outcome, Shown):
        low, high = LIMITS[function]
        assert outcome.value is None or low <= outcome.value <= high
    else:
        assert "\n" not in str(outcome)


@st.composite
def displays(draw: st.DrawFn) -> tuple[Function, Decimal, Decimal]:
    """A function, a whole number of last digits, and their place, within the limits."""
    function = draw(st.sampled_from(METERED))
    coarsest = 3 if function is OHM else 0  # volts and amperes are never shown in tens
    place = Decimal(1).scaleb(draw(st.integers(-6, coarsest)))
    low, high = (Decimal(str(limit)) for limit in LIMITS[function])
    digits = draw(
        st.integers(int(max(low, -(10**6) * place) / place), int(min(high, 10**6 * place) / place))
    )
    return function, digits * place, place


@given(display=displays())
def test_what_is_written_is_read_back_with_the_same_value_and_digits(
    display: tuple[Function, Decimal, Decimal],
) -> None:
    function, value, place = display
    text = format_quantity(float(value), UNIT_OF[function], lsd=float(place))
    shown = parse_reading(text, function)
    assert shown.value == float(value)
    assert shown.lsd == float(place)


@given(
    display=displays(),
    span=st.integers(0, 50),
    qualifier=st.sampled_from(Qualifier),
)
def test_a_displayed_reading_can_be_typed_again(
    display: tuple[Function, Decimal, Decimal], span: int, qualifier: Qualifier
) -> None:
    function, value, place = display
    assume(qualifier is not Qualifier.NONE)
    assume(qualifier is not Qualifier.CONTINUITY or function in (OHM, DIODE))
    figures: dict[str, float] = {}
    if qualifier not in (Qualifier.OVERLOAD, Qualifier.CONTINUITY):
        figures = {"value": float(value), "lsd": float(place)}
    if qualifier is Qualifier.BETWEEN:
        high = value + span * place
        assume(high <= LIMITS[function][1])
        figures["value_max"] = float(high)
    shown = Shown.model_validate({"unit": UNIT_OF[function], "qualifier": qualifier, **figures})
    again = parse_reading(format_shown(shown), function)
    assert again.model_copy(update={"text": ""}) == shown


WRITTEN = [
    (12.6, Unit.V, 0.01, "12.60 V"),
    (0.461, Unit.V, 0.001, "461 mV"),
    (0.46, Unit.V, 0.01, "0.46 V"),  # 460 mV would show a digit nobody read
    (-0.0206, Unit.V, 0.0001, "-20.6 mV"),
    (0.0, Unit.V, 0.01, "0.00 V"),
    (0.03, Unit.A, 0.001, "30 mA"),
    (0.00035, Unit.A, 1e-6, "350 µA"),
    (0.4, Unit.OHM, 0.1, "0.4 Ω"),
    (2400, Unit.OHM, 100, "2.4 kΩ"),
    (2.2e6, Unit.OHM, 1e5, "2.2 MΩ"),
    (500, Unit.OHM, 10, "0.50 kΩ"),
    (12.34567, Unit.V, None, "12.35 V"),
]


@pytest.mark.parametrize(("value", "unit", "lsd", "text"), WRITTEN)
def test_written_as_a_meter_shows_it(
    value: float, unit: Unit, lsd: float | None, text: str
) -> None:
    assert format_quantity(value, unit, lsd=lsd) == text


@given(value=st.floats(allow_nan=False, allow_infinity=False), unit=st.sampled_from(Unit))
def test_any_finite_value_can_be_written(value: float, unit: Unit) -> None:
    assert format_quantity(value, unit).endswith(("V", "Ω", "A"))


@pytest.mark.parametrize(("text", "sign"), [("yes", True), (" Y ", True), ("no", False)])
def test_answers_to_a_look(text: str, sign: bool) -> None:
    assert parse_sign(text) is sign


@pytest.mark.parametrize("text", ["", "maybe", "1", "12.6"])
def test_other_answers_to_a_look_are_refused(text: str) -> None:
    with pytest.raises(ReadingError, match="expected yes or no"):
        parse_sign(text)
