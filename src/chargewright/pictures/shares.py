"""Causes with their shares, before and after a reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from chargewright.pictures.ink import Theme, ink_of
from chargewright.pictures.svg import TEXT, WIDTH, Size, document, paragraph
from chargewright.pictures.words import ENGLISH, Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A cause's probability now and, where known, before the reading; 0 to 1."""

    title: str
    now: float
    before: float | None = None


def shares_picture(
    shares: Sequence[Share],
    *,
    title: str = "",
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    name: str = "shares",
) -> str:
    """Return one bar per cause in the order given, with a mark where it stood before."""
    ink = ink_of(theme)
    about = ", ".join(f"{share.title} {share.now:.0%}" for share in shares)
    lines, below = paragraph((12.0, 24.0), about, WIDTH[size] - 24.0, fill=ink.ink, size=TEXT)
    return document(
        lines, width=WIDTH[size], height=below, title=title, about=about, ink=ink, name=name
    )
