"""Turns charging-system cases told in public (facts and figures only) into job cards.

``python case_cards.py CASES.json FOLDER`` writes one card per case; the cards under
``tests/cases`` were made so and are kept, their source is not. A case is one machine, by class,
with ``readings`` of ``quantity``, ``value``, ``unit``, ``qualifier``, ``condition``, ``stage``.
"""

from __future__ import annotations

import json
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

from chargewright.jobs.card import JobCard
from chargewright.jobs.codec import card_from_dict
from chargewright.jobs.files import save_card

Json = dict[str, Any]
CREATED = "2026-08-01T00:00:00Z"  # when the cases were collected
PAIRS = (("alt_a", "alt_b"), ("alt_b", "alt_c"), ("alt_c", "alt_a"))
LEADS = ("alt_a", "alt_b", "alt_c")

# Machine class of each case, and how well it fits; kind of complaint, where one of ours fits.
CASES: dict[str, tuple[str, str, str | None]] = {
    "W-01": ("twin-250-400", "three-phase scooter of 500 cc: nearest class", None),
    "W-02": ("adventure-twin-series", "1200 cc boxer twin", "warning_light_or_low_volts"),
    "W-03": ("single-125-250", "125 cc twin, alternator not told: nearest class", None),
    "W-04": (
        "sport-600-1000",
        "550 cc four of 1976 with a field-excited alternator, which no class here has",
        "no_start",
    ),
    "W-05": ("single-125-250", "125 cc single, alternator not told", "slow_crank"),
    "W-06": (
        "outboard-small-single",
        "8 hp two-stroke with an 80 W coil",
        "overcharge_or_bulbs_blow",
    ),
    "W-07": ("tourer-1000-sense", "1200 cc flat four of 1986: nearest class", "battery_goes_flat"),
    "W-08": ("outboard-three-phase", "80 hp four-stroke", "battery_goes_flat"),
    "W-09": ("adventure-twin-series", "V-twin of the 2000s", "no_start"),
    "W-10": ("sport-600-1000", "955 cc triple", "battery_goes_flat"),
    "W-11": ("single-125-250", "250 cc single cruiser", "after_standing"),
    "W-12": ("scooter-50-125", "110 cc step-through, single phase", "battery_goes_flat"),
    "W-13": (
        "twin-250-400",
        "750-850 cc parallel twin with a single-phase alternator: nearest class",
        "warning_light_or_low_volts",
    ),
    "W-14": (
        "outboard-three-phase",
        "outboard with rectifier and regulator, alternator not told",
        "warning_light_or_low_volts",
    ),
    "W-15": ("sport-600-1000", "1000 cc four", "battery_goes_flat"),
    "W-16": ("tourer-1000-sense", "1100 cc four of 2002 with a sense lead", "slow_crank"),
}

# What the telling says of the machine beyond its class, as a spec sheet.
SPECS: dict[str, Json] = {
    "W-13": {"winding": "single"},
    "W-16": {"regulated_v": {"min": 13.5}, "regulated_rpm": 2500},
}

# What is measured where, by the quantity told. In the drops red is where more volts belong while
# the system charges (the sense lead draws from the battery); the tellings give no sign.
BATTERY = [("battery_pos", "battery_neg")]
QUANTITIES: dict[str, tuple[str, list[tuple[str, str]], Json]] = {
    "dc_volts_battery_rest": ("dc_v", BATTERY, {"engine": "off"}),
    "dc_volts_battery_running": ("dc_v", BATTERY, {"engine": "running", "key_on": True}),
    "ac_volts_phase_phase_unplugged": (
        "ac_v",
        list(PAIRS),
        {"engine": "running", "key_on": True, "plug_in": False},
    ),
    "ohms_phase_phase": ("ohm", list(PAIRS), {"plug_in": False}),
    "ohms_phase_ground": ("ohm", [(lead, "frame") for lead in LEADS], {"plug_in": False}),
    "drop_v_positive": (
        "dc_v",
        [("reg_out", "battery_pos")],
        {"engine": "running", "key_on": True},
    ),
    "drop_v_ground": ("dc_v", [("battery_neg", "reg_body")], {"engine": "running", "key_on": True}),
    "drop_v_sense": ("dc_v", [("battery_pos", "reg_sense")], {"engine": "running", "key_on": True}),
    "dc_volts_rectified_unloaded": (
        "dc_v",
        [("reg_out", "reg_body")],
        {"engine": "running", "key_on": True, "battery_in": False},
    ),
}
SPEEDS = (("idle", "idle"), ("full throttle", "high"), ("cruising", "mid"), ("revving", "mid"))
# Facts of the telling that the general rules below cannot see.
EXCLUDED = {
    ("W-02", "idle, old stator, its one good phase"): "taken on the old stator, not on this one",
    (
        "W-06",
        "dc_volts_rectified_unloaded",
    ): "battery off while running: dangerous, never asked for",
}
REST_H = {"W-08": 6.0, "W-11": 720.0}
CONFIRMED_BY = {
    "inferred": "inferred",
    "fix_reported": "fix_reported",
    "found_on_test_or_inspection": "found",
    "measured_after_repair": "measured_after_repair",
}


