"""Scales and ticks: from values to pixels, and round numbers along an axis."""

from __future__ import annotations

import math
from dataclasses import dataclass

from chargewright.pictures.ink import Ink
from chargewright.pictures.svg import SMALL, XY, label, polyline
from chargewright.pictures.words import ENGLISH, Words, written

PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"))


@dataclass(frozen=True, slots=True)
class Scale:
    """A linear scale from values ``low``..``high`` to pixels ``start``..``end``."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """Return the pixel of a value, held at the ends beyond them."""
        share = (value - self.low) / (self.high - self.low)
        return self.start + (self.end - self.start) * min(max(share, 0.0), 1.0)

    def holds(self, value: float) -> bool:
        """Tell whether a value lies on the scale."""
        return self.low <= value <= self.high


def spread_of(
    values: list[float], *, margin: float = 0.06, least: float = 0.0
) -> tuple[float, float]:
    """Return ends that hold all finite values with some room, at least ``least`` apart."""
    known = [v for v in values if math.isfinite(v)]
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    width = max(high - low, least, 1e-3 * max(abs(low), abs(high)), 1e-9)
    middle = 0.5 * (low + high)
    half = (0.5 + margin) * width
    return middle - half, middle + half


def ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Return at most about ``most`` round values between ``low`` and ``high``.

    >>> ticks(13.2, 15.1, 4)
    [13.5, 14.0, 14.5, 15.0]
    """
    raw = (high - low) / max(most, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= raw * 0.999)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [round(n * step, 10) for n in range(first, last + 1)]


def tick_text(value: float, step: float, words: Words = ENGLISH) -> str:
    """Return a tick's number with no more places than its step has."""
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    text = f"{value:.{places}f}"
    return "0" if float(text) == 0.0 else str(written(words, text))


def prefixed(size: float, unit: str) -> tuple[float, str]:
    """Return (factor, unit with prefix) so that figures of this size read easily.

    >>> prefixed(0.02, "V"), prefixed(14.2, "V"), prefixed(0.3, "ohm")
    ((1000.0, 'mV'), (1.0, 'V'), (1.0, 'ohm'))
    """
    floor = 0.02 if unit == "ohm" else 0.3
    if size <= 0.0 or floor <= size < 2000.0 or not unit:
        return 1.0, unit
    scale, prefix = next((s, p) for s, p in PREFIXES if size >= s or s == PREFIXES[-1][0])
    return 1.0 / scale, prefix + unit


def figure(value: float, unit: str, *, digits: int = 3) -> str:
    """Return a value with its unit in figures that read easily.

    >>> figure(14.238, "V"), figure(0.0213, "V"), figure(20000.0, "ohm")
    ('14.2 V', '21.3 mV', '20 kohm')
    """
    factor, shown = prefixed(abs(value), unit)
    text = f"{value * factor:.{digits}g}"
    if "e" in text:
        text = f"{value * factor:.0f}"
    return f"{text} {shown}".strip()


def rounded(value: float, step: float) -> str:
    """Return a value rounded to a place that its uncertainty supports."""
    places = max(0, -math.floor(math.log10(step))) if step > 0.0 else 2
    return f"{value:.{min(places, 6)}f}"


def bottom_axis(
    scale: Scale,
    y: float,
    ink: Ink,
    *,
    unit: str,
    top: float | None = None,
    most: int = 5,
    words: Words = ENGLISH,
) -> list[str]:
    """Return ticks and figures below a horizontal axis at ``y``, grid lines up to ``top``."""
    marks = ticks(scale.low, scale.high, most)
    step = marks[1] - marks[0] if len(marks) > 1 else abs(scale.high - scale.low)
    made = [polyline([(scale.start, y), (scale.end, y)], stroke=ink.soft, stroke_width=1.5)]
    for mark in marks:
        x = scale(mark)
        made.append(polyline([(x, y), (x, y + 5)], stroke=ink.soft, stroke_width=1.5))
        if top is not None:
            made.append(polyline([(x, y), (x, top)], stroke=ink.grid, stroke_width=1.0))
        made.append(
            label(
                (x, y + 18),
                tick_text(mark, step, words),
                fill=ink.soft,
                size=SMALL,
                anchor="middle",
            )
        )
    made.append(
        label((scale.end, y + 33), unit, fill=ink.soft, size=SMALL, anchor="end", bold=True)
    )
    return made


def left_axis(
    scale: Scale, x: float, right: float, ink: Ink, *, most: int = 4, words: Words = ENGLISH
) -> list[str]:
    """Return figures left of a vertical axis at ``x`` and grid lines to ``right``."""
    marks = ticks(scale.low, scale.high, most)
    step = marks[1] - marks[0] if len(marks) > 1 else abs(scale.high - scale.low)
    made = []
    for mark in marks:
        y = scale(mark)
        made.append(polyline([(x, y), (right, y)], stroke=ink.grid, stroke_width=1.0))
        made.append(
            label(
                (x - 5, y + 4),
                tick_text(mark, step, words),
                fill=ink.soft,
                size=SMALL,
                anchor="end",
            )
        )
    made.append(polyline([(x, scale.start), (x, scale.end)], stroke=ink.soft, stroke_width=1.5))
    return made


def hatch(corner: XY, width: float, height: float, colour: str, *, gap: float = 9.0) -> list[str]:
    """Return slanted lines over a rectangle: a pattern for those who do not see its colour."""
    (x, y), made = corner, []
    count = int((width + height) / gap)
    for number in range(1, count + 1):
        along = number * gap
        start = (x + min(along, width), y + max(0.0, along - width))
        end = (x + max(0.0, along - height), y + min(along, height))
        made.append(polyline([start, end], stroke=colour, stroke_width=1.2))
    return made
