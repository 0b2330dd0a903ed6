"""Every text the program can show has its words in every language, read out of code and data.

Whoever adds a check, a cause, a refusal or a sentence of a report without them fails here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import ClassVar

import pytest
from pydantic import TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass
from texts.english import english_in
from texts.wording import PLACE, raised, said_by_reports, told

from chargewright import Job, open_job
from chargewright.checks.load import kind_of, load_book
from chargewright.diagnosis.number_words import severity_text
from chargewright.energy.drain import drain_limit
from chargewright.errors import nearest
from chargewright.jobs.refusal import sentence
from chargewright.machine.cause_file import catalogue
from chargewright.machine.classes import class_ids
from chargewright.machine.points import Point
from chargewright.machine.prior import complaints
from chargewright.machine.sources import sources
from chargewright.pictures.words import ENGLISH as PICTURED
from chargewright.report.parts import PARTS
from chargewright.report.wording import CHEMISTRIES
from chargewright.texts.catalogue import english_titles, languages, section, shared_words
from chargewright.texts.speech import speech

OTHERS = [code for code in languages() if code != "en"]
BEFORE = re.compile(rf"^{PLACE}+ (?=[A-Z][a-z])")  # a sentence of its own before this one
# what is put together elsewhere, as it comes
COMPOSED = {
    f"no single wire joins {PLACE}": f"no single wire joins {PLACE} to {PLACE}",
    f"is a short circuit: from {PLACE}": f"is a short circuit: from {PLACE} to {PLACE}",
    f"It would show {PLACE}": f"It would show {PLACE} with {PLACE}; {PLACE} with {PLACE}",
    f"Expected with {PLACE}": f"Expected with {PLACE}: {PLACE}; with {PLACE}: {PLACE}",
    f"That makes {PLACE}": (
        f"That makes {PLACE} {PLACE} times likelier, {PLACE} {PLACE} times less likely"
    ),
}
FILLED = re.compile(r"\{(\w+)\}")
PHRASES = ("0.12 ohm", "about 0.45 ohm", "3.1 times")
# Parts of a text that are no text of their own: the whole is asked for with them in place.
JOINTS = {
    " (" + PLACE + " more)",
    " (and " + PLACE + " more)",
    "Input should be",
    "a valid boolean",
    "u " + " ".join([PLACE, PLACE, "instead of", PLACE, PLACE]) + ", " + PLACE,
    f"{PLACE} with {PLACE}",
    f"{PLACE} to {PLACE}",
    f"{PLACE} to {PLACE} {PLACE}{PLACE}",
    "; these limits are too narrow for this set-up to pass anything",
    "Which of its limits, from 0.",  # the interface's description
    f"{PLACE}, {PLACE} {PLACE}",
    f" of at least {PLACE}",
    f"; may you write to it, and to its folder {PLACE}?",
}
pytestmark = pytest.mark.parametrize("language", OTHERS)


def jobs() -> list[Job]:
    head = {"card_version": 1, "id": "x", "created": "2026-01-01T00:00:00Z"}
    return [open_job(head | {"machine": {"class": one}}) for one in class_ids()]


def left_english(language: str, texts: Iterable[str]) -> list[str]:
    """Return what a language leaves as it is, or says half in English."""
    say = speech(language).said
    return [text for text in texts if say(text) == text or english_in(say(text))]


def test_pictures_and_titles_are_there_and_none_is_left_over(language: str) -> None:
    assert set(section(language, "pictures")) == set(PICTURED)
    assert set(section(language, "titles")) == set(english_titles())


def test_every_test_point_has_a_name(language: str) -> None:
    for code in ("en", language):
        words = section(code, "app")
        assert {point.word for point in Point} <= {
            key.removeprefix("point.") for key in words if key.startswith("point.")
        }


def test_a_text_and_its_words_have_the_same_places_to_fill(language: str) -> None:
    for name in ("said", "report", "errors"):
        for english, words in section(language, name).items():
            assert words.strip(), english
            assert set(FILLED.findall(words)) <= set(FILLED.findall(english)), english
            count = english.removeprefix("A ").count("#")
            assert words.count("#") == count, english
    for key, words in section(language, "pictures").items():
        assert set(FILLED.findall(words)) == set(FILLED.findall(PICTURED[key])), key


def test_every_sentence_of_checks_and_causes_is_said(language: str) -> None:
    asked: set[str] = set()
    for job in jobs():
        asked |= {check.how for check in job.case.catalogue if check.how}
        asked |= set(job.case.book.cautions.values())
    for phrase in PHRASES:
        asked |= {one.words.replace("{value}", phrase) for one in catalogue().causes if one.words}
    asked |= {one.title for one in complaints().values()}
    for name in class_ids():
        access = load_book(kind_of(name)).effort.access
        asked |= {access.opening(one).title for one in access.ids}
    assert len(asked) > 200
    assert left_english(language, sorted(asked)) == []


def test_a_severity_is_said_with_its_span(language: str) -> None:
    for one in catalogue().causes:
        if one.words and "{value}" in one.words:
            spread = [one.words.replace("{value}", f"{x} ohm") for x in ("0.03", "0.09", "0.4")]
            text = speech(language).said(severity_text(spread))
            assert english_in(text) == [], text
            assert "0.0" not in text, text


def test_the_source_of_every_limit_is_said(language: str) -> None:
    keys = {limit.source for job in jobs() for limit in job.case.machine.limits}
    assert left_english(language, [sources()[key].text for key in sorted(keys)]) == []


def test_the_source_of_every_drain_limit_is_said_on_the_phone(language: str) -> None:
    texts = {drain_limit(job.case.machine)[1] for job in jobs()}
    assert {text for text in texts if text not in shared_words(language)} == set()


def test_every_text_of_a_report_is_in_the_catalogue(language: str) -> None:
    texts = {text for _, text in said_by_reports()}
    texts |= {text for key, value in PARTS.items() for text in (key, *value)}
    texts |= set(CHEMISTRIES.values())
    known = section(language, "report").keys() | section(language, "said").keys()
    assert len(texts) > 200
    assert {text for text in texts if text not in known} == set()


@pytest.mark.parametrize("texts", [raised, told], ids=["raised", "told"])
def test_every_refusal_and_advice_has_its_words(
    language: str, texts: Callable[[], Iterable[tuple[str, str]]]
) -> None:
    """A place holds a figure here or something quoted; both must leave no English behind."""
    found = {BEFORE.sub("", text) for _, text in texts()} - JOINTS
    for part, whole in COMPOSED.items():
        found = {text.replace(part, whole) for text in found}
    bare = []
    for text in sorted(found):
        filled = [text.replace(PLACE, one).strip() for one in ("12.5", "'qx'")]
        said = [speech(language).said(one) for one in filled]
        if all(a == b for a, b in zip(filled, said, strict=True)) or all(map(english_in, said)):
            bare.append((text.replace(PLACE, "{}"), said[0]))
    assert bare == []


def test_what_the_validator_finds_is_said(language: str) -> None:
    """Texts of the validator's own, as its findings come out of this program."""

    @dataclass
    class Form:
        number: float
        word: str
        wanted: bool

    say = speech(language).said
    for raw in (
        {"number": "x", "word": "a", "wanted": True},
        {"number": 1, "word": 7, "wanted": True},
        {"number": 1, "word": "a", "wanted": "perhaps"},
        {"word": "a", "wanted": True},
    ):
        with pytest.raises(ValidationError) as caught:
            TypeAdapter(Form).validate_python(raw)
        finding = caught.value.errors()[0]
        told = say(f"body: {finding['loc'][0]}: {sentence(finding, _Empty)} (and 2 more)")
        assert english_in(told.replace("body", "").replace("true or false", "")) == [], told
    for known in (["apple"], ["apple", "apply"], ["zebra"]):
        told = say(f"cause 'appl' is unknown; {nearest('appl', known)}")
        assert english_in(told) == [], told


class _Empty:
    model_fields: ClassVar[dict[str, object]] = {}


def test_what_somebody_typed_is_left_alone(language: str) -> None:
    told = speech(language).said("meter 'and about 1.5 to 2' is unknown")
    assert "'and about 1.5 to 2'" in told
