"""Sixteen cases told in public (facts and figures only), as job cards.

The figures beside each case are those of the telling, typed here from it, so that neither the
converter nor the format can bend them unseen.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from jobs.case_cards import CASES, case_card

from chargewright.jobs.codec import pretty_json
from chargewright.jobs.files import load_card
from chargewright.jobs.quantity_text import format_shown
from chargewright.jobs.reading import Reading
from chargewright.machine.conditioning import machine_of
from chargewright.machine.points import Function
from chargewright.machine.prior import complaints
from chargewright.machine.spec import SpecSheet

FOLDER = Path(__file__).parents[1] / "cases"

# Function, and what was shown, in the order told; a figure told for all three phases stands thrice.
TOLD: dict[str, list[str]] = {
    "w-01": ["dc_v 12.0 V", "dc_v 14 V to 17 V"],
    "w-02": ["ac_v 2.4 V", "ac_v 9 V", "ac_v 20 V"],
    "w-03": ["dc_v 15.0 V"],
    "w-04": ["dc_v 11.58 V", "dc_v 10.16 V", "dc_v 13.8 V", "dc_v 14.0 V", "dc_v 14.5 V"],
    "w-05": ["dc_v > 12.0 V"],
    "w-06": ["dc_v > 16 V", "ac_v < 40 V", "dc_v about 20 V"],
    "w-07": ["dc_v 11.8 V", *["ac_v 0 V"] * 3, *["ohm continuity"] * 6],
    "w-08": ["dc_v 6 V", *["ac_v about 24 V"] * 3, *["ohm OL"] * 3],
    "w-09": ["dc_v 12.6 V"],
    "w-10": ["dc_v < 11 V"],
    "w-11": ["dc_v 5.33 V", "dc_v about 13 V"],
    "w-12": [
        "dc_v 11.8 V",
        "dc_v 12.33 V",
        "dc_v 12.90 V to 13.15 V",
        "dc_v 10.9 V",
        "dc_v 13.5 V",
    ],
    "w-13": ["dc_v 12.4 V", "ac_v 0 V", "ohm 1.0 Ω to 1.5 Ω", "ohm OL"],
    "w-14": ["dc_v 10.7 V", "dc_v 10.3 V"],
    "w-15": ["dc_v 12.3 V"],
    "w-16": [
        "dc_v < 12.5 V",
        "dc_v > 13 V",
        "dc_v about 12.2 V",
        "dc_v 0.12 V",
        "dc_v 0.07 V",
        "dc_v 0.52 V",
    ],
}
AFTER_REPAIR = {"w-11": 1, "w-12": 1}
NOT_COUNTED = {"w-02": 1, "w-06": 1}


def line(reading: Reading) -> str:
    assert reading.shown is not None
    return f"{reading.function} {format_shown(reading.shown)}"


@pytest.mark.parametrize("name", sorted(TOLD))
def test_a_case_holds_the_figures_told_and_no_others(name: str) -> None:
    card = load_card(FOLDER / f"{name}.json")
    assert [line(reading) for reading in card.readings] == TOLD[name]
    assert len(card.proof) == AFTER_REPAIR.get(name, 0)
    left_out = NOT_COUNTED.get(name, 0) + AFTER_REPAIR.get(name, 0)
    assert len(card.evidence) == len(TOLD[name]) - left_out
    assert machine_of(card.machine.class_id, SpecSheet.from_dict(card.machine.spec)).title
    assert card.complaint.kind is None or card.complaint.kind in complaints()
    assert card.confirmed_cause is not None
    assert "facts only" in card.notes
    assert not card.invented


def test_all_cases_are_there() -> None:
    assert sorted(path.stem for path in FOLDER.glob("*.json")) == sorted(TOLD)
    assert sorted(CASES) == [name.upper() for name in sorted(TOLD)]


@pytest.mark.parametrize("name", sorted(TOLD))
def test_case_files_are_written_as_the_program_writes_them(name: str) -> None:
    path = FOLDER / f"{name}.json"
    assert path.read_text(encoding="utf-8") == pretty_json(load_card(path))


def test_no_ohms_are_told_of_a_live_circuit() -> None:
    for path in FOLDER.glob("*.json"):
        for reading in load_card(path).readings:
            if reading.function is Function.OHM:
                assert reading.state.engine == "off"
                assert not reading.state.plug_in


def a_case(**told: Any) -> dict[str, Any]:  # noqa: ANN401
    return {
        "id": "W-08",
        "machine_class": "outboard",
        "alternator": "three-phase PM",
        "complaint": ["flat"],
        "readings": [{"unit": "V", "stage": "fault", **told}],
        "confirmed_cause": "x",
        "confirmation_type": "inferred",
    }


@pytest.mark.parametrize(
    ("told", "rpm", "points"),
    [
        ({"quantity": "dc_volts_battery_running", "condition": "any rpm"}, None, 1),
        ({"quantity": "dc_volts_battery_running", "rpm": 2500}, 2500.0, 1),
        ({"quantity": "dc_volts_battery_running", "condition": "idle, headlight on"}, "idle", 1),
        ({"quantity": "ac_volts_phase_phase_unplugged", "condition": "full throttle"}, "high", 1),
        ({"quantity": "ac_volts_phase_phase_unplugged", "phase_pair": "all three"}, None, 3),
    ],
)
def test_the_converter_reads_speed_and_phases(
    told: dict[str, Any], rpm: float | str | None, points: int
) -> None:
    readings = case_card(a_case(value=Decimal("12.40"), **told)).readings
    assert len({(reading.plus, reading.minus) for reading in readings}) == len(readings) == points
    for reading in readings:
        assert reading.state.rpm == rpm
        assert reading.shown is not None
        assert (reading.shown.value, reading.shown.lsd) == (12.4, 0.01)
        assert reading.state.lights_on is ("headlight on" in told.get("condition", ""))
