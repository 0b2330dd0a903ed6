"""Spec sheets: what they may hold, and what they do to the scatter."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st
from machine.helpers import latents, pair_ohm, pair_v_per_krpm

from chargewright.errors import InputError
from chargewright.machine.conditioning import load_class, machine_of
from chargewright.machine.draw import draw
from chargewright.machine.layout import Sense, Winding
from chargewright.machine.parameters import INDEX, column
from chargewright.machine.sources import SourceKind
from chargewright.machine.spec import FIELDS, Range, SpecSheet

N = 20000  # the share's own standard error is 0.0015
WINDINGS = ["star", "delta", "single"]


def share(values: np.ndarray, low: float, high: float) -> float:
    return float(np.mean((values >= low) & (values <= high)))


# Service-manual type specifications: class 850 ATV 0.13 ohm +-15 %, 115 V +-10 % at 6000 rpm;
# class 1043 naked 0.18-0.28 ohm, at least 51 V at 4000 rpm, 14.2-14.8 V.
ATV_850 = {
    "stator_ohm": {"nominal": 0.13, "plus_minus_percent": 15},
    "ac_v": {"nominal": 115, "plus_minus_percent": 10},
    "ac_rpm": 6000,
}
NAKED_1043 = {
    "stator_ohm": [0.18, 0.28],
    "ac_v": {"min": 51},
    "ac_rpm": 4000,
    "regulated_v": [14.2, 14.8],
}


@pytest.mark.parametrize("winding", WINDINGS)
def test_ranges_hold_95_percent_of_healthy_units(winding: str) -> None:
    machine = machine_of("atv", SpecSheet.from_dict(ATV_850 | {"winding": winding}))
    params = draw(machine, (), latents(N))
    assert 0.93 <= share(pair_ohm(machine, params), 0.1105, 0.1495) <= 0.97
    assert 0.93 <= share(pair_v_per_krpm(machine, params) * 6.0, 103.5, 126.5) <= 0.97


@pytest.mark.parametrize("winding", WINDINGS)
def test_a_lowest_voltage_leaves_97_5_percent_above(winding: str) -> None:
    machine = machine_of("sport-600-1000", SpecSheet.from_dict(NAKED_1043 | {"winding": winding}))
    params = draw(machine, (), latents(N))
    volts = pair_v_per_krpm(machine, params) * 4.0
    assert 0.965 <= share(volts, 51.0, 1e9) <= 0.985
    assert float(np.median(volts)) == pytest.approx(51.0 * 1.15, rel=0.01)


@pytest.mark.parametrize("sense", ["output", "lead"])
def test_regulated_volts_are_those_at_the_battery(sense: str) -> None:
    # Ohm's law: the loads' current drops volts in the regulator's ground and, unless a sense
    # lead looks behind it, in the charge lead.
    machine = machine_of("sport-600-1000", SpecSheet.from_dict(NAKED_1043 | {"sense": sense}))
    params = draw(machine, (), latents(N))
    load_a = column(params, "running_load_a") + column(params, "light_load_a")
    ohm = column(params, "reg_ground_ohm")
    if sense == "output":
        ohm = ohm + column(params, "charge_lead_ohm")
    battery_v = column(params, "setpoint_v") - load_a * ohm
    assert 0.93 <= share(battery_v, 14.2, 14.8) <= 0.97


def test_ohms_at_another_temperature_follow_copper() -> None:
    # 0.4179 ohm at 120 C is 0.300 ohm at 20 C (rated annealed copper, 234.5 C).
    data = {"stator_ohm": [0.4179 * 0.9, 0.4179 / 0.9], "stator_ohm_at_c": 120.0}
    machine = machine_of("sport-600-1000", SpecSheet.from_dict(data))
    assert 2.0 * machine.typical()["winding_ohm_a"] == pytest.approx(0.300, rel=1e-3)


def test_what_is_not_given_stays_the_class_s() -> None:
    plain = load_class("sport-600-1000")
    told = machine_of("sport-600-1000", SpecSheet.from_dict({"regulated_v": [14.2, 14.8]}))
    changed = {name for name in INDEX if plain.scatter[name] != told.scatter[name]}
    assert changed == {"setpoint_v"}
    assert told.provenance("setpoint_v").kind is SourceKind.SPEC_SHEET


def test_figures_narrow_the_class() -> None:
    plain = load_class("atv")
    told = machine_of("atv", SpecSheet.from_dict(ATV_850))
    for name in ("emf_v_per_krpm_a", "winding_ohm_a"):
        assert told.scatter[name].spread < plain.scatter[name].spread


def test_poles_leave_the_greatest_current_alone() -> None:
    # I_inf = (3/pi)(E/w)/L: with the poles known the inductance follows them.
    for poles in (12, 18):
        machine = machine_of("sport-600-1000", SpecSheet.from_dict({"poles": poles}))
        t = machine.typical()
        e_over_w = np.sqrt(2) * t["emf_v_per_krpm_a"] / (poles / 2 * 1000 * 2 * np.pi / 60)
        assert 3 / np.pi * e_over_w / t["winding_h_a"] == pytest.approx(machine.output_a, rel=1e-9)


def test_rated_watts_are_amperes_at_14_v() -> None:
    assert SpecSheet.from_dict({"rated_w": 420, "rated_rpm": 5000}).rated_a == pytest.approx(30.0)


def test_layout_words_change_the_layout() -> None:
    machine = machine_of("sport-600-1000", SpecSheet.from_dict({"sense": "lead"}))
    assert machine.layout.sense is Sense.LEAD
    assert machine.layout.winding is Winding.STAR


def test_a_toml_file_reads_like_a_card(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("ac_v = { min = 51 }\nac_rpm = 4000\n", encoding="utf-8")
    assert SpecSheet.from_toml(path) == SpecSheet.from_dict({"ac_v": {"min": 51}, "ac_rpm": 4000})


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({"regulated": [14, 15]}, "spec sheet: unknown field 'regulated'; did you mean 'regulated"),
        (
            {"regulated_v": [15, 14]},
            r"'regulated_v' = \[15, 14\]; expected lowest below highest, in V",
        ),
        ({"regulated_v": [142, 148]}, r"\[142, 148\]; expected ends from 10 to 20 V"),
        ({"regulated_v": "14-15"}, "'regulated_v' = '14-15'; expected a table"),
        ({"ac_v": {"min": 51}}, "'ac_rpm' is missing; expected the speed in rpm"),
        ({"ac_v": {"least": 51}, "ac_rpm": 4000}, "unknown field 'least'"),
        ({"poles": 13}, "'poles' = 13; expected an even number"),
        ({"idle_rpm": 12}, "'idle_rpm' = 12; expected a number from 100 to 20000 rpm"),
        ({"idle_rpm": True}, "'idle_rpm' = True"),
        ({"winding": "sta"}, "'winding' = 'sta'; .*'star'"),
        ({"rated_w": 400}, "'rated_rpm' is missing"),
        ({"rated_w": 400, "rated_a": 30, "rated_rpm": 5000}, "rated_a or rated_w, not both"),
        ({"drain_limit_ma": float("nan")}, "'drain_limit_ma' = nan; .*mA"),
    ],
)
def test_messages_name_field_value_and_unit(data: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        SpecSheet.from_dict(data)


def test_contradicting_figures_are_refused() -> None:
    with pytest.raises(InputError, match="idle_rpm = 3500 rpm; expected below 2750"):
        machine_of("atv", SpecSheet.from_dict({"idle_rpm": 3500}))
    with pytest.raises(InputError, match=r"'ac_v' puts sound units .*V per 1000 rpm"):
        machine_of("atv", SpecSheet.from_dict({"ac_v": [30, 399], "ac_rpm": 1000}))
    with pytest.raises(InputError, match="rated_rpm = 700 rpm"):
        machine_of("atv", SpecSheet.from_dict({"rated_a": 20, "rated_rpm": 700}))


JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**6), 10**6),
    st.floats(),
    st.text(max_size=6),
    st.lists(st.floats(), max_size=3),
    st.dictionaries(st.sampled_from(["min", "max", "nominal", "plus_minus", "x"]), st.floats()),
)


@given(st.dictionaries(st.sampled_from([*FIELDS, "spelt_wrong"]), JUNK, max_size=5))
def test_any_card_is_read_or_refused_in_words(data: dict[str, object]) -> None:
    sheet, refusal = None, ""
    try:
        sheet = SpecSheet.from_dict(data)
    except InputError as error:
        refusal = str(error)
    if sheet is None:
        assert refusal.startswith("spec sheet")
        assert "\n" not in refusal
        return
    for figure in (sheet.stator_ohm, sheet.ac_v, sheet.regulated_v, sheet.charge_a):
        if figure is not None and figure.both is not None:
            assert figure.both[0] < figure.both[1]


@given(
    st.floats(0.05, 5.0),
    st.floats(1.02, 3.0),
    st.floats(5.0, 25.0),
    st.floats(1.02, 2.0),
    st.sampled_from(WINDINGS),
)
def test_any_range_is_met(
    ohm: float, ohm_ratio: float, volts: float, volt_ratio: float, winding: str
) -> None:
    data = {
        "stator_ohm": [ohm, ohm * ohm_ratio],
        "ac_v": [volts * 5, volts * 5 * volt_ratio],
        "ac_rpm": 5000,
        "winding": winding,
    }
    try:
        machine = machine_of("twin-250-400", SpecSheet.from_dict(data))
    except InputError as refusal:
        # only what no small alternator does: more than 40 V per 1000 rpm in one winding
        event(str(refusal)[:40])
        highest = 1000.0 if winding == "star" else 20.0
        assume(volts * volt_ratio < highest)
        raise
    params = draw(machine, (), latents(4000, seed=7))
    assert 0.93 <= share(pair_ohm(machine, params), ohm, ohm * ohm_ratio) <= 0.97
    inside = share(pair_v_per_krpm(machine, params), volts, volts * volt_ratio)
    assert 0.93 <= inside <= 0.97


def test_a_range_divides() -> None:
    assert Range(30.0, None).divided(3.0) == Range(10.0, None)
