"""The same check on one machine over the years."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from chargewright.pictures.axes import Scale, figure, left_axis, prefixed, spread_of
from chargewright.pictures.ink import Ink, Theme, ink_of
from chargewright.pictures.svg import (
    SMALL,
    TEXT,
    WIDTH,
    XY,
    Size,
    document,
    label,
    paragraph,
    polygon,
    polyline,
    tag,
)
from chargewright.pictures.words import ENGLISH, Words, say

MARGIN, LEFT, TALL = 16.0, 54.0, 170.0
LEAST_DAYS = 20.0  # a shorter history is not stretched over the whole width


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
    """Return the readings over time with the limit band, as SVG text.

    A round mark is a reading as found, a square one after a repair; upright strokes are its
    95 % interval; OL stands at the upper edge.
    """
    ink, width = ink_of(theme), WIDTH[size]
    body, y = _head(moments, title, ink, words, width)
    about = [
        say(words, "trend.one", date=f"{m.at:%Y-%m-%d}", value=_value(m, unit)) for m in moments
    ]
    known = sorted(
        (m for m in moments if m.value is not None or m.overload), key=lambda moment: moment.at
    )
    if not known:
        return document(
            body,
            width=width,
            height=y + 4.0,
            title=title or say(words, "trend.title"),
            about=say(words, "trend.none"),
            ink=ink,
            name=name,
        )
    top, base = y + 14.0, y + 14.0 + TALL
    values = [
        v
        for m in known
        if m.value is not None
        for v in (m.value - m.half_width, m.value + m.half_width)
    ]
    values += [limit for limit in (low, high) if limit is not None]
    factor, shown = prefixed(max((abs(v) for v in values), default=1.0), unit)
    ends = spread_of([v * factor for v in values], margin=0.12)
    upwards = Scale(*ends, base, top)
    across = _time_scale(known, width)
    body.append(label((LEFT, top - 6.0), shown, fill=ink.soft, size=SMALL, bold=True))
    places = [(m, (across(m.at.timestamp()), _height(m, upwards, factor, top))) for m in known]
    ends_y = [upwards(limit * factor) for limit in (low, high) if limit is not None]
    first, last = (min((abs(p[1] - y) for y in ends_y), default=0.0) for p in _both(places))
    body += _allowed(upwards, low, high, factor, width, ink, words, on_left=first > last)
    body += left_axis(upwards, LEFT, width - MARGIN, ink)
    body += _dates(known, across, base, ink)
    body.append(polyline([p for _, p in places], stroke=ink.soft, stroke_width=1.6))
    for moment, place in places:
        body += _mark(moment, place, upwards, factor, ink)
    foot, height = _legend(known, base + 46.0, ink, words)
    return document(
        [*body, *foot],
        width=width,
        height=height,
        title=title or say(words, "trend.title"),
        about=" ".join(f"{line}." for line in about),
        ink=ink,
        name=name,
    )


def _head(
    moments: Sequence[Moment], title: str, ink: Ink, words: Words, width: float
) -> tuple[list[str], float]:
    body: list[str] = []
    y = 24.0
    if title:
        body, y = paragraph((MARGIN, y), title, width - 2 * MARGIN, fill=ink.ink, bold=True)
    if not any(m.value is not None or m.overload for m in moments):
        lines, y = paragraph(
            (MARGIN, y), say(words, "trend.none"), width - 2 * MARGIN, fill=ink.ink
        )
        body += lines
    return body, y


def _time_scale(moments: Sequence[Moment], width: float) -> Scale:
    first = min(m.at for m in moments).timestamp()
    last = max(m.at for m in moments).timestamp()
    spare = max(0.0, timedelta(days=LEAST_DAYS).total_seconds() - (last - first)) / 2.0
    edge = 0.04 * (last - first) + spare + 1.0
    return Scale(first - edge, last + edge, LEFT, width - MARGIN)


def _height(moment: Moment, upwards: Scale, factor: float, top: float) -> float:
    if moment.overload or moment.value is None:
        return top
    return upwards(moment.value * factor)


def _both(places: Sequence[tuple[Moment, XY]]) -> tuple[XY, XY]:
    """Return where the first and the last reading stand."""
    return places[0][1], places[-1][1]


def _value(moment: Moment, unit: str) -> str:
    if moment.overload or moment.value is None:
        return "OL"
    return figure(moment.value, unit, digits=4)


def _allowed(
    upwards: Scale,
    low: float | None,
    high: float | None,
    factor: float,
    width: float,
    ink: Ink,
    words: Words,
    *,
    on_left: bool,
) -> list[str]:
    """Return the band that is allowed, with its ends named."""
    if low is None and high is None:
        return []
    upper = upwards.end if high is None else upwards(high * factor)
    lower = upwards.start if low is None else upwards(low * factor)
    made = [
        tag(
            "rect",
            x=LEFT,
            y=upper,
            width=width - MARGIN - LEFT,
            height=max(lower - upper, 0.0),
            fill=ink.good_fill,
            data_role="allowed",
        )
    ]
    for limit, y, key, below in ((high, upper, "high", -5.0), (low, lower, "low", 14.0)):
        if limit is None:
            continue
        ends = [(LEFT, y), (width - MARGIN, y)]
        made.append(polyline(ends, stroke=ink.good, stroke_width=2.2, stroke_dasharray="8 4"))
        text = say(words, f"limit.{key}")
        made.append(
            label((LEFT + 6.0, y + below), text, fill=ink.good, size=SMALL, bold=True)
            if on_left
            else label(
                (width - MARGIN, y + below),
                text,
                fill=ink.good,
                size=SMALL,
                bold=True,
                anchor="end",
            )
        )
    return made


def _dates(moments: Sequence[Moment], across: Scale, base: float, ink: Ink) -> list[str]:
    """Return dates under the axis, as many as fit beside each other."""
    made = [polyline([(LEFT, base), (across.end, base)], stroke=ink.soft, stroke_width=1.5)]
    last = -1e9
    for moment in moments:
        x = across(moment.at.timestamp())
        made.append(polyline([(x, base), (x, base + 5)], stroke=ink.soft, stroke_width=1.5))
        middle = min(max(x, LEFT + 10.0), across.end - 26.0)
        if middle - last < 66.0:
            continue
        last = middle
        text = f"{moment.at:%Y-%m}"
        made.append(label((middle, base + 18), text, fill=ink.soft, size=SMALL, anchor="middle"))
    return made


def _mark(moment: Moment, at: XY, upwards: Scale, factor: float, ink: Ink) -> list[str]:
    x, y = at
    made = []
    if moment.half_width > 0.0 and moment.value is not None and not moment.overload:
        low = upwards((moment.value - moment.half_width) * factor)
        high = upwards((moment.value + moment.half_width) * factor)
        made.append(polyline([(x, low), (x, high)], stroke=ink.ink, stroke_width=2.0))
        for end in (low, high):
            made.append(polyline([(x - 5, end), (x + 5, end)], stroke=ink.ink, stroke_width=2.0))
    if moment.overload or moment.value is None:
        made.append(polygon([(x - 7, y + 10), (x + 7, y + 10), (x, y - 3)], fill=ink.bad))
        made.append(label((x, y - 6.0), "OL", fill=ink.bad, size=SMALL, bold=True, anchor="middle"))
        return made
    return [*made, _spot(moment.after_repair, at, ink, role="moment")]


def _spot(after_repair: bool, at: XY, ink: Ink, *, role: str | None = None) -> str:
    x, y = at
    if after_repair:
        return tag(
            "rect",
            x=x - 6,
            y=y - 6,
            width=12,
            height=12,
            fill=ink.second,
            stroke=ink.paper,
            stroke_width=1.5,
            data_role=role,
        )
    return tag(
        "circle",
        cx=x,
        cy=y,
        r=6.5,
        fill=ink.first,
        stroke=ink.paper,
        stroke_width=1.5,
        data_role=role,
    )


def _legend(moments: Sequence[Moment], y: float, ink: Ink, words: Words) -> tuple[list[str], float]:
    made: list[str] = []
    for after, key in ((False, "trend.before"), (True, "trend.after")):
        if any(m.after_repair is after for m in moments):
            made.append(_spot(after, (MARGIN + 10.0, y - 4.0), ink))
            made.append(label((MARGIN + 28.0, y), say(words, key), fill=ink.soft, size=TEXT - 1.0))
            y += 20.0
    return made, y
