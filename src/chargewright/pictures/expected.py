"""What a check would read under each leading cause, with the reading dropped in."""

from __future__ import annotations

from collections.abc import Sequence

from chargewright.diagnosis.expected import Band
from chargewright.machine.points import Function
from chargewright.pictures.ink import Theme, ink_of
from chargewright.pictures.svg import TEXT, WIDTH, Size, document, paragraph
from chargewright.pictures.words import ENGLISH, Words


def expected_picture(
    bands: Sequence[Band],
    *,
    function: Function,
    reading: float | None = None,
    reach: float = 0.0,
    overload: bool = False,
    title: str = "",
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    name: str = "expected",
) -> str:
    """Return one band per cause on a common axis, as SVG text.

    ``reading`` [unit of ``function``] is drawn across all bands, +- ``reach``; ``overload``
    says that the meter showed OL. For a look the bands are the chance of the sign.
    """
    ink = ink_of(theme)
    about = f"{title}: {', '.join(band.title for band in bands)}"
    lines, below = paragraph((12.0, 24.0), about, WIDTH[size] - 24.0, fill=ink.ink, size=TEXT)
    return document(
        lines, width=WIDTH[size], height=below, title=title, about=about, ink=ink, name=name
    )
