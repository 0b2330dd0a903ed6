"""One check before and after the repair on a common scale, with the zone of a sound machine."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from chargewright.diagnosis.number_words import quantity
from chargewright.diagnosis.question import Answer
from chargewright.machine.points import Function
from chargewright.meters.verdict import reading_spread
from chargewright.pictures.fit import width_of
from chargewright.pictures.ink import Ink, Theme, ink_of
from chargewright.pictures.svg import SMALL, document, label, polygon, tag
from chargewright.report.document import Picture
from chargewright.report.evidence import Compared, Zone
from chargewright.report.say import figures, say
from chargewright.report.wording import reading_words, zone_words

WIDTH = 360.0
LEFT, RIGHT = 14.0, 346.0
TOP, ROW, AXIS = 22.0, 40.0, 16.0
LEAST_ZONE = 4.0  # a narrow zone stays visible
END_ROOM = 0.08  # of the scale, left free at both ends
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
MOST_TICKS = 5


@dataclass(frozen=True, slots=True)
class Mark:
    """One reading on the scale; ``open_end`` is which way a bound or OL leaves it open."""

    name: str
    text: str
    value: float | None  # none: off the scale
    half_width: float
    open_end: Literal["", "up", "down"]


@dataclass(frozen=True, slots=True)
class Scale:
    """From a quantity to a place along the picture."""

    low: float
    high: float

    def x(self, value: float) -> float:
        """Return the place of a value, held inside the picture."""
        share = (value - self.low) / (self.high - self.low)
        return LEFT + min(max(share, 0.0), 1.0) * (RIGHT - LEFT)


def comparison_picture(one: Compared, *, title: str, name: str) -> Picture | None:
    """Return the picture of one check for paper and for a page; none for a look.

    Caption and alternative text say the same as the picture.
    """
    function = one.answer.question.function
    if function is Function.LOOK or one.answer.shown is None:
        return None
    marks = tuple(_marks(one))
    caption = _caption(one, title)
    drawn = [
        _drawn(marks, one.zone, function.unit, title=title, about=caption, theme=theme, name=name)
        for theme in ("print", "css")
    ]
    return Picture(svg=drawn[0], css=drawn[1], alt=caption, caption=caption)


def _caption(one: Compared, title: str) -> str:
    unit = one.answer.question.function.unit
    zone = "" if one.zone is None else zone_words(one.zone, unit)
    if one.before is not None and one.after is not None:
        before, after = reading_words(one.before), reading_words(one.after)
        if not zone:
            return say(
                "{title}: {before} before, {after} after.", title=title, before=before, after=after
            )
        return say(
            "{title}: {before} before, {after} after; {zone}.",
            title=title,
            before=before,
            after=after,
            zone=zone,
        )
    shown = reading_words(one.answer)
    if not zone:
        return say("{title}: {shown}.", title=title, shown=shown)
    return say("{title}: {shown}; {zone}.", title=title, shown=shown, zone=zone)


def _marks(one: Compared) -> list[Mark]:
    both = one.before is not None and one.after is not None
    found = []
    if one.before is not None:
        found.append(_mark(one.before, say("before") if both else say("measured")))
    if one.after is not None:
        found.append(_mark(one.after, say("after")))
    return found


def _mark(answer: Answer, name: str) -> Mark:
    shown, function = answer.shown, answer.question.function
    assert shown is not None
    text = reading_words(answer)
    if shown.kind == "overload":
        return Mark(name, text, None, 0.0, "up")
    if shown.kind == "continuity":
        return Mark(name, text, 0.0, 0.0, "")
    if shown.kind in ("at_least", "at_most"):
        return Mark(name, text, shown.value, 0.0, "up" if shown.kind == "at_least" else "down")
    spread = reading_spread(answer.meter, function, shown, nulled=answer.nulled)
    return Mark(name, text, shown.middle, spread.half_width(), "")


def scale_of(marks: tuple[Mark, ...], zone: Zone | None) -> Scale:
    """Return a scale that holds every reading with its spread, and the zone's ends."""
    ends = [0.0] if zone is None else [end for end in (zone.low, zone.high) if end is not None]
    for mark in marks:
        if mark.value is not None:
            ends += [mark.value - mark.half_width, mark.value + mark.half_width]
    low, high = min(ends), max(ends)
    if 0.0 <= low <= 0.5 * high:
        low = 0.0
    span = max(high - low, 0.02 * max(abs(low), abs(high)), 1e-6)
    return Scale(low - (0.0 if low == 0.0 else END_ROOM * span), high + END_ROOM * span)


def ticks(scale: Scale) -> list[float]:
    """Return round figures along a scale, five at most."""
    rough = (scale.high - scale.low) / MOST_TICKS
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(size * one for one in STEPS if size * one >= rough * 0.999)
    first = math.ceil(scale.low / step - 1e-9)
    last = math.floor(scale.high / step + 1e-9)
    return [round(number * step, 12) for number in range(first, last + 1)]


def _drawn(
    marks: tuple[Mark, ...],
    zone: Zone | None,
    unit: str,
    *,
    title: str,
    about: str,
    theme: Theme,
    name: str,
) -> str:
    ink, scale = ink_of(theme), scale_of(marks, zone)
    bottom = TOP + ROW * len(marks)
    body = [] if zone is None else _zone(zone, scale, bottom, ink)
    body += _axis(scale, unit, bottom, ink)
    for row, mark in enumerate(marks):
        body += _reading(mark, scale, TOP + ROW * (row + 0.5), zone, ink)
    return document(
        body, width=WIDTH, height=bottom + AXIS + 8.0, title=title, about=about, ink=ink, name=name
    )


