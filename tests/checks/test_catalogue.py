"""The shipped checks: enough of them, complete, and only those a machine has points for."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from itertools import product

import pytest

from chargewright.checks.catalogue import FEATURES, Catalogue, features
from chargewright.checks.cautions import caution_ids, cautions_for
from chargewright.checks.load import DATA, Book, catalogue, kind_of, kinds, load_book
from chargewright.checks.safety import reason, refuse_check
from chargewright.errors import InputError
from chargewright.machine.classes import class_ids
from chargewright.machine.layout import ChargeTo, Layout, Lighting, Regulator, Sense, Winding
from chargewright.machine.points import Engine, Function, Load, Point, Warmth
from chargewright.machine.speeds import Speeds

SPEEDS = Speeds(1200.0, 3000.0, 5000.0)


def _layouts() -> Iterator[Layout]:
    """Yield every layout that is a machine."""
    for w, r, s, c, lighting in product(Winding, Regulator, Sense, ChargeTo, Lighting):
        with suppress(InputError):
            yield Layout(winding=w, regulator=r, sense=s, charge_to=c, lighting=lighting)


LAYOUTS = list(_layouts())
SENTENCE_END = re.compile(r"[.!?](?=\s|$)")
LEG_C = {Point.ALT_C, Point.REG_C}


def test_three_phase_machine_has_at_least_45_checks(three_phase: Catalogue) -> None:
    assert len([check for check in three_phase if not check.is_act]) >= 45


def test_every_function_of_the_meter_is_used(three_phase: Catalogue) -> None:
    assert {check.function for check in three_phase} == {*Function, None}


def test_how_is_two_or_three_sentences_within_reach_of_an_apprentice(book: Book) -> None:
    wrong = {
        check.id: count
        for check in book.checks
        if (count := len(SENTENCE_END.findall(check.how))) not in (2, 3)
    }
    assert wrong == {}
    assert [c.id for c in book.checks if not c.how.endswith(".") or "{" in c.how + c.title] == []


def test_how_of_a_reading_names_the_meter_setting(book: Book) -> None:
    words = {
        Function.DC_V: "DC volts",
        Function.AC_V: "AC\\s+volts",
        Function.OHM: "ohms range",
        Function.DIODE: "diode test",
        Function.DC_A: "DC ampere range",
        Function.CLAMP_A: "DC clamp",
    }
    missing = [
        check.id
        for check in book.checks
        if check.function in words and not re.search(words[check.function], check.how)
    ]
    assert missing == []


def test_cautions_exist_and_every_energised_check_has_one(book: Book) -> None:
    used = {name for check in book.checks for name in check.cautions}
    assert used <= set(book.cautions)
    for check in book.checks:
        energised = check.state.engine is not Engine.OFF or check.state.load is not Load.NONE
        touches_post = {check.plus, check.minus} & {Point.BATTERY_POS, Point.BATTERY_NEG}
        if energised or touches_post or check.is_act:
            assert len(check.cautions) >= 1, check.id


def test_no_caution_text_lies_unused(book: Book) -> None:
    used = {name for check in book.checks for name in check.cautions} | {"maker_first"}
    for check in book.checks:
        if check.function is not None:
            used |= set(caution_ids(check.function, check.plus, check.minus, check.state))
    # what only readings outside the catalogue can bring up
    used |= {"battery_in_network", "parallel_paths"}
    assert used == set(book.cautions)


def test_every_check_defers_to_the_makers_manual_last(book: Book) -> None:
    for check in book.checks:
        texts = cautions_for(check, book.cautions)
        assert "service manual" in texts[-1]
        assert "local codes" in texts[-1]
        assert "licensed practice" in texts[-1]
        assert len(set(texts)) == len(texts)


@pytest.mark.parametrize("layout", LAYOUTS, ids=str)
def test_only_points_the_layout_has_and_nothing_refused(book: Book, layout: Layout) -> None:
    found = book.catalogue(layout, SPEEDS)
    points = {p for check in found for p in (check.plus, check.minus)}
    assert bool(points & LEG_C) == (layout.winding in (Winding.STAR, Winding.DELTA))
    has_sense = layout.regulator is not Regulator.NONE and layout.sense is Sense.LEAD
    assert (Point.REG_SENSE in points) == has_sense
    assert ("look_regulator" in found) == (layout.regulator is not Regulator.NONE)
    assert ("drop_lead_mid_v" in found) == (layout.charge_to is ChargeTo.HARNESS)
    assert ("output_direct_mid_a" in found) == (layout.charge_to is ChargeTo.BATTERY)
    for check in found:
        refuse_check(check, layout)  # raises when the catalogue asks for something unsafe


def test_features_are_a_closed_set() -> None:
    assert frozenset().union(*(features(layout) for layout in LAYOUTS)) == FEATURES


def test_speed_words_become_the_machines_speeds(three_phase: Catalogue) -> None:
    assert three_phase.get("idle_v").state.rpm == 1200.0
    assert three_phase.get("idle_v").state.rpm_rel_u == 0.08
    assert three_phase.get("mid_v").state.rpm == 3000.0
    assert three_phase.get("ac_open_high_v_bc").state.rpm == 5000.0
    running = [c for c in three_phase if c.state.engine is Engine.RUNNING]
    assert all(c.state.rpm is not None and c.state.key_on for c in running)
    assert all(c.state.rpm is None for c in three_phase if c not in running)


def test_demands_on_warmth_and_charge_are_kept_in_the_state(three_phase: Catalogue) -> None:
    assert three_phase.get("pair_hot_ohm_ab").state.warmth is Warmth.HOT
    assert three_phase.get("rest_charged_v").state.battery_charged
    assert three_phase.get("rest_v").charged is False
    assert three_phase.get("mid_v").charged is None
    assert three_phase.get("mid_v").warmth is None


def test_every_junction_is_read_both_ways(three_phase: Catalogue) -> None:
    """Six junctions of a three-phase bridge, each both ways, and the two in series."""
    have = {(c.plus, c.minus) for c in three_phase if c.function is Function.DIODE}
    legs = (Point.REG_A, Point.REG_B, Point.REG_C)
    want = {(leg, end) for leg in legs for end in (Point.REG_OUT, Point.REG_BODY)}
    want |= {(end, leg) for leg, end in want} | {(Point.REG_BODY, Point.REG_OUT)}
    assert want <= have


def test_ohms_and_diode_checks_stand_on_a_dead_circuit(book: Book) -> None:
    for check in book.checks:
        if check.function in (Function.OHM, Function.DIODE) and check.plus is not check.minus:
            assert not check.state.plug_in, check.id
        if check.function is Function.DIODE:
            assert not check.state.battery_in, check.id


def test_no_two_checks_mean_the_same(three_phase: Catalogue) -> None:
    """Points, function, state and demands tell all readings apart; looks differ by sign."""
    keys = [
        (c.function, c.plus, c.minus, c.state, c.warmth, c.charged, c.sign) for c in three_phase
    ]
    assert len(set(keys)) == len(keys)


def test_unknown_check_gets_the_nearest_names(three_phase: Catalogue) -> None:
    with pytest.raises(InputError, match=r"'rest_volt'.*did you mean.*'rest_v'"):
        three_phase.get("rest_volt")


def test_every_kind_of_machine_loads_and_the_short_form_agrees(book: Book) -> None:
    for kind in kinds():
        assert load_book(kind).checks == book.checks
    assert catalogue(Layout(), SPEEDS).checks == book.catalogue(Layout(), SPEEDS).checks
    with pytest.raises(InputError, match=r"kind of machine 'scoter'.*'scooter'"):
        load_book("scoter")


def test_no_reading_with_lights_off_where_lamps_always_burn(book: Book) -> None:
    lit = book.catalogue(Layout(), SPEEDS, lights_always_on=True)
    running = [c for c in lit if c.state.engine is Engine.RUNNING and c.state.plug_in]
    assert running
    assert all(c.state.lights_on for c in running)
    assert not [c.id for c in running if "lights off" in c.title or "lamps off." in c.how]
    gone = {c.id for c in book.catalogue(Layout(), SPEEDS)} - {c.id for c in lit}
    assert gone == {"idle_v", "high_v"}  # their twins with lights on stay
    assert not lit.get("ac_open_idle_v_ab").state.lights_on
    assert not lit.get("rest_v").state.lights_on
    keys = [(c.function, c.plus, c.minus, c.state, c.warmth, c.charged, c.sign) for c in lit]
    assert len(set(keys)) == len(keys)


def test_classes_of_machines_find_their_kind() -> None:
    """Every class named in access.toml is one the machine room has, and its kind exists."""
    named = tomllib.loads((DATA / "access.toml").read_text(encoding="utf-8"))["class"]
    assert set(named) <= set(class_ids())
    assert {kind_of(name) for name in class_ids()} == set(kinds())


def test_speeds_out_of_order_are_refused() -> None:
    with pytest.raises(InputError, match=r"idle 3000, mid 1200.*expected 0 < idle < mid"):
        Speeds(3000.0, 1200.0, 5000.0)
    with pytest.raises(InputError, match=r"'fast'.*idle, mid or high"):
        SPEEDS.rpm("fast")


def test_catalogue_reason_is_none_for_each_reading(three_phase: Catalogue) -> None:
    for c in three_phase:
        if c.function is not None:
            assert reason(c.function, c.plus, c.minus, c.state, layout=Layout()) is None, c.id
