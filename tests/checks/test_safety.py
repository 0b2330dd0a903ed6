"""Refusals: each danger named in makers' manuals is refused, with a reason and a way out."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.checks.cautions import as_texts, caution_ids
from chargewright.checks.load import Book
from chargewright.checks.safety import reason, refuse, refuse_charging
from chargewright.circuit.wires import wires
from chargewright.errors import UnsafeCheckError
from chargewright.machine.layout import Chemistry, Layout, Sense, Winding
from chargewright.machine.points import Engine, Function, Load, Point, State, Warmth

P = Point
FULL = Layout(sense=Sense.LEAD)  # a layout with every test point of a machine with magnets
RUNNING = State(engine=Engine.RUNNING, rpm=3000.0, key_on=True)
DEAD = State(plug_in=False, battery_in=False)

points = st.sampled_from([point for point in Point if not FULL.lacks(point)])
states = st.builds(
    State,
    engine=st.sampled_from(Engine),
    rpm=st.none() | st.sampled_from([1200.0, 5000.0]),
    rpm_max=st.none() | st.sampled_from([900.0, 6000.0]),
    key_on=st.booleans(),
    lights_on=st.booleans(),
    plug_in=st.booleans(),
    battery_in=st.booleans(),
    warmth=st.sampled_from(Warmth),
    load=st.sampled_from(Load),
    battery_charged=st.booleans(),
)


def why(function: Function, plus: Point, minus: Point, state: State) -> str | None:
    return reason(function, plus, minus, state, layout=FULL)


@given(st.sampled_from(Function), points, points, states)
def test_every_refusal_says_what_could_happen_and_what_to_do(
    function: Function, plus: Point, minus: Point, state: State
) -> None:
    text = why(function, plus, minus, state)
    if text is None:
        refuse(function, plus, minus, state, layout=FULL)
        return
    with pytest.raises(UnsafeCheckError) as caught:
        refuse(function, plus, minus, state, layout=FULL)
    assert str(caught.value) == text
    assert "\n" not in text
    problem, _, instead = text.replace("; open one wire", ": open one wire").partition(": ")
    assert len(problem) > 20
    assert len(instead) > 10


@given(st.sampled_from([Function.OHM, Function.DIODE]), points, points, states)
def test_never_ohms_or_diode_on_a_live_circuit(
    function: Function, plus: Point, minus: Point, state: State
) -> None:
    live = state.engine is not Engine.OFF or state.key_on or state.load is not Load.NONE
    if live and plus is not minus:
        assert why(function, plus, minus, state) is not None


@given(st.sampled_from(Function), points, points, states)
def test_never_the_battery_off_with_the_engine_turning(
    function: Function, plus: Point, minus: Point, state: State
) -> None:
    if state.engine is not Engine.OFF and not state.battery_in:
        assert why(function, plus, minus, state) is not None


@given(points, points, states)
def test_amperes_in_series_only_at_rest_and_only_in_a_wire(
    plus: Point, minus: Point, state: State
) -> None:
    if why(Function.DC_A, plus, minus, state) is None:
        assert state.engine is Engine.OFF
        assert not state.key_on
        assert state.load is Load.NONE
        assert frozenset({plus, minus}) in set(map(frozenset, wires(FULL)))
        assert {plus, minus} != {P.BATTERY_POS, P.BATTERY_NEG}
        assert P.STARTER_POS not in (plus, minus)


@given(points, states)
def test_one_point_twice_only_for_the_meters_own_leads_and_looks(
    point: Point, state: State
) -> None:
    for function in Function:
        if function not in (Function.OHM, Function.LOOK):
            assert why(function, point, point, state) is not None
    at_rest = State(warmth=state.warmth, plug_in=state.plug_in)
    assert why(Function.OHM, point, point, at_rest) is None


@given(points, points, states)
def test_volts_are_refused_only_for_contradictions(plus: Point, minus: Point, state: State) -> None:
    """A volt meter harms nothing: what is refused is impossible, or runs without a battery."""
    if why(Function.DC_V, plus, minus, state) is None or plus is minus:
        return
    contradicts = (
        (state.engine is not Engine.RUNNING and (state.rpm or state.rpm_max))
        or (state.rpm_max and (state.rpm is None or state.rpm_max < state.rpm))
        or (state.load is not Load.NONE and state.engine is not Engine.OFF)
        or (state.load is Load.HEADLAMP and not state.battery_in)
        or (not state.battery_in and state.engine is not Engine.OFF)
    )
    assert contradicts


ALLOWED = [
    (Function.AC_V, P.ALT_A, P.ALT_B, State(plug_in=False)),  # simply reads 0
    (Function.DC_V, P.BATTERY_POS, P.BATTERY_NEG, State(engine=Engine.RUNNING)),  # speed unknown
    (Function.DC_V, P.BATTERY_POS, P.BATTERY_NEG, State(engine=Engine.RUNNING, plug_in=False)),
    (Function.OHM, P.ALT_A, P.FRAME, State(plug_in=False)),  # battery in, winding floats
    (Function.OHM, P.BATTERY_POS, P.FUSE_OUT, State()),  # with a caution
    (Function.OHM, P.FUSE_OUT, P.FRAME, State(battery_in=False)),
    (Function.DIODE, P.REG_BODY, P.REG_OUT, DEAD),
    (Function.DC_A, P.FRAME, P.BATTERY_NEG, State()),
    (Function.CLAMP_A, P.BATTERY_NEG, P.FRAME, RUNNING),
    (Function.DC_V, P.BATTERY_POS, P.BATTERY_NEG, State(load=Load.LOAD_TESTER)),  # caution
]
REFUSED = [
    (Function.OHM, P.ALT_A, P.ALT_B, RUNNING, "turning engine"),
    (Function.DIODE, P.REG_A, P.REG_OUT, State(key_on=True), "live circuit"),
    (Function.OHM, P.FUSE_OUT, P.FRAME, State(), "across the battery"),
    (Function.DIODE, P.REG_BODY, P.REG_OUT, State(plug_in=False), "across the battery"),
    (Function.OHM, P.BATTERY_POS, P.BATTERY_NEG, DEAD, "across the battery"),
    (Function.OHM, P.BATTERY_POS, P.STARTER_POS, State(), "relay's open contact"),
    (Function.DC_A, P.BATTERY_POS, P.BATTERY_NEG, State(), "short circuit"),
    (Function.DC_A, P.FUSE_OUT, P.FRAME, State(), "short circuit"),
    (Function.DC_A, P.FRAME, P.BATTERY_NEG, RUNNING, "use a clamp"),
    (Function.DC_A, P.FRAME, P.BATTERY_NEG, State(engine=Engine.CRANKING), "use a clamp"),
    (Function.DC_A, P.FRAME, P.BATTERY_NEG, State(key_on=True), "key off"),
    (Function.DC_A, P.BATTERY_POS, P.STARTER_POS, State(), "starter turn"),
    (Function.CLAMP_A, P.BATTERY_POS, P.FRAME, State(), "no single wire"),
    (Function.DC_V, P.FRAME, P.REG_OUT, State(load=Load.HEADLAMP, battery_in=False), "lead on"),
    (
        Function.DC_V,
        P.BATTERY_POS,
        P.BATTERY_NEG,
        State(engine=Engine.RUNNING, rpm=3000.0, load=Load.LOAD_TESTER),
        "load test with the engine",
    ),
    (Function.DC_V, P.FRAME, P.FRAME, State(), "one point"),
    (Function.DC_V, P.FRAME, P.REG_OUT, State(rpm=900.0), "not running"),
    (Function.DC_V, P.FRAME, P.REG_OUT, State(engine=Engine.RUNNING, rpm=0.0), "contradicts"),
]


@pytest.mark.parametrize(("function", "plus", "minus", "state"), ALLOWED)
def test_harmless_readings_pass(
    function: Function, plus: Point, minus: Point, state: State
) -> None:
    refuse(function, plus, minus, state, layout=FULL)


@pytest.mark.parametrize(("function", "plus", "minus", "state", "words"), REFUSED)
def test_named_dangers_are_refused(
    function: Function, plus: Point, minus: Point, state: State, words: str
) -> None:
    with pytest.raises(UnsafeCheckError, match=words):
        refuse(function, plus, minus, state, layout=FULL)


def test_a_point_the_machine_has_not_is_refused() -> None:
    single = Layout(winding=Winding.SINGLE)
    with pytest.raises(UnsafeCheckError, match="no alternator lead C"):
        refuse(Function.AC_V, P.ALT_B, P.ALT_C, RUNNING, layout=single)
    with pytest.raises(UnsafeCheckError, match="no sense lead"):
        refuse(Function.DC_V, P.BATTERY_POS, P.REG_SENSE, RUNNING, layout=single)
    with pytest.raises(UnsafeCheckError, match="two test points"):
        refuse(Function.DC_V, P.BATTERY_POS, None, RUNNING, layout=single)
    refuse(Function.LOOK, None, None, State(), layout=single)


def test_lithium_is_not_charged_below_freezing() -> None:
    """Lithium iron phosphate cell sheets: charge at 0 to 45 C."""
    with pytest.raises(UnsafeCheckError, match="-1 °C plates lithium"):
        refuse_charging(Chemistry.LIFEPO4, -1.0)
    refuse_charging(Chemistry.LIFEPO4, 0.0)
    refuse_charging(Chemistry.AGM, -20.0)
    with pytest.raises(UnsafeCheckError, match="bulged"):
        refuse_charging(Chemistry.AGM, 20.0, bulged=True)


def test_cautions_follow_from_function_and_state(book: Book) -> None:
    battery = (P.BATTERY_POS, P.BATTERY_NEG)
    uncharged = State(load=Load.LOAD_TESTER)
    charged = State(load=Load.LOAD_TESTER, battery_charged=True)
    assert "load_uncharged" in caution_ids(Function.DC_V, *battery, uncharged)
    assert "load_uncharged" not in caution_ids(Function.DC_V, *battery, charged)
    across_fuse = caution_ids(Function.OHM, P.BATTERY_POS, P.FUSE_OUT, State())
    assert "battery_in_network" in across_fuse
    plugged = caution_ids(Function.OHM, P.ALT_A, P.ALT_B, State())
    assert {"parallel_paths", "battery_in_network"} <= set(plugged)
    unplugged = caution_ids(Function.OHM, P.ALT_A, P.ALT_B, State(plug_in=False))
    assert unplugged == ("dead_circuit",)
    high = State(engine=Engine.RUNNING, rpm=5000.0, plug_in=False)
    assert "open_circuit_volts" in caution_ids(Function.AC_V, P.ALT_A, P.ALT_B, high)
    assert "60 V rms" in " ".join(as_texts(["open_circuit_volts"], book.cautions))


@given(st.sampled_from(Function), points, points, states)
def test_every_derived_caution_has_a_text(
    book: Book, function: Function, plus: Point, minus: Point, state: State
) -> None:
    texts = as_texts(caution_ids(function, plus, minus, state), book.cautions)
    assert texts[-1] == book.cautions["maker_first"]
