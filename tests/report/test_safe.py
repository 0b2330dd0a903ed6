"""Hostile text on a card is shown as text in every form, and never runs."""

from __future__ import annotations

import json
from dataclasses import replace
from html.parser import HTMLParser

import pytest
import typst
from hypothesis import given, settings
from hypothesis import strategies as st
from report.scenes import MADE, card, job_of

from chargewright import open_job
from chargewright.pictures.png import bundled_fonts
from chargewright.report.customer import customer_report
from chargewright.report.html import html_text
from chargewright.report.pdf import pdf_bytes, png_pages, report_data
from chargewright.report.safe import BREAK, LONG_WORD, TURNING, covered, printable, readable
from chargewright.report.workshop import workshop_report

HOSTILE = [
    "<script>alert(1)</script><img src=x onerror=alert(1)>",
    "</title></style><iframe src=//host></iframe>",
    '#panic("run") #eval("1") #read("/etc/hostname") #include "x.typ"',
    "*bold* _it_ $x^2$ = heading \\ `raw` @ref <label> // comment /* x */",
    "]} #{ [ ( \" ' ; --> ]]> &amp; &#x41;",
    "{braces} {0} {x.__class__} %s %(x)s",
    "W" * 200,
    "\N{GRINNING FACE} \N{PILE OF POO}\N{ZERO WIDTH JOINER}\N{WOMAN}",
    "\N{HEBREW LETTER ALEF}\N{HEBREW LETTER BET} \N{ARABIC LETTER BEH}\N{ARABIC LETTER ALEF}",
    "good \u202edoog\u202c \u2066x\u2069 \u200f",
    "日本語の苦情",
    "nul \x00 esc \x1b[31m bell \x07 del \x7f \x85",
    "line one\nline two\r\nline three\rfour\u2028five",
    "\ufffe\uffff\ue000\U000e0041\ufeff",
]
anything = st.text(max_size=200) | st.lists(st.sampled_from(HOSTILE), max_size=3).map(" ".join)


class Tags(HTMLParser):
    """Counts tags and keeps the text between them."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.names: set[str] = set()
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.names |= {name for name, _ in attrs}

    def handle_data(self, data: str) -> None:
        self.text += data


def parsed(html: str) -> Tags:
    tags = Tags()
    tags.feed(html)
    return tags


@given(text=anything)
def test_a_pdf_text_holds_only_what_its_fonts_have(text: str) -> None:
    shown = printable(text)
    assert all(covered(sign) for sign in shown)
    assert not TURNING & set(shown)
    assert max(map(len, shown.replace(BREAK, " ").split()), default=0) < LONG_WORD


@given(text=st.text(alphabet=st.characters(max_codepoint=0x17F, exclude_categories=("C",))))
def test_plain_text_stays_as_it_is(text: str) -> None:
    assert readable(text) == text
    assert printable(text).replace(BREAK, "") == text


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_everywhere_makes_a_pdf_of_as_many_pages(text: str) -> None:
    """Typst code would stop the run or vanish; it does neither. UA-1 refuses a missing glyph."""
    customer, workshop = documents(text)
    for document in (customer, workshop):
        assert pdf_bytes(document, made=MADE).startswith(b"%PDF")
    assert len(png_pages(customer, ppi=20.0)) == 1
    told = json.dumps(report_data(workshop, "a4")["blocks"]).replace(json.dumps(BREAK)[1:-1], "")
    kept = "".join(sign for sign in text if sign in "\n\r" or (sign >= " " and sign != "\x7f"))
    first = printable(" ".join(kept.split()))[:60].replace(BREAK, "")
    assert json.dumps(first)[1:-1] in told


@settings(max_examples=25)
@given(text=anything)
def test_any_text_makes_a_pdf(text: str) -> None:
    job, found = job_of("empty")
    document = replace(
        customer_report(job, found, made=MADE), title=f"Report {text}", subtitle=text, notice=text,
        foot=text,
    )  # fmt: skip
    assert pdf_bytes(document, made=MADE).startswith(b"%PDF")


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_adds_no_tag_to_the_page(text: str) -> None:
    for document, harmless in zip(documents(text), documents("x"), strict=True):
        page, usual = parsed(html_text(document)), parsed(html_text(harmless))
        assert set(page.tags) <= {*usual.tags, "bdi"}
        assert not {"script", "iframe", "img", "link", "object"} & set(page.tags)
        assert not {name for name in page.names if name.startswith("on") or name == "href"}
        assert [t for t in page.tags if t != "bdi"] == [t for t in usual.tags if t != "bdi"]


def test_text_comes_through_the_page_unchanged() -> None:
    text = HOSTILE[0] + HOSTILE[3] + HOSTILE[5]
    assert text in parsed(html_text(documents(text)[0])).text


def documents(text: str):  # noqa: ANN201
    """Return both reports of a job with ``text`` wherever a card can hold it."""
    line = "".join(sign for sign in text if sign >= " " and sign != "\x7f")[:200]
    long = "".join(sign for sign in text if sign in "\n\r\t" or (sign >= " " and sign != "\x7f"))
    job, found = job_of("proved")
    base = card(
        title=line or "-",
        machine={"class": "sport-600-1000", "label": line},
        complaint={"kind": "battery_goes_flat", "text": long},
        notes=long,
        repairs=[{"repair": "repair_plug", "note": long}],
        done=[{"act": "charge_battery", "note": long}],
    )
    hostile = open_job(base)
    hostile.card = hostile.card.changed(readings=job.card.readings)
    hostile.case = job.case
    return (
        customer_report(hostile, found, made=MADE),
        workshop_report(hostile, found, made=MADE),
    )


@settings(max_examples=30, deadline=None)
@given(sign=st.characters(min_codepoint=0x20, max_codepoint=0xFFFF, exclude_categories=("Cs",)))
def test_the_list_of_covered_signs_is_that_of_the_fonts(sign: str) -> None:
    """Against the typesetter itself, which refuses a sign its fonts lack under PDF/UA-1."""
    source = b'#set document(title: "x")\n#set text(lang: "en", font: "Noto Sans")\n#sys.inputs.t'
    try:
        typst.compile(
            source, format="pdf", pdf_standards="ua-1", font_paths=bundled_fonts(),
            sys_inputs={"t": sign},
        )  # fmt: skip
        shows = True
    except typst.TypstError as error:
        shows = "could not be displayed" not in error.message
    if covered(sign):
        assert shows
