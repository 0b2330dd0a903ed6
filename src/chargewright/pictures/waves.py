"""Waveforms of one machine: currents, leg voltages, output and battery ripple against time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from chargewright.machine.parameters import Array
from chargewright.pictures.axes import Scale, bottom_axis, left_axis, spread_of, tick_text, ticks
from chargewright.pictures.fit import width_of
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
    polyline,
)
from chargewright.pictures.words import ENGLISH, Words, say

MARGIN, LEFT, GAP = 14.0, 54.0, 46.0
TALL = {"phone": 92.0, "page": 104.0}
DASHES = (None, "9 4", "2 4")  # the three curves of a panel, told apart without colour


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One curve of a panel: its name beside the picture and its values, as many as times.

    A ``faint`` curve is there to compare with, such as the same on a sound machine.
    """

    title: str
    values: Array
    faint: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """Curves that share an axis, such as three phase currents; three at most, faint ones besides.

    ``least`` [unit] is the least height of the axis, so that ripple is not blown up to noise.
    """

    title: str
    unit: str
    curves: tuple[Curve, ...]
    least: float = 0.0


def waveform_picture(
    time_ms: Array,
    panels: Sequence[Panel],
    *,
    crank_deg_per_ms: float | None = None,
    cut_from_ms: float | None = None,
    notes: Sequence[str] = (),
    title: str = "",
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    name: str = "waves",
) -> str:
    """Return panels one under the other over a common time axis, as SVG text.

    ``time_ms`` (n,) [ms]; ``crank_deg_per_ms`` adds the crank angle below the time.
    ``cut_from_ms`` is where the regulator stops charging, if it does in this window. ``notes``
    stand under the title.
    """
    ink, width = ink_of(theme), WIDTH[size]
    body: list[str] = []
    y = 24.0
    if title:
        body, y = paragraph((MARGIN, y), title, width - 2 * MARGIN, fill=ink.ink, bold=True)
    for note in notes:
        lines, y = paragraph((MARGIN, y), note, width - 2 * MARGIN, fill=ink.soft, size=TEXT - 1.0)
        body += lines
    across = Scale(float(time_ms[0]), float(time_ms[-1]), LEFT, width - MARGIN)
    top = y + 8.0
    first = top + 18.0
    for panel in panels:
        made, top = _panel(panel, time_ms, across, top, TALL[size], ink, words)
        body += made
    base = top - GAP + 18.0
    if cut_from_ms is not None:
        body += _cut(across, cut_from_ms, first, base, ink, words)
    body += bottom_axis(across, base, ink, unit=say(words, "waves.time"), most=6, words=words)
    height = base + 42.0
    if crank_deg_per_ms is not None:
        body += _crank(across, base + 38.0, crank_deg_per_ms, ink, words)
        height = base + 82.0
    about = " ".join([*notes, *(_told(panel, words) for panel in panels)])
    return document(
        body,
        width=width,
        height=height,
        title=title or say(words, "waves.title"),
        about=about,
        ink=ink,
        name=name,
    )


def _panel(
    panel: Panel, time_ms: Array, across: Scale, top: float, tall: float, ink: Ink, words: Words
) -> tuple[list[str], float]:
    """Return one panel and where the next may begin."""
    values = np.concatenate([curve.values for curve in panel.curves])
    ends = spread_of([float(values.min()), float(values.max())], least=panel.least)
    head = top + 12.0
    upwards = Scale(*ends, head + 8.0 + tall, head + 8.0)
    made = [
        label(
            (MARGIN, head - 2.0),
            f"{panel.title}, {panel.unit}",
            fill=ink.ink,
            bold=True,
            size=TEXT - 1.0,
        )
    ]
    made += left_axis(upwards, LEFT, across.end, ink, most=5, words=words)
    if ends[0] < 0.0 < ends[1]:
        zero = upwards(0.0)
        made.append(polyline([(LEFT, zero), (across.end, zero)], stroke=ink.soft, stroke_width=1.5))
    made += _keys(panel, head - 2.0, across.end, ink)
    for number, curve in sorted(enumerate(panel.curves), key=lambda pair: not pair[1].faint):
        colour, dash, stroke = _style(panel, number, ink)
        line = thinned(
            [(across(t), upwards(v)) for t, v in zip(time_ms, curve.values, strict=True)]
        )
        made.append(
            polyline(
                line,
                stroke=colour,
                stroke_width=stroke,
                stroke_dasharray=dash,
                stroke_linecap="butt",
                data_curve=curve.title,
            )
        )
    return made, head + tall + GAP - 10.0


