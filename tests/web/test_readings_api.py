"""From the typed reading to the answer: kept once, conflicts shown, refused with the reason."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest
from web.service import begun, error_of, rest

from chargewright.jobs.assessment_json import assessment_dict
from chargewright.jobs.codec import card_from_dict
from chargewright.workbench import Job

ROOT = Path(__file__).parents[2]


def test_the_same_reading_twice_is_one_reading(client: httpx.Client) -> None:
    job = begun(client)
    first = client.post(f"/jobs/{job}/readings", json=rest("p-1"))
    assert (first.status_code, first.json()["new"]) == (201, True)
    again = client.post(f"/jobs/{job}/readings", json=rest("p-1"))
    assert (again.status_code, again.json()["new"]) == (200, False)
    assert again.json()["revision"] == first.json()["revision"]
    assert len(client.get(f"/jobs/{job}").json()["card"]["readings"]) == 1


def test_another_reading_of_the_same_id_shows_both_sides(client: httpx.Client) -> None:
    job = begun(client)
    client.post(f"/jobs/{job}/readings", json=rest("p-1", "12.61"))
    error = error_of(
        client.post(f"/jobs/{job}/readings", json=rest("p-1", "11.2")), 409, "conflict"
    )
    assert error["yours"]["shown"]["value"] == 11.2
    assert error["here"]["shown"]["value"] == 12.61


def test_a_reading_from_a_pocket_is_appended_and_told_what_it_missed(client: httpx.Client) -> None:
    job = begun(client)
    seen = client.get(f"/jobs/{job}").json()["revision"]
    client.post(f"/jobs/{job}/readings", json=rest("other-1"))
    late = client.post(f"/jobs/{job}/readings", json=rest("mine-1", "12.5", seen_revision=seen))
    assert late.status_code == 201
    assert [one["id"] for one in late.json()["since"]] == ["other-1"]


def test_a_fault_reading_after_an_unseen_repair_is_a_conflict(client: httpx.Client) -> None:
    job = begun(client)
    seen = client.get(f"/jobs/{job}").json()["revision"]
    at = "2026-08-01T10:00:00Z"
    note = client.post(f"/jobs/{job}/repairs", json={"cause": "battery_worn", "at": at})
    assert note.status_code == 200
    sent = rest("late-1", seen_revision=seen)
    error = error_of(client.post(f"/jobs/{job}/readings", json=sent), 409, "conflict")
    assert error["here"][0]["cause"] == "battery_worn"
    proof = {**sent, "stage": "after_repair"}
    assert client.post(f"/jobs/{job}/readings", json=proof).status_code == 201
    told = rest("late-2", seen_revision=seen, confirmed=True)
    assert client.post(f"/jobs/{job}/readings", json=told).status_code == 201


def test_what_was_taken_back_does_not_come_back_with_a_queue(client: httpx.Client) -> None:
    job = begun(client)
    client.post(f"/jobs/{job}/readings", json=rest("p-1"))
    assert client.delete(f"/jobs/{job}/readings/p-1").json()["changed"] is True
    assert client.delete(f"/jobs/{job}/readings/p-1").json()["changed"] is False
    again = client.post(f"/jobs/{job}/readings", json=rest("p-1"))
    assert (again.status_code, again.json()["reading"]) == (200, None)
    assert (
        "readings" not in client.get(f"/jobs/{job}").json()["card"]
        or not client.get(f"/jobs/{job}").json()["card"]["readings"]
    )


@pytest.mark.parametrize(
    ("sent", "code", "part"),
    [
        (rest("x", "12,,6"), "reading", "12,,6"),
        (rest("x", "12.6", minus="battery_pos"), "input", "plus and minus"),
        (rest("x", "12.6", plus="battery"), "input", "battery"),
        (rest("x", "12.6", state={"engin": "off"}), "input", "engin"),
        ({"id": "x", "check": "rest_vv", "text": "12"}, "input", "rest_vv"),
        ({"id": "x", "text": "12"}, "input", "expected 'check'"),
        (rest("x", "3", function="ohm", state={"engine": "running", "rpm": 1500}), "unsafe", ""),
        (rest("X Y"), "input", "id"),
        (rest("x", "1" * 201), "input", "text"),
    ],
)
def test_a_reading_that_cannot_be_used_is_refused(
    client: httpx.Client, sent: dict[str, Any], code: str, part: str
) -> None:
    job = begun(client)
    error = error_of(client.post(f"/jobs/{job}/readings", json=sent), 422, code)
    assert part in error["message"]
    assert client.get(f"/jobs/{job}").json()["revision"] == 1


def test_the_assessment_is_that_of_the_library(client: httpx.Client) -> None:
    job = begun(client)
    sent = client.post(f"/jobs/{job}/readings", json=rest("p-1", "11.4")).json()
    answer = client.get(
        f"/jobs/{job}/assessment", params={"revision": sent["revision"], "wait_s": 30}
    )
    assert answer.status_code == 200
    page = answer.json()
    assert page["revision"] >= sent["revision"]
    assert page["error"] is None
    jsonschema = pytest.importorskip("jsonschema")
    schema = json.loads((ROOT / "docs" / "assessment.schema.json").read_text("utf-8"))
    jsonschema.validate(page["assessment"], schema)
    own = Job(card_from_dict(client.get(f"/jobs/{job}").json()["card"]))
    told = assessment_dict(own.case, own.assess())
    assert page["assessment"]["readings"][0]["verdicts"] == told["readings"][0]["verdicts"]
    assert {one["id"] for one in page["assessment"]["causes"]} & {
        one["id"] for one in told["causes"][:2]
    }
    assert page["bench"]["stage"] in {"check", "repair", "end"}


def test_any_check_is_a_step_in_words(client: httpx.Client) -> None:
    job = begun(client)
    lines = client.get(f"/jobs/{job}/checks").json()
    one = next(line for line in lines if line["refused"] is None and line["function"] == "dc_v")
    step = client.get(f"/jobs/{job}/steps/{one['id']}").json()
    assert step["check"] == one["id"]
    assert step["dial"].startswith("DC volts")
    assert [line["label"] for line in step["probes"]][:1] == ["dial"]
    assert step["expected"]
    assert step["cautions"]
    error_of(client.get(f"/jobs/{job}/steps/no-such-check"), 422, "input")


def test_a_slipped_decimal_point_is_asked_about(client: httpx.Client) -> None:
    job = begun(client)
    odd = client.post(f"/jobs/{job}/readings/question", json=rest("q-1", "1.26")).json()
    assert odd["meant"]["value"] == pytest.approx(12.6)
    assert "12.6 V" in odd["question"]
    fine = client.post(f"/jobs/{job}/readings/question", json=rest("q-2", "12.6")).json()
    assert (fine["meant"], fine["question"]) == (None, None)
    assert client.get(f"/jobs/{job}").json()["revision"] == 1


def test_a_glance_comes_before_the_whole_answer(client: httpx.Client) -> None:
    job = begun(client)
    client.get(f"/jobs/{job}/assessment", params={"wait_s": 30})
    sent = client.post(f"/jobs/{job}/readings", json=rest("p-1", "11.4")).json()
    page = client.get(f"/jobs/{job}/glance", params={"revision": sent["revision"]})
    assert page.status_code == 200
    found = page.json()["glance"]
    assert found["causes"]
    assert [one["id"] for one in found["readings"]] == ["p-1"]
    assert found["readings"][0]["verdicts"]


def test_excluded_and_taken_in_again(client: httpx.Client) -> None:
    job = begun(client)
    client.post(f"/jobs/{job}/readings", json=rest("p-1"))
    path = f"/jobs/{job}/readings/p-1"
    assert client.patch(path, json={"excluded": "probe slipped"}).json()["changed"] is True
    card = client.get(f"/jobs/{job}").json()["card"]
    assert card["readings"][0]["excluded"] == "probe slipped"
    client.patch(path, json={"excluded": None, "note": "read twice"})
    reading = client.get(f"/jobs/{job}").json()["card"]["readings"][0]
    assert "excluded" not in reading
    assert reading["note"] == "read twice"
    error_of(client.patch(f"/jobs/{job}/readings/p-2", json={"note": ""}), 404, "not_found")


def test_covers_acts_and_causes_come_and_go(client: httpx.Client) -> None:
    job = begun(client)
    cover = client.get("/covers", params={"class": "atv"}).json()[0]["id"]
    client.post(f"/jobs/{job}/opened", json={"covers": [cover]})
    assert cover in client.get(f"/jobs/{job}").json()["card"]["opened"]
    client.delete(f"/jobs/{job}/opened/{cover}")
    act = {"act": "charge_battery", "at": "2026-08-01T10:00:00Z"}
    assert client.post(f"/jobs/{job}/acts", json=act).json()["changed"] is True
    assert client.post(f"/jobs/{job}/acts", json=act).json()["changed"] is False
    assert client.delete(f"/jobs/{job}/acts", params={"at": act["at"]}).json()["changed"] is True
    cause = {"cause": "battery_worn", "by": "found"}
    assert client.put(f"/jobs/{job}/confirmed-cause", json=cause).json()["changed"] is True
    card = client.get(f"/jobs/{job}").json()["card"]
    assert card["confirmed_cause"]["cause"] == "battery_worn"
    assert cover not in card.get("opened", [])
    client.delete(f"/jobs/{job}/confirmed-cause")
    wrong = client.put(f"/jobs/{job}/confirmed-cause", json={"cause": "battery_warn"})
    assert "battery_worn" in error_of(wrong, 422, "input")["message"]


def test_lithium_is_not_put_on_a_charger_in_the_cold(client: httpx.Client) -> None:
    job = begun(client, battery={"chemistry": "lifepo4"}, ambient_c=-5)
    act = {"act": "charge_battery", "at": "2026-08-01T10:00:00Z"}
    error_of(client.post(f"/jobs/{job}/acts", json=act), 422, "unsafe")


def test_a_glance_is_not_waited_for_once_the_assessment_is_there(client: httpx.Client) -> None:
    """A new job has none: the answer comes with the assessment, not when the wait is over."""
    job = begun(client)
    with ThreadPoolExecutor(1) as phone:
        glance = phone.submit(client.get, f"/jobs/{job}/glance", params={"wait_s": 30})
        while client.get(f"/jobs/{job}/assessment", params={"wait_s": 30}).status_code == 202:
            pass
        assert glance.result(timeout=20).status_code == 202
