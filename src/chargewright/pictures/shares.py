"""Causes with their shares, before and after a reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from chargewright.pictures.fit import LINE, wrapped
from chargewright.pictures.ink import Ink, Theme, ink_of
from chargewright.pictures.svg import (
    TEXT,
    WIDTH,
    Size,
    document,
    label,
    paragraph,
    polyline,
    tag,
)
from chargewright.pictures.words import ENGLISH, Words, percent, say

MARGIN, BAR, FIGURES = 16.0, 16.0, 92.0


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
    ink, width = ink_of(theme), WIDTH[size]
    body: list[str] = []
    y = 24.0
    if title:
        body, y = paragraph((MARGIN, y), title, width - 2 * MARGIN, fill=ink.ink, bold=True)
        y += 2.0
    for share in shares:
        made, y = _row(share, y, width, ink)
        body += made
    foot, height = _legend(shares, y + 6.0, ink, words)
    about = " ".join(f"{_told(share, words)}." for share in shares)
    return document(
        [*body, *foot],
        width=width,
        height=height,
        title=title or say(words, "shares.title"),
        about=about,
        ink=ink,
        name=name,
    )


def _row(share: Share, y: float, width: float, ink: Ink) -> tuple[list[str], float]:
    """Return a cause's name, its bar, the mark of before and the figure."""
    made = []
    for line in wrapped(share.title, TEXT, width - 2 * MARGIN):
        made.append(label((MARGIN, y), line, fill=ink.ink))
        y += TEXT * LINE
    top = y - 9.0
    room = width - 2 * MARGIN - FIGURES
    full = room * min(max(share.now, 0.0), 1.0)
    made.append(
        tag(
            "rect",
            x=MARGIN,
            y=top,
            width=room,
            height=BAR,
            fill="none",
            stroke=ink.grid,
            stroke_width=1.2,
        )
    )
    made.append(
        tag(
            "rect",
            x=MARGIN,
            y=top,
            width=max(full, 1.5),
            height=BAR,
            fill=ink.first,
            data_role="share",
        )
    )
    if share.before is not None:
        x = MARGIN + room * min(max(share.before, 0.0), 1.0)
        ends = [(x, top - 4.0), (x, top + BAR + 4.0)]
        made.append(polyline(ends, stroke=ink.paper, stroke_width=5.5))
        made.append(
            polyline(
                ends, stroke=ink.ink, stroke_width=2.6, stroke_dasharray="1 5", data_role="before"
            )
        )
    made.append(
        label(
            (width - MARGIN, top + 13.0), percent(share.now), fill=ink.ink, bold=True, anchor="end"
        )
    )
    return made, top + BAR + 26.0


def _told(share: Share, words: Words) -> str:
    now = percent(share.now)
    if share.before is None:
        return say(words, "shares.one", title=share.title, now=now)
    before = percent(share.before)
    return say(words, "shares.moved", title=share.title, now=now, before=before)


def _legend(shares: Sequence[Share], y: float, ink: Ink, words: Words) -> tuple[list[str], float]:
    if not any(share.before is not None for share in shares):
        return [], y - 6.0
    made = [
        tag("rect", x=MARGIN, y=y - 11.0, width=20, height=12, fill=ink.first),
        label((MARGIN + 28.0, y), say(words, "shares.now"), fill=ink.soft, size=TEXT - 1.0),
    ]
    ends = [(MARGIN + 84.0, y - 13.0), (MARGIN + 84.0, y + 3.0)]
    made.append(polyline(ends, stroke=ink.ink, stroke_width=2.6, stroke_dasharray="1 5"))
    made.append(
        label((MARGIN + 96.0, y), say(words, "shares.before"), fill=ink.soft, size=TEXT - 1.0)
    )
    return made, y + 14.0
