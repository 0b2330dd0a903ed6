"""The second catalogue: everything the service says about checks and causes, in German too.

Asked of the program's own data for every machine class, so that a new check, cause or caution
without its German words fails here. The app's own code puts the words together (in the browser).
"""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path

import pytest
from browser.conftest import Open
from browser.house import House
from chargewright.pictures.german import GERMAN

from chargewright import Job, open_job
from chargewright.machine.cause_file import catalogue
from chargewright.machine.classes import class_ids
from chargewright.machine.points import Point
from chargewright.meters.load import meter_ids
from chargewright.pictures.words import ENGLISH

TEXTS = Path(str(files("chargewright.web") / "app" / "texts"))
SAID = json.loads((TEXTS / "said" / "de.json").read_text(encoding="utf-8"))
OURS = json.loads((TEXTS / "de.json").read_text(encoding="utf-8"))
PHRASE = "0.12 ohm"
TITLED = {"check", "cause", "repair", "class", "meter"}


def jobs() -> list[Job]:
    head = {"card_version": 1, "id": "x", "created": "2026-01-01T00:00:00Z"}
    return [open_job(head | {"machine": {"class": one}}) for one in class_ids()]


def titles() -> set[str]:
    causes = catalogue().causes
    checks = {f"check.{check.id}" for job in jobs() for check in job.case.catalogue}
    return (
        checks
        | {f"cause.{one.id}" for one in causes}
        | {f"repair.{one.repair.id}" for one in causes}
        | {f"class.{one}" for one in class_ids()}
        | {f"meter.{one}" for one in meter_ids()}
    )


def sentences() -> set[str]:
    """Return all how-to, cautions, covers and severities, a figure in each place for one."""
    found: set[str] = set()
    for job in jobs():
        found |= {check.how for check in job.case.catalogue if check.how}
        found |= set(job.case.book.cautions.values())
    found |= {one.words.replace("{value}", PHRASE) for one in catalogue().causes if one.words}
    return found


def test_every_title_has_german_words_and_none_is_left_over() -> None:
    assert {key for key in SAID if key.split(".")[0] in TITLED and " " not in key} == titles()


def test_every_test_point_has_a_name_in_both_languages() -> None:
    english = json.loads((TEXTS / "en.json").read_text(encoding="utf-8"))
    for words in (english, OURS):
        assert {point.word for point in Point} <= {
            key.removeprefix("point.") for key in words if key.startswith("point.")
        }


def test_a_text_and_its_german_have_the_same_places_to_fill() -> None:
    for english, german in SAID.items():
        if " " in english:
            count = english.removeprefix("A ").count("#")
            assert german.count("#") == count, english
            assert set(re.findall(r"\{\w+\}", german)) == set(re.findall(r"\{\w+\}", english))


def test_the_pictures_speak_german_throughout() -> None:
    assert set(GERMAN) == set(ENGLISH)


@pytest.mark.slow
@pytest.mark.timeout(300)
def test_every_sentence_of_the_service_is_said_in_german(house: House, open_page: Open) -> None:
    page = open_page("menu")
    page.wait_for_selector("main")
    page.evaluate("localStorage.setItem('cw.settings', JSON.stringify({language: 'de'}))")
    page.reload()
    page.wait_for_selector("h1:has-text('Menü')")
    asked = sorted(sentences())
    answers = page.evaluate(
        "async (all) => { const { said } = await import('/app/core/i18n.js');"
        " return all.map((one) => said(one)); }",
        asked,
    )
    assert len(asked) > 180
    same = [one for one, german in zip(asked, answers, strict=True) if one == german]
    assert same == []
    half = [
        german
        for german in answers
        if "#" in german or "{" in german or any(w in german for w in (" the ", " and ", " with "))
    ]
    assert half == []
