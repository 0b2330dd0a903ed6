"""The list, the head of a card with its conflicts, cards in and out, photos, own papers."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import httpx
from web.service import ATV, begun, error_of, rest

from chargewright.jobs.codec import canonical_json, card_from_dict, card_from_json
from chargewright.jobs.files import load_card

ROOT = Path(__file__).parents[2]
PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 64


def test_beginning_the_same_job_twice_makes_one(client: httpx.Client) -> None:
    new = {**ATV, "id": "p7f3k2", "label": "only once"}
    assert client.post("/jobs", json=new).status_code == 201
    assert client.post("/jobs", json=new).status_code == 200
    error_of(client.post("/jobs", json={**new, "title": "other"}), 409, "conflict")
    found = client.get("/jobs", params={"search": "only once"}).json()
    assert [line["id"] for line in found["jobs"]] == ["p7f3k2"]


def test_what_a_new_job_needs_is_said(client: httpx.Client) -> None:
    error_of(client.post("/jobs", json={}), 422, "input")
    near = error_of(client.post("/jobs", json={"class": "atvv"}), 422, "input")
    assert "'atv'" in near["message"]
    wrong = client.post("/jobs", json={**ATV, "meter": {"card": "trms-600"}})
    assert "trms-6000" in error_of(wrong, 422, "input")["message"]
    error_of(client.post("/jobs", content=b"{", headers=JSON), 400, "bad_request")
    error_of(
        client.post("/jobs", content=b'{"class": "atv", "ambient_c": NaN}', headers=JSON),
        422,
        "input",
    )


JSON = {"Content-Type": "application/json"}


def test_two_people_change_the_head(client: httpx.Client) -> None:
    job = begun(client, title="first")
    change = {"title": {"was": "first", "now": "second"}}
    assert client.patch(f"/jobs/{job}", json=change).json()["changed"] is True
    assert client.patch(f"/jobs/{job}", json=change).json()["changed"] is False
    mine = {"title": {"was": "first", "now": "third"}}
    error = error_of(client.patch(f"/jobs/{job}", json=mine), 409, "conflict")
    assert (error["yours"], error["here"]) == ("third", "second")
    label = {"label": {"was": "green 7", "now": "green 8"}, "notes": {"was": "", "now": "drip"}}
    client.patch(f"/jobs/{job}", json=label)
    card = client.get(f"/jobs/{job}").json()["card"]
    assert (card["machine"]["label"], card["notes"]) == ("green 8", "drip")


def test_a_card_goes_in_and_out_without_loss(client: httpx.Client) -> None:
    card = load_card(ROOT / "examples" / "demo-job.json")
    text = (ROOT / "examples" / "demo-job.json").read_text("utf-8")
    assert client.post("/jobs/import", content=text, headers=JSON).status_code == 201
    back = card_from_json(client.get(f"/jobs/{card.id}/card").text)
    assert canonical_json(back.changed(decision=None)) == canonical_json(
        card.changed(decision=None)
    )
    rows = list(csv.DictReader(io.StringIO(client.get(f"/jobs/{card.id}/readings.csv").text)))
    assert [row["id"] for row in rows] == [reading.id for reading in card.readings]
    other = card_from_dict(client.get(f"/jobs/{card.id}").json()["card"]).changed(title="other")
    differs = canonical_json(other)
    error_of(client.post("/jobs/import", content=differs, headers=JSON), 409, "conflict")


def test_no_cell_is_a_formula(client: httpx.Client) -> None:
    job = begun(client)
    client.post(f"/jobs/{job}/readings", json=rest("p-1", note="=1+1"))
    assert "'=1+1" in client.get(f"/jobs/{job}/readings.csv").text


def test_a_job_is_removed_only_as_it_was_seen(client: httpx.Client) -> None:
    job = begun(client)
    client.post(f"/jobs/{job}/readings", json=rest("p-1"))
    error_of(client.delete(f"/jobs/{job}", params={"revision": 1}), 409, "conflict")
    assert client.delete(f"/jobs/{job}", params={"revision": 2}).status_code == 204
    error_of(client.get(f"/jobs/{job}"), 404, "not_found")


def test_photos_are_told_by_their_bytes(client: httpx.Client) -> None:
    job = begun(client)
    path = f"/jobs/{job}/photos/ph-1"
    assert client.put(path, content=PNG, params={"note": "plug, brown"}).status_code == 201
    assert client.put(path, content=PNG).status_code == 200
    error_of(client.put(path, content=PNG + b"1"), 409, "conflict")
    error_of(client.put(f"/jobs/{job}/photos/ph-2", content=b"<svg onload=x>"), 422, "input")
    big = client.put(f"/jobs/{job}/photos/ph-3", content=PNG + b"0" * 8_000_001)
    error_of(big, 413, "too_large")
    assert [one["note"] for one in client.get(f"/jobs/{job}/photos").json()] == ["plug, brown"]
    sent = client.get(path)
    assert (sent.content, sent.headers["content-type"]) == (PNG, "image/png")
    assert sent.headers["x-content-type-options"] == "nosniff"
    assert client.delete(path).status_code == 204
    error_of(client.get(path), 404, "not_found")


def test_a_body_without_end_is_cut_off(client: httpx.Client) -> None:
    """Its length is not told beforehand, so that it has to be counted."""

    def chunks() -> Iterator[bytes]:
        for _ in range(8):
            yield b" " * 65536

    error_of(client.post("/jobs", content=chunks(), headers=JSON), 413, "too_large")


def test_own_meter_and_sheet_are_copied_into_the_job(client: httpx.Client) -> None:
    meter = client.get("/meters/trms-6000").json()["document"]
    meter |= {"id": "my-meter", "title": "the red one"}
    kept = client.put("/meters/my-meter", json={"document": meter})
    assert (kept.status_code, kept.json()["revision"]) == (200, 1)
    sheet = {
        "title": "1998 quad",
        "class": "atv",
        "spec": {"regulated_v": [13.8, 14.6], "regulated_rpm": 5000},
    }
    assert client.put("/sheets/quad", json={"document": sheet}).status_code == 200
    job = client.post("/jobs", json={"sheet": "quad", "meter": {"card": "my-meter"}}).json()
    assert job["card"]["machine"]["spec"]["regulated_v"] == [13.8, 14.6]
    assert job["meter"]["title"] == "the red one"
    error = error_of(
        client.put("/meters/my-meter", json={"document": {**meter, "title": "x"}}), 409, "conflict"
    )
    assert error["here"]["title"] == "the red one"
    bad = {**meter, "functions": {}}
    error_of(client.put("/meters/bad", json={"document": bad}), 422, "input")
    error_of(client.put("/sheets/bad", json={"document": {**sheet, "class": "x"}}), 422, "input")


def test_own_prices_change_the_plan_and_go_again(client: httpx.Client) -> None:
    before = client.get("/prices").json()
    assert before["own"] is False
    document = {**before["document"], "labour_per_hour": 33.0}
    assert client.put("/prices", json={"document": document}).json()["own"] is True
    assert client.get("/prices").json()["document"]["labour_per_hour"] == 33.0
    error_of(client.put("/prices", json={"document": {"labour": 1}, "seen": 1}), 422, "input")
    assert client.delete("/prices").status_code == 204
    assert client.get("/prices").json() == before


def test_a_machine_is_followed_over_its_jobs(client: httpx.Client) -> None:
    for number, text in enumerate(("12.7", "12.2")):
        job = begun(client, label="old blue 3")
        reading = {"id": f"h-{number}", "check": "rest_v", "text": text}
        assert client.post(f"/jobs/{job}/readings", json=reading).status_code == 201
    assert client.get("/machines", params={"search": "OLD BLUE"}).json()[0]["jobs"] == 2
    (track,) = client.get("/history", params={"machine": "Old Blue 3"}).json()
    assert [one["value"] for one in track["readings"]] == [12.7, 12.2]
    assert track["title"] != track["check"]


def test_energy_questions_have_the_fields_of_the_commands(client: httpx.Client) -> None:
    for name, body in (
        ("battery", {"chemistry": "agm", "ah": 10, "rested": 12.4, "rest_hours": 8}),
        ("charge", {"chemistry": "agm", "ah": 10}),
        ("storage", {"machine": "atv", "chemistry": "agm", "ah": 10}),
        ("drain", {"shown_ma": 4.2, "fuses": ["clock=0.3", "alarm=0.7"]}),
        ("choose-battery", {"machine": "atv", "coldest": -10}),
    ):
        answer = client.post(f"/energy/{name}", json=body)
        assert answer.status_code == 200, (name, answer.text)
    error_of(client.post("/energy/charge", json={"amps": 1}), 422, "input")
    error_of(client.post("/energy/drain", json={"shown_ma": 4, "fuses": ["a=b"]}), 422, "input")
