"""The PDF as a file: PDF/UA, words for every picture, the same bytes again, the export inside."""

from __future__ import annotations

import re
import zlib

import pytest
from report.scenes import MADE, job_of

from chargewright.errors import InputError
from chargewright.report.comparison import comparison_picture, scale_of, ticks
from chargewright.report.document import Pictures
from chargewright.report.evidence import Compared, Zone, compared, zone_of
from chargewright.report.pdf import pdf_bytes
from chargewright.report.written import report_bytes, report_document

STREAM = re.compile(rb"stream\r?\n(.*?)\r?\nendstream", re.DOTALL)


def opened(pdf: bytes) -> bytes:
    """Return a PDF with its compressed streams behind it, unpacked."""
    parts = [pdf]
    for found in STREAM.findall(pdf):
        try:
            parts.append(zlib.decompress(found))
        except zlib.error:
            parts.append(found)
    return b"\n".join(parts)


@pytest.mark.parametrize("reader", ["customer", "workshop"])
def test_the_pdf_is_tagged_and_says_so(reader: str) -> None:
    job, found = job_of("proved")
    inside = opened(report_bytes(job, found, ".pdf", reader=reader, made=MADE))
    assert b"<pdfuaid:part>1</pdfuaid:part>" in inside
    assert b"/StructTreeRoot" in inside
    assert b"/Lang" in inside
    assert b"NotoSans" in inside


def test_every_picture_has_words_and_they_are_in_the_pdf() -> None:
    job, found = job_of("proved")
    document = report_document(job, found, "customer", made=MADE)
    pictures = [p for b in document.blocks if isinstance(b, Pictures) for p in b.pictures]
    assert len(pictures) == 2
    inside = opened(pdf_bytes(document, made=MADE))
    assert inside.count(b"/Alt") >= len(pictures)
    for picture in pictures:
        assert "before" in picture.alt
        assert "after" in picture.alt


def test_the_same_report_is_the_same_file() -> None:
    job, found = job_of("proved")
    first, second = (report_bytes(job, found, ".pdf", made=MADE) for _ in range(2))
    assert first == second


def test_the_workshops_pdf_carries_the_export() -> None:
    job, found = job_of("proved")
    pdf = report_bytes(job, found, ".pdf", reader="workshop", made=MADE)
    export = report_bytes(job, found, ".json", made=MADE)
    assert export in opened(pdf)
    assert b"report_format" not in opened(report_bytes(job, found, ".pdf", made=MADE))


def test_unknown_readers_and_endings_are_refused() -> None:
    job, found = job_of("empty")
    with pytest.raises(InputError, match="expected customer or workshop"):
        report_document(job, found, "press", made=MADE)
    with pytest.raises(InputError, match=r"expected \.pdf"):
        report_bytes(job, found, ".doc", made=MADE)


def test_the_scale_holds_readings_zone_and_round_figures() -> None:
    job, found = job_of("proved")
    pair = compared(job.case, found)[0]
    scale = scale_of((), Zone(13.5, 15.0, published=True))
    assert scale.low < 13.5 < 15.0 < scale.high
    assert ticks(scale_of((), Zone(1.0, 8.0, published=True))) == [0.0, 2.0, 4.0, 6.0, 8.0]
    assert pair.before is not None
    assert zone_of(found, pair.before) == Zone(None, 0.2, published=True)
    picture = comparison_picture(pair, title="drop", name="p")
    assert picture is not None
    assert "7.32 V" in picture.svg
    assert "var(--cw-" in picture.css
    assert "var(--cw-" not in picture.svg


def test_a_reading_beyond_the_meters_range_is_drawn_at_the_end() -> None:
    job, _ = job_of("proved")
    answer = job.case.answers[0]
    from dataclasses import replace

    from chargewright.meters.shown import Shown

    beyond = replace(answer, shown=Shown(kind="overload"))
    picture = comparison_picture(Compared(beyond, None, None), title="ohms", name="p")
    assert picture is not None
    assert "OL" in picture.svg
    assert "NaN" not in picture.svg
