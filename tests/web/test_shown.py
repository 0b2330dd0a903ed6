"""Circuits, readings against their limits, reports and simulations over HTTP."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import httpx
import pytest
from web.service import begun, error_of, rest

from chargewright.jobs.codec import card_dict
from chargewright.jobs.files import load_card
from chargewright.machine.cause_file import catalogue
from chargewright.machine.classes import read_class
from chargewright.machine.conditioning import load_class
from chargewright.simulation.faults import graded

ROOT = Path(__file__).parents[2]


def picture(answer: httpx.Response) -> ElementTree.Element:
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"].startswith("image/svg+xml")
    return ElementTree.fromstring(answer.text)


def test_every_check_of_a_job_has_its_circuit(client: httpx.Client) -> None:
    job = begun(client)
    for line in client.get(f"/jobs/{job}/checks").json()[::7]:
        root = picture(client.get(f"/jobs/{job}/steps/{line['id']}/circuit.svg"))
        assert root.tag.endswith("svg")
    own = {"function": "dc_v", "plus": "battery_pos", "minus": "frame", "theme": "dark"}
    picture(client.get(f"/jobs/{job}/circuit.svg", params=own))
    error_of(client.get(f"/jobs/{job}/circuit.svg", params={**own, "plus": "x"}), 422, "input")


def test_a_reading_is_drawn_against_each_of_its_limits(client: httpx.Client) -> None:
    job = begun(client)
    client.post(f"/jobs/{job}/readings", json=rest("p-1", "12.1"))
    page = client.get(f"/jobs/{job}/assessment", params={"wait_s": 30}).json()
    limits = page["assessment"]["readings"][0]["verdicts"]
    assert limits
    for number in range(len(limits)):
        path = f"/jobs/{job}/readings/p-1/picture.svg"
        picture(client.get(path, params={"limit": number}))
    error_of(client.get(path, params={"limit": len(limits)}), 404, "not_found")


def test_reports_come_in_every_form(client: httpx.Client) -> None:
    card = load_card(ROOT / "examples" / "demo-job.json")
    client.post("/jobs/import", json=card_dict(card))
    pdf = client.get(f"/jobs/{card.id}/report.pdf")
    assert pdf.content.startswith(b"%PDF")
    assert f'filename="{card.id}-customer.pdf"' in pdf.headers["content-disposition"]
    page = client.get(f"/jobs/{card.id}/report.html", params={"reader": "workshop"})
    assert "sandbox" in page.headers["content-security-policy"]
    assert card.machine.label in page.text
    data = json.loads(client.get(f"/jobs/{card.id}/report.json").text)
    assert data["card"]["id"] == card.id


def test_a_failed_part_reads_otherwise_than_a_sound_one(client: httpx.Client) -> None:
    """A burnt plug drops volts where a sound one drops next to none (trade knowledge)."""
    asked = {"class": "sport-600-1000", "rpm": 5000, "units": 20}
    bad = client.post("/simulate", json={**asked, "cause": "plug_resistance", "severity": 0.9})
    assert bad.status_code == 200, bad.text
    found = bad.json()
    drop = [one for one in found["readings"] if one["check"].startswith("drop_plug_")]
    assert any(one["value"] > 3 * one["sound"]["middle"] for one in drop if one["sound"])
    assert {one["id"] for one in found["waveforms"]} >= {"output_v", "battery_v", "phase_a_a"}
    assert all(len(one["t_ms"]) == len(one["values"]) <= 800 for one in found["waveforms"])
    some = client.post("/simulate", json={**asked, "checks": ["rest_v"]}).json()
    assert [one["check"] for one in some["readings"]] == ["rest_v"]
    error_of(client.post("/simulate", json={**asked, "cause": "plug"}), 422, "input")
    error_of(client.post("/simulate", json={**asked, "severity": 0.5}), 422, "input")


def test_a_sheet_of_the_workshop_reads_otherwise_than_its_class(client: httpx.Client) -> None:
    """A winding of three times the ohms reads about three times the ohms (Ohm's law)."""
    its_ohm = read_class("sport-600-1000").spec.stator_ohm
    assert its_ohm is not None
    thrice = {"stator_ohm": [3 * its_ohm.low, 3 * its_ohm.high]}
    sheet = {"title": "own", "class": "sport-600-1000", "spec": thrice}
    kept = client.put("/sheets/own", json={"document": sheet, "seen": 0})
    assert kept.status_code == 200, kept.text
    asked = {"rpm": 3000, "units": 60, "checks": ["pair_ohm_ab"]}
    own, its = (
        client.post("/simulate", json={**asked, **machine}).json()["readings"][0]["value"]
        for machine in ({"sheet": "own"}, {"class": "sport-600-1000"})
    )
    assert own > 2 * its
    error_of(client.post("/simulate", json={**asked, "sheet": "none"}), 404, "not_found")
    error_of(client.post("/simulate", json={**asked, "sheet": "own", "class": "atv"}), 422, "input")
    error_of(client.post("/simulate", json=asked), 422, "input")


@pytest.mark.parametrize("class_id", ["sport-600-1000", "atv"])
def test_a_worse_share_is_a_worse_severity(class_id: str) -> None:
    machine = load_class(class_id)
    for cause in catalogue().possible(machine):
        slight, severe = (graded(machine, cause.id, share).latent for share in (0.1, 0.9))
        assert (slight is None) == (severe is None)
        assert slight is None or slight == pytest.approx(-severe)  # type: ignore[operator]


def bench_of(client: httpx.Client, job: str) -> dict[str, object]:
    """Return what is on the bench once the job as it stands has been worked out."""
    revision = client.get(f"/jobs/{job}").json()["revision"]
    params = {"revision": revision, "wait_s": 30}
    for _ in range(4):
        found = client.get(f"/jobs/{job}/assessment", params=params).json()
        if found["bench"] is not None:
            bench: dict[str, object] = found["bench"]
            return bench
    raise AssertionError(f"{job} was not worked out")


def test_a_noted_repair_stays_on_the_bench_and_claims_no_more_than_was_read(
    client: httpx.Client,
) -> None:
    """Any repair leads to its proof; what reads outside its limit after it is looked into."""
    job = begun(client)
    client.post(f"/jobs/{job}/readings", json=rest("p-1", "12.1"))
    repair = {"repair": "replace_regulator", "at": "2026-08-01T12:00:00Z"}
    assert client.post(f"/jobs/{job}/repairs", json=repair).status_code == 200
    assert bench_of(client, job)["stage"] in ("prove", "proved")
    # 16.5 V charging lies above every limit that a class of the catalogue states
    after = {"engine": "running", "rpm": "high", "key_on": True}
    reading = rest("p-2", "16.5", stage="after_repair", state=after)
    assert client.post(f"/jobs/{job}/readings", json=reading).status_code == 201
    bench = bench_of(client, job)
    assert bench["stage"] in ("check", "repair")
    assert bench["outside"] == ["p-2"]
    assert bench["proved"] is False