def case_card(case: Json) -> JobCard:
    """Return the job card of one case."""
    class_id, fit, kind = CASES[case["id"]]
    readings: list[Json] = []
    for told in case["readings"]:
        for points in points_of(told, case):
            readings.append(reading(told, case, points=points, reading_id=f"r{len(readings) + 1}"))
    vain = "; ".join(case.get("parts_replaced_in_vain", []))
    notes = [
        "Told in public, facts only; class by likeness. " + fit + ".",
        f"Alternator: {case['alternator']}.",
        *([f"Specification told: {'; '.join(case['spec'])}."] if "spec" in case else []),
        *([f"Replaced in vain: {vain}."] if vain else []),
    ]
    return card_from_dict(
        {
            "card_version": 2,
            "id": case["id"].lower(),
            "created": CREATED,
            "title": f"Case {case['id']}: {case['machine_class']}",
            "machine": {"class": class_id, "spec": SPECS.get(case["id"], {})},
            "complaint": {**({"kind": kind} if kind else {}), "text": "; ".join(case["complaint"])},
            "readings": readings,
            "confirmed_cause": {
                "cause": case["confirmed_cause"],
                "by": CONFIRMED_BY[case["confirmation_type"]],
                "note": case.get("cause_detail", ""),
            },
            "notes": "\n".join(notes),
        },
        source=case["id"],
    )


def points_of(told: Json, case: Json) -> list[tuple[str, str]]:
    """Return the pairs of points the telling covers: all, or the first where it names none."""
    points = QUANTITIES[told["quantity"]][1]
    three = not case["alternator"].startswith("single")
    return points if told.get("phase_pair", "").startswith("all") and three else points[:1]


def reading(told: Json, case: Json, *, points: tuple[str, str], reading_id: str) -> Json:
    """Return one reading of the card."""
    function, _, state = QUANTITIES[told["quantity"]]
    condition = told.get("condition", "")
    note = "; ".join(part for part in (condition, told.get("note", "")) if part)
    result: Json = {
        "id": reading_id,
        "function": function,
        "plus": points[0],
        "minus": points[1],
        "state": {**state, **state_told(told, case, running=state.get("engine") == "running")},
        "shown": shown(told),
        "stage": told["stage"],
        "note": note,
    }
    for key in (condition, told["quantity"]):
        if (case["id"], key) in EXCLUDED:
            result["excluded"] = EXCLUDED[case["id"], key]
    return result


def state_told(told: Json, case: Json, *, running: bool) -> Json:
    """Return what the condition says about speed, lamps and battery."""
    condition = told.get("condition", "")
    state: Json = {}
    if running:
        words = [word for sign, word in SPEEDS if sign in condition]
        if "rpm" in told:
            state["rpm"] = told["rpm"]
        elif words:
            state["rpm"] = words[0]
        if "headlight on" in condition or "headlight always on" in " ".join(case["complaint"]):
            state["lights_on"] = True
    elif case["id"] in REST_H:
        state["rest_h"] = REST_H[case["id"]]
    if "charge" in condition:
        state["battery_charged"] = True
    if "out of the bike" in condition:
        state["battery_in"] = False
    return state


def shown(told: Json) -> Json:
    """Return what the meter showed; the last digit told is the last digit read."""
    unit = {"V": "V", "ohm": "ohm", "A": "A"}[told["unit"]]
    value, value_max = told.get("value"), told.get("value_max")
    if value is None:
        return {
            "unit": unit,
            "qualifier": {"open": "overload", "continuity": "continuity"}[told["state"]],
            "text": told["state"],
        }
    signs = {">": "at_least", "<": "at_most", "~": "about"}
    qualifier = (
        "between" if value_max is not None else signs.get(told.get("qualifier", ""), "exact")
    )
    figures = [Decimal(figure) for figure in (value, value_max) if figure is not None]
    result: Json = {
        "unit": unit,
        "qualifier": qualifier,
        "value": float(figures[0]),
        "lsd": float(min(Decimal(1).scaleb(int(figure.as_tuple().exponent)) for figure in figures)),
        "text": told.get("qualifier", "") + "-".join(str(figure) for figure in figures),
    }
    if value_max is not None:
        result["value_max"] = float(figures[1])
    return result


def main(source: str, folder: str) -> None:
    """Write one card file per case."""
    text = Path(source).read_text(encoding="utf-8")
    for case in json.loads(text, parse_float=Decimal):  # keeps the digits as told
        save_card(case_card(case), Path(folder) / f"{case['id'].lower()}.json")


if __name__ == "__main__":
    main(*sys.argv[1:])
