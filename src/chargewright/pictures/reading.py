"""A reading as a distribution against its limits."""

from __future__ import annotations

from chargewright.meters.uncertainty import Spread
from chargewright.meters.verdict import Verdict
from chargewright.pictures.ink import Theme, ink_of
from chargewright.pictures.svg import TEXT, WIDTH, Size, document, paragraph
from chargewright.pictures.words import ENGLISH, Words


def reading_picture(
    verdict: Verdict,
    *,
    unit: str,
    spread: Spread | None = None,
    title: str = "",
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    name: str = "reading",
) -> str:
    """Return a reading's distribution with the share within the limits shaded, as SVG text.

    ``spread`` is the reading's error (``meters.verdict.reading_spread``); without it a normal
    error of the verdict's standard uncertainty is drawn. ``unit`` as on the display.
    """
    ink = ink_of(theme)
    about = f"{title} {verdict.value:g} {unit}, {verdict.outcome}"
    lines, below = paragraph((12.0, 24.0), about, WIDTH[size] - 24.0, fill=ink.ink, size=TEXT)
    return document(
        lines, width=WIDTH[size], height=below, title=title, about=about, ink=ink, name=name
    )