def _zone(zone: Zone, scale: Scale, bottom: float, ink: Ink) -> list[str]:
    left = LEFT if zone.low is None else scale.x(zone.low)
    right = RIGHT if zone.high is None else scale.x(zone.high)
    if right - left < LEAST_ZONE:
        right = min(left + LEAST_ZONE, RIGHT)
        left = right - LEAST_ZONE
    parts = [
        tag("rect", x=left, y=TOP - 4.0, width=right - left, height=bottom - TOP + 4.0,
            fill=ink.good_fill)
    ]  # fmt: skip
    for end, x in ((zone.low, left), (zone.high, right)):
        if end is not None:
            parts.append(
                tag("line", x1=x, x2=x, y1=TOP - 4.0, y2=bottom, stroke=ink.good, stroke_width=1.5)
            )
    words = say("should be here") if zone.published else say("a sound machine")
    middle = 0.5 * (left + right)
    anchor: Literal["start", "middle", "end"] = "middle"
    if middle < LEFT + 60.0:
        anchor, middle = "start", left
    elif middle > RIGHT - 60.0:
        anchor, middle = "end", right
    parts.append(label((middle, 13.0), words, fill=ink.good, size=SMALL, anchor=anchor))
    return parts


def _axis(scale: Scale, unit: str, bottom: float, ink: Ink) -> list[str]:
    parts = [
        tag("line", x1=LEFT, x2=RIGHT, y1=bottom, y2=bottom, stroke=ink.soft, stroke_width=1.0)
    ]
    for value in ticks(scale):
        x = scale.x(value)
        parts.append(
            tag("line", x1=x, x2=x, y1=bottom, y2=bottom + 4.0, stroke=ink.soft, stroke_width=1.0)
        )
        anchor: Literal["start", "middle", "end"] = "middle"
        if x < LEFT + 16.0:
            anchor = "start"
        elif x > RIGHT - 16.0:
            anchor = "end"
        text = figures(quantity(value, unit))
        parts.append(
            label((x, bottom + AXIS), text, fill=ink.soft, size=SMALL - 1.0, anchor=anchor)
        )
    return parts


def _reading(mark: Mark, scale: Scale, y: float, zone: Zone | None, ink: Ink) -> list[str]:
    words = say("{when} {shown}", when=mark.name, shown=mark.text)
    if mark.value is None:
        parts = [_arrow(RIGHT, y, 1.0, ink)]
        return [*parts, label((RIGHT - 16.0, y + 4.0), words, fill=ink.ink, bold=True, size=SMALL,
                              anchor="end")]  # fmt: skip
    x = scale.x(mark.value)
    parts = []
    if mark.half_width > 0.0:
        ends = scale.x(mark.value - mark.half_width), scale.x(mark.value + mark.half_width)
        parts.append(
            tag("line", x1=ends[0], x2=ends[1], y1=y, y2=y, stroke=ink.ink, stroke_width=2.0)
        )
    if mark.open_end:
        way = 1.0 if mark.open_end == "up" else -1.0
        parts.append(_arrow(x + 9.0 * way, y, way, ink))
    else:
        parts.append(tag("circle", cx=x, cy=y, r=5.0, fill=ink.ink))
    gap = 5.0 + max(6.0, scale.x(mark.value + mark.half_width) - x)
    edges = [] if zone is None else [scale.x(e) for e in (zone.low, zone.high) if e is not None]
    return [*parts, _label_beside(x, gap, y, words, edges, ink)]


def _label_beside(x: float, gap: float, y: float, words: str, edges: list[float], ink: Ink) -> str:
    """Return the label on the side where it fits and covers no limit, else where more room is."""
    wide = width_of(words, SMALL, bold=True)
    spans = {"start": (x + gap, x + gap + wide), "end": (x - gap - wide, x - gap)}

    def cost(side: str) -> tuple[bool, int, float]:
        left, right = spans[side]
        crossed = sum(left - 2.0 < edge < right + 2.0 for edge in edges)
        return (
            left < LEFT - 8.0 or right > RIGHT + 8.0,
            crossed,
            abs(0.5 * (left + right) - WIDTH / 2),
        )

    side: Literal["start", "end"] = "start" if cost("start") <= cost("end") else "end"
    at = spans["start"][0] if side == "start" else spans["end"][1]
    ground = ""
    if cost(side)[1]:  # a limit behind the words: they stay legible on a ground of their own
        left = spans[side][0] - 2.0
        ground = tag(
            "rect", x=left, y=y - 8.0, width=wide + 4.0, height=17.0, fill=ink.paper,
            fill_opacity=0.85,
        )  # fmt: skip
    return ground + label((at, y + 4.0), words, fill=ink.ink, bold=True, size=SMALL, anchor=side)


def _arrow(x: float, y: float, way: float, ink: Ink) -> str:
    """Return an arrow head with its tip at ``x``, pointing up the scale for ``way`` 1."""
    return polygon([(x, y), (x - 9.0 * way, y - 6.0), (x - 9.0 * way, y + 6.0)], fill=ink.ink)
