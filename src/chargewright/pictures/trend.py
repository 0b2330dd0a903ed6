"""The same check on one machine over the years."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from chargewright.pictures.ink import Theme, ink_of
from chargewright.pictures.svg import TEXT, WIDTH, Size, document, paragraph
from chargewright.pictures.words import ENGLISH, Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One reading of the past: value and half its 95 % interval in the axis's unit.

    ``after_repair`` marks a proof; ``overload`` a reading beyond the meter's range.
    """

    at: datetime
    value: float | None
    half_width: float = 0.0
    after_repair: bool = False
    overload: bool = False


def trend_picture(
    moments: Sequence[Moment],
    *,
    unit: str,
    low: float | None = None,
    high: float | None = None,
    title: str = "",
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    name: str = "trend",
) -> str:
    """Return the readings over time with the limit band, as SVG text."""
    ink = ink_of(theme)
    about = f"{title}: {len(moments)} readings"
    lines, below = paragraph((12.0, 24.0), about, WIDTH[size] - 24.0, fill=ink.ink, size=TEXT)
    return document(
        lines, width=WIDTH[size], height=below, title=title, about=about, ink=ink, name=name
    )
