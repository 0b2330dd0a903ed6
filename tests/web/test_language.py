"""The service answers in the language of who asks (RFC 9110, 12.5.4), data stay as they are."""

from __future__ import annotations

import httpx
import pytest
from texts.english import english_in
from web.service import begun, error_of

GERMAN = {"Accept-Language": "de-CH, de;q=0.9, en;q=0.5"}
REFUSED = (
    ("POST", "/jobs", {"label": "x"}),
    ("POST", "/jobs", {"class": "atv", "batery": {}}),
    ("POST", "/jobs", {"class": "avt"}),
    ("POST", "/jobs", {"class": "atv", "battery": {"capacity_ah": "much"}}),
    ("POST", "/jobs", {"class": "atv", "spec": {"stator_ohm": "x"}}),
    ("GET", "/jobs/none-such", None),
    ("GET", "/nowhere", None),
    ("DELETE", "/complaints", None),
    ("POST", "/jobs/{job}/readings", {"id": "a", "check": "rest_v", "text": "12,3,4"}),
    ("POST", "/jobs/{job}/readings", {"id": "a", "check": "rest_v", "text": "12 kohm"}),
    ("POST", "/jobs/{job}/readings", {"id": "a", "check": "rest", "text": "12.4"}),
    ("POST", "/jobs/{job}/readings", {"id": "a", "check": "look_plug", "text": "12.4"}),
    ("POST", "/jobs/{job}/repairs", {"at": "2026-08-01T08:30:00Z"}),
    ("POST", "/jobs/{job}/opened", {"covers": ["roof"]}),
    ("PUT", "/jobs/{job}/confirmed-cause", {"cause": "gremlins"}),
    ("PATCH", "/jobs/{job}/readings/r9", {"excluded": "x"}),
    ("GET", "/jobs/{job}/photos/p9", None),
    ("PUT", "/sheets/own", {"document": {"class": "atv"}, "seen": 0}),
    ("PUT", "/meters/trms-6000", {"document": {}, "seen": 0}),
    ("PUT", "/loads/own", {"document": {"lamps": []}, "seen": 0}),
    ("GET", "/pair", None),
    ("POST", "/energy/battery", {"chemistry": "agm", "volts": 40.0}),
    ("POST", "/energy/charge", {"chemistry": "agm", "ah": 10, "charger_a": 900}),
    ("POST", "/energy/drain", {"shown_ma": -3}),
    ("POST", "/simulate", {"class": "atv", "cause": "gremlins"}),
    ("POST", "/simulate", {"class": "atv", "rpm": 30}),
    ("POST", "/simulate", {}),
)


@pytest.mark.parametrize(("method", "path", "body"), REFUSED)
def test_a_refusal_speaks_german_to_a_german_phone(
    client: httpx.Client, method: str, path: str, body: object
) -> None:
    job = begun(client)
    answers = [
        client.request(method, path.format(job=job), json=body, headers=headers)
        for headers in (GERMAN, {})
    ]
    german, english = [answer.json()["error"] for answer in answers]
    assert german["code"] == english["code"]
    assert german["message"] != english["message"]
    told = german["message"].split("bekannt:")[0]  # what follows are names of the interface
    assert english_in(told) == [], german["message"]
    assert answers[0].headers["content-language"] == "de"
    assert "Accept-Language" in answers[0].headers["vary"]


def test_a_dangerous_reading_is_refused_with_its_reason_in_german(client: httpx.Client) -> None:
    job = begun(client)
    sent = {
        "id": "own-1",
        "function": "ohm",
        "plus": "battery_pos",
        "minus": "battery_neg",
        "text": "0,2",
    }
    path = f"/jobs/{job}/readings"
    error = error_of(client.post(path, json=sent, headers=GERMAN), 422, "unsafe")
    assert "Minuskabel abnehmen" in error["message"]
    assert english_in(error["message"]) == []


def test_a_language_nobody_wrote_gets_english(client: httpx.Client) -> None:
    answer = client.get("/jobs/none-such", headers={"Accept-Language": "fr"})
    assert answer.json() == client.get("/jobs/none-such").json()


def test_a_report_comes_in_the_language_asked_for(client: httpx.Client) -> None:
    job = begun(client)
    path = f"/jobs/{job}/report.html"
    assert "Charging system report" in client.get(path).text
    assert "Prüfbericht Ladesystem" in client.get(path, params={"language": "de"}).text
    error_of(client.get(path, params={"language": "xx"}), 422, "input")


def test_every_language_has_its_texts_and_its_manifest(client: httpx.Client) -> None:
    base = str(client.base_url).split("/api/")[0]
    english = httpx.get(f"{base}/app/texts/en.json").json()
    for code in english["languages"]:
        texts = httpx.get(f"{base}/app/texts/{code}.json").json()
        assert set(texts["app"]) == set(english["app"])
        manifest = httpx.get(f"{base}/app/texts/{code}.webmanifest").json()
        assert manifest["lang"] == code
        assert manifest["description"] == texts["app"]["app.about"]
