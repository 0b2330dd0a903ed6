"""Any reading in words, known readings recognised, test points parsed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.checks.catalogue import Catalogue
from chargewright.checks.word import describe, describe_check, match, parse_points
from chargewright.errors import InputError
from chargewright.machine.points import Engine, Function, Load, Point, State, Warmth

P = Point
POSTS = (P.BATTERY_POS, P.BATTERY_NEG)
HIGH = State(engine=Engine.RUNNING, rpm=5000.0, key_on=True)
STATES = st.builds(
    State,
    engine=st.sampled_from(Engine),
    rpm=st.none() | st.floats(500.0, 9000.0),
    rpm_max=st.none() | st.floats(500.0, 9000.0),
    key_on=st.booleans(),
    lights_on=st.booleans(),
    plug_in=st.booleans(),
    battery_in=st.booleans(),
    warmth=st.sampled_from(Warmth),
    load=st.sampled_from(Load),
    battery_charged=st.booleans(),
)

SENTENCES = [
    (
        Function.DC_V, *POSTS, replace(HIGH, lights_on=True),
        "DC volts, red on battery positive post, black on battery negative post, "
        "engine at 5000 rpm, lights on",
    ),
    (
        Function.OHM, P.ALT_A, P.FRAME, State(plug_in=False, warmth=Warmth.HOT),
        "ohms, red on alternator lead A, alternator side of the plug, black on frame, "
        "engine off, key off, alternator plug open, hot",
    ),
    (
        Function.DC_A, P.FRAME, P.BATTERY_NEG, State(),
        "DC amperes in series, in place of the wire from frame to battery negative post, "
        "red on frame, engine off, key off",
    ),
    (
        Function.CLAMP_A, P.BATTERY_NEG, P.FRAME, State(engine=Engine.RUNNING),
        "DC clamp, round the wire from battery negative post to frame, arrow that way, "
        "engine running, speed not known",
    ),
    (
        Function.DC_V, *POSTS, State(engine=Engine.RUNNING, rpm=1000.0, rpm_max=6000.0),
        "DC volts, red on battery positive post, black on battery negative post, "
        "engine between 1000 and 6000 rpm",
    ),
    (
        Function.DC_V, *POSTS, State(load=Load.LOAD_TESTER, battery_charged=True),
        "DC volts, red on battery positive post, black on battery negative post, "
        "engine off, key off, battery under the load tester, battery charged first",
    ),
    (
        Function.OHM, P.FRAME, P.FRAME, State(),
        "ohms, both probes on frame, engine off, key off",
    ),
    (
        Function.DC_V, P.FRAME, P.BATTERY_NEG, State(engine=Engine.CRANKING),
        "DC volts, red on frame, black on battery negative post, engine cranking",
    ),
    (Function.LOOK, None, None, State(), "look, engine off, key off"),
]  # fmt: skip


@pytest.mark.parametrize(("function", "plus", "minus", "state", "text"), SENTENCES)
def test_sentences(
    function: Function, plus: Point | None, minus: Point | None, state: State, text: str
) -> None:
    assert describe(function, plus, minus, state) == text


@given(st.sampled_from(Function), st.sampled_from(Point), st.sampled_from(Point), STATES)
def test_any_reading_can_be_described(
    function: Function, plus: Point, minus: Point, state: State
) -> None:
    text = describe(function, plus, minus, state)
    assert "None" not in text
    assert "_" not in text
    assert "\n" not in text
    if plus is not minus and function is not Function.LOOK:
        swapped = describe(function, minus, plus, state)
        assert swapped != text


def test_sentences_tell_all_readings_of_the_catalogue_apart(three_phase: Catalogue) -> None:
    readings = [c for c in three_phase if c.function not in (None, Function.LOOK)]
    texts = [(describe_check(c), c.charged, c.warmth) for c in readings]
    assert len(set(texts)) == len(readings)


def test_every_reading_of_the_catalogue_matches_itself(three_phase: Catalogue) -> None:
    for check in three_phase:
        if check.function in (None, Function.LOOK):
            continue
        assert check.function is not None
        found = match(check.function, check.plus, check.minus, check.state, three_phase)
        assert found is check, check.id


def test_swapped_probes_match_only_where_polarity_says_nothing(three_phase: Catalogue) -> None:
    unplugged = replace(HIGH, plug_in=False)
    found = match(Function.AC_V, P.ALT_B, P.ALT_A, unplugged, three_phase)
    assert found is three_phase.get("ac_open_high_v_ab")
    cold = State(plug_in=False)
    assert match(Function.OHM, P.FRAME, P.ALT_A, cold, three_phase) is three_phase.get(
        "lead_frame_ohm"
    )
    assert match(Function.DC_V, P.BATTERY_NEG, P.BATTERY_POS, HIGH, three_phase) is None
    reverse = match(
        Function.DIODE, P.REG_OUT, P.REG_A, replace(cold, battery_in=False), three_phase
    )
    assert reverse is three_phase.get("diode_up_back_a")


def test_speeds_match_within_ten_percent(three_phase: Catalogue) -> None:
    def found(rpm: float | None, rpm_max: float | None = None) -> str | None:
        state = replace(HIGH, rpm=rpm, rpm_max=rpm_max)
        check = match(Function.DC_V, *POSTS, state, three_phase)
        return check.id if check else None

    assert found(4600.0) == "high_v"
    assert found(1250.0) == "idle_v"
    assert found(4000.0) is None
    assert found(None) is None
    assert found(5000.0, 6000.0) is None


def test_state_that_changes_the_reading_must_agree(three_phase: Catalogue) -> None:
    def found(state: State) -> str | None:
        check = match(Function.DC_V, *POSTS, state, three_phase)
        return check.id if check else None

    assert found(replace(HIGH, lights_on=True)) == "high_lights_v"
    assert found(replace(HIGH, warmth=Warmth.HOT)) == "high_hot_v"
    assert found(replace(HIGH, battery_charged=True)) == "high_v"  # taken as it stands
    assert found(replace(HIGH, plug_in=False)) is None
    assert found(State()) == "rest_v"
    assert found(State(battery_charged=True)) == "rest_charged_v"
    assert found(State(key_on=True)) is None
    # the winding alone does not care about battery and key
    bare = State(plug_in=False, battery_in=False)
    assert match(Function.OHM, P.ALT_A, P.ALT_B, bare, three_phase) is three_phase.get(
        "pair_ohm_ab"
    )


@pytest.mark.parametrize(
    "text",
    ["battery_pos, frame", "battery_pos frame", "battery_pos->frame", " Battery_Pos to FRAME "],
)
def test_points_from_text(text: str) -> None:
    assert parse_points(text) == (P.BATTERY_POS, P.FRAME)


def test_points_that_cannot_be_read() -> None:
    with pytest.raises(InputError, match=r"'batery_pos': did you mean 'battery_pos'"):
        parse_points("batery_pos, frame")
    with pytest.raises(InputError, match=r"1 given; expected two"):
        parse_points("frame")
    with pytest.raises(InputError, match=r"3 given; expected two"):
        parse_points("frame alt_a alt_b")
