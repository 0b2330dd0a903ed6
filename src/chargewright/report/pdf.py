"""A report on paper: a fixed template and the report's text as data, set by typst.

No text becomes part of the template, so none can run. PDF/UA-1: tagged, every picture with words.
"""

from __future__ import annotations

import dataclasses
import json
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from chargewright.pictures.png import bundled_fonts
from chargewright.report.document import Document
from chargewright.report.safe import printable
from chargewright.report.say import say

Paper = Literal["a4", "us-letter"]
SCALES = (1.0, 0.93, 0.86, 0.8, 0.74, 0.68)  # of the letters, until one page holds it all
ROUGH = 4.0  # pixels per inch, enough to count pages
ATTACH = (
    b'\n#pdf.attach("export.json", relationship: "source", mime-type: "application/json", '
    b"description: doc.attachment_words)\n"
)
KEPT_AS_IS = frozenset({"svg", "kind", "tone", "language", "paper"})


def pdf_bytes(
    document: Document, *, made: datetime, paper: Paper = "a4", attachment: bytes | None = None
) -> bytes:
    """Return a report as PDF/UA-1; the same input gives the same bytes.

    ``attachment`` (JSON) travels inside the file as ``export.json``.
    """
    import typst

    result = typst.compile(
        _inputs(document, paper, attachment),
        format="pdf",
        pdf_standards="ua-1",
        font_paths=bundled_fonts(),
        timestamp=made.astimezone(UTC),
    )
    assert isinstance(result, bytes)
    return result


def png_pages(document: Document, *, ppi: float = 110.0, paper: Paper = "a4") -> list[bytes]:
    """Return the pages as PNG, for looking at."""
    return _pages(_inputs(document, paper, None), ppi=ppi)


def _inputs(document: Document, paper: Paper, attachment: bytes | None) -> dict[str, bytes]:
    data = report_data(document, paper)
    inputs = {"main": _template(), "report.json": _json(data)}
    if document.one_page:
        for scale in SCALES:
            inputs["report.json"] = _json(data | {"scale": scale})
            if len(_pages(inputs, ppi=ROUGH)) == 1:
                break
    if attachment is not None:
        inputs["main"] += ATTACH
        inputs["export.json"] = attachment
    return inputs


def _json(data: dict[str, Any]) -> bytes:
    return json.dumps(data).encode("ascii")


def _pages(inputs: dict[str, bytes], *, ppi: float) -> list[bytes]:
    import typst

    result: Any = typst.compile(inputs, format="png", ppi=ppi, font_paths=bundled_fonts())
    return list(result) if isinstance(result, list) else [result]


@cache
def _template() -> bytes:
    return files("chargewright.report").joinpath("data", "report.typ").read_bytes()


def report_data(document: Document, paper: Paper) -> dict[str, Any]:
    """Return a document as the template's data, every text fit for the fonts."""
    page, of = say("page {number} of {total}", number="\0", total="\0").split("\0")[:2]
    data = {field.name: getattr(document, field.name) for field in dataclasses.fields(document)}
    data["blocks"] = [
        {"kind": type(block).__name__.lower(), **dataclasses.asdict(block)}
        for block in document.blocks
    ]
    words = {"page_words": [page, of], "attachment_words": say("job card and assessment as JSON")}
    return {"paper": paper, "scale": 1.0, **_printable({**data, **words})}


def _printable(value: Any, name: str = "") -> Any:  # noqa: ANN401 - JSON-like data
    if isinstance(value, str):
        return str(value) if name in KEPT_AS_IS else printable(value)
    if isinstance(value, dict):
        return {key: _printable(item, key) for key, item in value.items() if key != "css"}
    if isinstance(value, list | tuple):
        return [_printable(item, name) for item in value]
    return value
