"""Reports in another language: wherever a job stands, no English is left in them."""

from __future__ import annotations

import re

import pytest
from report.scenes import MADE, job_of, texts_of
from report.test_outcomes import SCENES
from texts.english import english_in

from chargewright.errors import InputError
from chargewright.report.drawing import pictures_of
from chargewright.report.html import html_text
from chargewright.report.pdf import png_pages
from chargewright.report.say import spoken
from chargewright.report.written import report_bytes, report_document
from chargewright.texts.catalogue import languages

OTHERS = [code for code in languages() if code != "en"]
# what the card of these scenes says in its owner's words
OWN = (
    "Invented: battery goes flat",
    "Flat after three days.",
    "contacts renewed",
    "a second meter",
)


def without_own(text: str) -> str:
    for own in OWN:
        text = text.replace(own, "")
    return text


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("name", SCENES)
def test_no_english_is_left(name: str, language: str) -> None:
    job, found = job_of(name)
    with spoken(language):
        for reader in ("customer", "workshop"):
            document = report_document(job, found, reader, made=MADE)
            assert document.language == language
            left = {text: english_in(without_own(text)) for text in texts_of(document)}
            assert {text: words for text, words in left.items() if words} == {}


@pytest.mark.parametrize("language", OTHERS)
def test_pictures_speak_it_too(language: str) -> None:
    job, found = job_of("advised")
    with spoken(language):
        for picture in pictures_of(job, found):
            drawn = re.sub(r"<style.*?</style>|<[^>]*>", " ", picture.svg, flags=re.DOTALL)
            assert english_in(drawn) == []
            assert english_in(picture.alt) == []


def test_german_figures_have_a_comma_and_english_ones_a_point() -> None:
    job, found = job_of("proved")
    texts = {}
    for language in ("en", "de"):
        with spoken(language):
            told = texts_of(report_document(job, found, "workshop", made=MADE))
        texts[language] = " ".join(told)
    assert "12.31 V" in texts["en"]
    assert "12,31 V" in texts["de"]
    assert "12.31" not in texts["de"]


def test_the_page_says_its_language_and_fits_one_sheet() -> None:
    job, found = job_of("proved")
    with spoken("de"):
        document = report_document(job, found, "customer", made=MADE)
        assert '<html lang="de">' in html_text(document)
        assert len(png_pages(document, ppi=20.0)) == 1


def test_data_stay_as_programs_read_them_and_an_unknown_language_is_refused() -> None:
    job, found = job_of("advised")
    for ending in (".csv", ".json"):
        made = [
            report_bytes(job, found, ending, language=language, made=MADE)
            for language in ("en", "de")
        ]
        assert made[0] == made[1]
    with pytest.raises(InputError, match="language 'xx' is unknown"):
        report_bytes(job, found, ".pdf", language="xx", made=MADE)