def thinned(line: Sequence[XY], *, within: float = 0.12) -> list[XY]:
    """Return a line without the points that the straight between their neighbours passes by.

    No point left out lies further than ``within`` [px] from what is drawn: the cone of straights
    that pass all points since the last one kept must not close.
    """
    kept = [line[0]]
    low, high = -np.inf, np.inf
    for before, place in pairwise(line[1:]):
        x0, y0 = kept[-1]
        step = before[0] - x0
        if step > 0.0:
            low = max(low, (before[1] - within - y0) / step)
            high = min(high, (before[1] + within - y0) / step)
        slope = (place[1] - y0) / max(place[0] - x0, 1e-9)
        if not low <= slope <= high:
            kept.append(before)
            low, high = -np.inf, np.inf
    return [(round(x, 1), round(y, 1)) for x, y in (*kept, line[-1])]


def _style(panel: Panel, number: int, ink: Ink) -> tuple[str, str | None, float]:
    """Return colour, dashes and breadth of a curve; faint ones are thin and dotted."""
    if panel.curves[number].faint:
        return ink.soft, "1.5 3", 1.6
    place = sum(not curve.faint for curve in panel.curves[:number])
    return (ink.first, ink.second, ink.third)[place % 3], DASHES[place % 3], 2.2


def _keys(panel: Panel, y: float, end: float, ink: Ink) -> list[str]:
    """Return the curves' names at the right end of the panel's head, each behind its stroke."""
    if len(panel.curves) < 2:
        return []
    made: list[str] = []
    x = end
    for number in range(len(panel.curves) - 1, -1, -1):
        name = panel.curves[number].title
        colour, dash, stroke = _style(panel, number, ink)
        x -= width_of(name, SMALL, bold=True)
        made.append(label((x, y), name, fill=ink.ink, size=SMALL, bold=True))
        ends = [(x - 25.0, y - 4.0), (x - 4.0, y - 4.0)]
        made.append(
            polyline(
                ends,
                stroke=colour,
                stroke_width=stroke,
                stroke_dasharray=dash,
                stroke_linecap="butt",
            )
        )
        x -= 33.0
    return made


def _cut(
    across: Scale, from_ms: float, top: float, base: float, ink: Ink, words: Words
) -> list[str]:
    """Return the line between charging and holding off, both named under the last panel."""
    x = across(from_ms)
    made = [
        polyline(
            [(x, top), (x, base)],
            stroke=ink.ink,
            stroke_width=1.8,
            stroke_dasharray="7 4",
            data_role="cut",
        )
    ]
    for left, right, key in ((across.start, x, "waves.charging"), (x, across.end, "waves.cut")):
        text = say(words, key)
        if width_of(text, SMALL) < right - left - 4.0:
            made.append(
                label(
                    (0.5 * (left + right), base - 5.0),
                    text,
                    fill=ink.soft,
                    size=SMALL,
                    anchor="middle",
                )
            )
    return made


def _crank(across: Scale, y: float, per_ms: float, ink: Ink, words: Words) -> list[str]:
    """Return a second axis in degrees of the crankshaft from the left edge."""
    start, end = across.low * per_ms, across.high * per_ms
    marks = ticks(start, end, 6)
    step = marks[1] - marks[0] if len(marks) > 1 else end - start
    scale = Scale(start, end, across.start, across.end)
    made = [polyline([(scale.start, y), (scale.end, y)], stroke=ink.soft, stroke_width=1.5)]
    for mark in marks:
        x = scale(mark)
        made.append(polyline([(x, y), (x, y + 5)], stroke=ink.soft, stroke_width=1.5))
        text = tick_text(mark, step, words)
        made.append(label((x, y + 18), text, fill=ink.soft, size=SMALL, anchor="middle"))
    made.append(
        label(
            (scale.end, y + 33),
            say(words, "waves.crank"),
            fill=ink.soft,
            size=SMALL,
            bold=True,
            anchor="end",
        )
    )
    return made


def _told(panel: Panel, words: Words) -> str:
    parts = [
        say(
            words,
            "waves.span",
            curve=curve.title,
            low=tick_text(float(curve.values.min()), 0.01),
            high=tick_text(float(curve.values.max()), 0.01),
            unit=panel.unit,
        )
        for curve in panel.curves
        if not curve.faint
    ]
    return f"{panel.title}: {', '.join(parts)}."
