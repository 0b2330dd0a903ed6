"""A job in German on a phone: a check, a refusal, a reading, a report, and no English on any."""

from __future__ import annotations

import json

import httpx
import pytest
from browser.conftest import EXAMPLES, Open
from browser.hands import likely, type_reading
from browser.house import House
from playwright.sync_api import Page
from texts.english import english_in

from chargewright.texts.catalogue import section

ENGLISH, GERMAN = section("en", "app"), section("de", "app")
# sentences that the pages would show in English
SENTENCES = {text for key, text in ENGLISH.items() if GERMAN[key] != text and len(text.split()) > 2}
SPOKEN = """() => { document.querySelectorAll("details").forEach((one) => { one.open = true; });
 const named = [...document.querySelectorAll("[aria-label],[placeholder],[alt]")]
  .flatMap((one) => ["aria-label", "placeholder", "alt"].map((name) => one.getAttribute(name)));
 const drawn = [...document.querySelectorAll("svg text")].map((one) => one.textContent);
 return [document.body.innerText, ...named.filter(Boolean), ...drawn].join("\\n"); }"""


@pytest.fixture(scope="session")
def house(rough_house: House) -> House:
    """What is seen here does not depend on how good the diagnosis is."""
    return rough_house


def left(text: str, own: list[str]) -> list[str]:
    """Return the lines that are English and were not typed by somebody."""
    for one in own:
        text = text.replace(one, "")
    lines = [line.strip() for line in text.splitlines()]
    return [line for line in lines if english_in(line) or line in SENTENCES]


def seen(page: Page, own: list[str]) -> list[str]:
    page.wait_for_function("!document.querySelector('[aria-busy=true]')")
    text: str = page.evaluate(SPOKEN)
    assert len(text) > 100
    return left(text, own)


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_a_german_job_shows_no_english(house: House, open_page: Open) -> None:
    card = json.loads((EXAMPLES / "open-job.json").read_text(encoding="utf-8"))
    own = [card["title"], card["machine"]["label"], card["complaint"]["text"], card["notes"]]
    own = sorted(filter(None, own), key=len, reverse=True)
    job = house.bring(EXAMPLES / "open-job.json", "german-1")
    page = open_page("settings")
    page.click("[data-value=de]")
    page.wait_for_selector("h1:has-text('Dieses Telefon')")
    assert seen(page, own) == []
    for tab in ("", "/causes", "/readings", "/plan", "/card"):
        page.goto(f"{house.url}/#/job/{job}{tab}")
        page.wait_for_selector("main section")
        assert seen(page, own) == [], tab
    # ohms across a battery: dangerous, refused with its reason, and kept until answered
    page.goto(f"{house.url}/#/job/{job}/own")
    page.wait_for_selector("form select")
    for place, value in enumerate(("ohm", "battery_pos", "battery_neg")):
        page.select_option(f"form select >> nth={place}", value)
    page.click("form > button.main")
    page.wait_for_selector("#pad")
    page.click('#pad [data-key="2"]')
    page.click("#pad-enter")
    page.wait_for_selector("text=Minuskabel abnehmen")
    page.goto(f"{house.url}/#/unsent")
    page.wait_for_selector("text=Minuskabel abnehmen")
    assert seen(page, own) == []
    page.click("text=Verwerfen")
    page.goto(f"{house.url}/#/job/{job}")
    step = house.step(job)
    page.wait_for_selector("#step-title")
    type_reading(page, likely(step))
    house.until(job, lambda now: len(now["readings"]) > len(card["readings"]))
    page.wait_for_selector("section.result")
    assert seen(page, own) == []
    # the report, in the language of the phone, at the address that the page gives it
    page.goto(f"{house.url}/#/job/{job}/card")
    link = page.get_attribute("a:has-text('Technisch, Seite')", "href")
    assert link is not None
    assert "language=de" in link
    made = httpx.get(f"{house.url}{link}", timeout=400.0)
    assert made.status_code == 200
    page.goto("about:blank")  # no policy of ours: the page's own style may stand
    page.set_content(made.text)
    assert page.evaluate("document.documentElement.lang") == "de"
    assert "Technischer Bericht" in page.inner_text("h1")
    assert left(page.evaluate(SPOKEN), own) == []
