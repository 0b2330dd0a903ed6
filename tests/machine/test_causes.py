"""Causes as data: what each changes, what is refused, and the prior."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from machine.helpers import latents

from chargewright.errors import InputError
from chargewright.machine.battery_spec import BatterySpec
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Cause, Placement
from chargewright.machine.classes import class_ids
from chargewright.machine.conditioning import load_class, machine_of
from chargewright.machine.draw import draw
from chargewright.machine.fields import data_path
from chargewright.machine.layout import Chemistry, Layout, Winding
from chargewright.machine.limit_table import build_limits
from chargewright.machine.parameters import NAMES
from chargewright.machine.prior import complaints, prior

LITHIUM = machine_of("sport-600-1000", battery=BatterySpec(chemistry=Chemistry.LIFEPO4))
MACHINES = [*(load_class(name) for name in class_ids()), LITHIUM]
CAUSES = catalogue().causes


def test_there_are_enough_causes() -> None:
    assert len(CAUSES) >= 32


@pytest.mark.parametrize("cause", CAUSES, ids=lambda cause: cause.id)
def test_a_cause_changes_what_it_names_and_nothing_else(cause: Cause) -> None:
    z = latents(400)
    possible = [machine for machine in MACHINES if cause.possible(machine)]
    assert possible
    for machine in possible:
        sound, faulty = draw(machine, (), z), draw(machine, (cause,), z)
        changed = {NAMES[i] for i in np.flatnonzero((sound != faulty).any(axis=0))}
        named = cause.columns(machine.layout)
        assert changed <= named
        assert cause.id == "no_fault" or changed - {"soc"} or cause.id == "battery_discharged"
        if cause.id == "no_fault":
            assert not changed
        else:
            assert (sound != faulty).any(axis=1).mean() > 0.99


@pytest.mark.parametrize("cause", CAUSES, ids=lambda cause: cause.id)
def test_shares_and_severities_are_assumptions_in_words(cause: Cause) -> None:
    assert cause.share_note.startswith("assumption")
    assert cause.share > 0.0


def test_third_leg_only_where_there_is_one() -> None:
    single = Layout(winding=Winding.SINGLE)
    for cause in CAUSES:
        assert not any(name.endswith("_c") for name in cause.columns(single) - {"stator_hot_c"})


def test_what_the_layout_lacks_cannot_fail() -> None:
    known = {
        machine.class_id: {c.id for c in catalogue().possible(machine)} for machine in MACHINES
    }
    small = known["outboard-small-single"]
    assert not any(
        name.startswith("regulator_") for name in small - {"regulator_ground_resistance"}
    )
    assert "sense_lead_resistance" in known["tourer-1000-sense"]
    assert "sense_lead_resistance" not in known["atv"]
    assert "battery_cut_off" not in known["atv"]
    assert LITHIUM in [m for m in MACHINES if catalogue().get("battery_cut_off").possible(m)]


@pytest.mark.parametrize(
    ("placement", "three", "one"),
    [
        (Placement.FIXED, 1, 1),
        (Placement.ONE_WINDING, 3, 1),
        (Placement.ALL_WINDINGS, 1, 1),
        (Placement.ONE_LEAD, 3, 2),
        (Placement.TWO_LEADS, 3, 1),
        (Placement.ALL_LEADS, 1, 1),
        (Placement.ONE_JUNCTION, 6, 4),
        (Placement.TWO_JUNCTIONS, 12, 4),
    ],
)
def test_number_of_places(placement: Placement, three: int, one: int) -> None:
    # By counting: six junctions have 15 pairs, three of them on one lead.
    assert len(placement.spots(Layout())) == three
    assert len(placement.spots(Layout(winding=Winding.SINGLE))) == one


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            'component = "battery"',
            'componet = "battery"',
            "causes.toml, cause '.*unknown field 'componet'",
        ),
        ('op = "multiply"', 'op = "times"', "field 'op' = 'times'; expected"),
        ('parameter = "soc"', 'parameter = "sok"', "field 'parameter' = 'sok'; expected.*'soc'"),
        (
            '"winding_ohm_{leg}"',
            '"winding_ohm_{rail}"',
            "only what placement 'one_winding' fills in",
        ),
        ('repair = "replace_battery"', 'repair = "swap"', "field 'repair' = 'swap'"),
        ("low = -0.05, high = 0.6", "low = 0.03", "field 'high' is missing"),
        ('scale = "per_crank_a"', 'scale = "crank"', "field 'scale' = 'crank'"),
        ('chemistry = ["lifepo4"]', 'chemistry = ["lipo"]', "field 'chemistry'.*'lifepo4'"),
        ('first = "drain"', 'first = "drian"', "field 'first' = 'drian'.*'drain'"),
        ("severity = 1", "severity = 7", "field 'severity' = 7"),
        ('id = "battery_worn"', 'id = "no_fault"', "'no_fault' is given twice"),
        (
            "soc = { low = 0.2",
            "soc = { low = 1.35",
            "field 'low' = 1.35; expected a number from -0.06 to 1",
        ),
        ('words = "{value} inside', 'words = "inside', "field 'words'"),
        ("share = 0.06", 'share = "rare"', "field 'share' = 'rare'"),
    ],
)
def test_a_bad_causes_file_names_file_and_field(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    text = data_path("causes.toml").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "causes.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError, match=message):
        catalogue(path)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "starter = 2.0",
            "startr = 2.0",
            r"complaints.toml, \[no_start\], \[components\].*'startr'",
        ),
        ("terminal_loose = 2.5", "terminal = 2.5", r"\[causes\]: unknown field 'terminal'"),
        ("fuse = 2.0", "fuse = -2.0", r"field 'fuse' = -2.0; expected a number of at least 0"),
    ],
)
def test_a_bad_complaints_file_names_file_and_field(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    text = data_path("complaints.toml").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "complaints.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError, match=message):
        complaints(path)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            'minus = "frame"',
            'minus = "frane"',
            "limits.toml, limit 'stator_to_ground': field 'minus'",
        ),
        ("one_way = true", "oneway = true", "limits.toml, limit 'junction_upper': unknown field"),
        ('from = "drain_a"', 'from = "drian_a"', "field 'from' = 'drian_a'"),
    ],
)
def test_a_bad_limits_file_names_file_and_field(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    text = data_path("limits.toml").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "limits.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError, match=message):
        build_limits(load_class("atv"), (), path=path)


@pytest.mark.parametrize("complaint", [None, *complaints()])
def test_a_prior_sums_to_one(complaint: str | None) -> None:
    for machine in MACHINES:
        found = prior(machine, complaint)
        assert sum(h.share for h in found) == pytest.approx(1.0, abs=1e-12)
        assert all(cause.possible(machine) for h in found for cause in h.causes)
        assert len({h.causes for h in found}) == len(found)


def single_share(component: str, complaint: str | None) -> float:
    found = prior(load_class("sport-600-1000"), complaint)
    return sum(h.share for h in found if len(h.causes) == 1 and h.causes[0].component == component)


def test_no_start_is_anchored_on_breakdown_patrols() -> None:
    # A European breakdown patrol found the 12 V battery behind 42-46 % of calls, 2018-2024 (cars).
    assert 0.38 < single_share("battery", "no_start") < 0.50


def test_complaints_point_where_they_should() -> None:
    assert single_share("regulator", "overcharge_or_bulbs_blow") > 2 * single_share(
        "regulator", None
    )
    assert single_share("drain", "after_standing") > 2 * single_share("drain", None)
    assert single_share("none", "routine") > 5 * single_share("none", "no_start")


def test_an_old_battery_is_suspected_more() -> None:
    def worn(years: float) -> float:
        machine = machine_of("atv", battery=BatterySpec(age_years=years))
        return sum(h.share for h in prior(machine) if h.causes[0].id == "battery_worn")

    assert worn(6.0) > 2 * worn(1.0)


def test_an_unknown_complaint_names_the_nearest() -> None:
    with pytest.raises(InputError, match=r"'no_strat' does not exist.*'no_start'"):
        prior(load_class("atv"), "no_strat")


def test_an_unknown_cause_names_the_nearest() -> None:
    with pytest.raises(InputError, match=r"'plug_opne' does not exist.*'plug_open'"):
        catalogue().get("plug_opne")
