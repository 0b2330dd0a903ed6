"""What a check would read under each leading cause, with the reading dropped in."""

from __future__ import annotations

import math
from collections.abc import Sequence

from chargewright.diagnosis.expected import Band
from chargewright.machine.points import Function
from chargewright.pictures.axes import Scale, figure, prefixed, spread_of
from chargewright.pictures.bands import MARGIN, SEEN, Plot
from chargewright.pictures.fit import shortened, wrapped
from chargewright.pictures.ink import Ink, Theme, ink_of
from chargewright.pictures.svg import (
    TEXT,
    WIDTH,
    Size,
    document,
    paragraph,
)
from chargewright.pictures.words import ENGLISH, Words, percent, say

OVER = 44.0  # breadth of the column of OL
DECADES = 2.5  # ohms further apart than this get a logarithmic axis
MOST_LINES = 2


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

    A band holds nine readings in ten, its mark the middle one. ``reading`` [unit of
    ``function``] is drawn across all bands, +- ``reach``; ``overload`` says that the meter
    showed OL, which has its own column on the right. For a look the bands are the chance that
    the sign is seen. Ohms over several decades get a logarithmic axis.
    """
    ink, width = ink_of(theme), WIDTH[size]
    told = _told(function, reading, overload, words)
    body, top = _head(title, told, ink, width)
    plot = _plot(bands, function, reading, reach, overload, top, width, ink)
    body += plot.axis()
    if reading is not None and reach > 0.0:
        body.append(plot.span(reading - reach, reading + reach))
    if reading is not None:
        body += plot.drop(plot.at(reading))
    elif overload and plot.over_x is not None:
        body += plot.drop(plot.over_x)
    for row, band in enumerate(bands):
        body += plot.row(row, band, look=function is Function.LOOK)
    key = "expected.look" if function is Function.LOOK else "expected.note"
    lines, height = paragraph(
        (MARGIN, plot.base + 52.0),
        say(words, key),
        width - 2 * MARGIN,
        fill=ink.soft,
        size=TEXT - 1.0,
    )
    about = [told] if told else []
    about += [f"{band.title}: {_text(band, function, words)}." for band in bands]
    return document(
        [*body, *lines],
        width=width,
        height=height,
        title=title or say(words, "expected.title"),
        about=" ".join(about),
        ink=ink,
        name=name,
    )


def _head(title: str, told: str, ink: Ink, width: float) -> tuple[list[str], float]:
    body: list[str] = []
    y = 24.0
    for text, bold in ((title, True), (told, False)):
        if text:
            lines, y = paragraph((MARGIN, y), text, width - 2 * MARGIN, fill=ink.ink, bold=bold)
            body += lines
    return body, y + 2.0


def _plot(
    bands: Sequence[Band],
    function: Function,
    reading: float | None,
    reach: float,
    overload: bool,
    top: float,
    width: float,
    ink: Ink,
) -> Plot:
    look = function is Function.LOOK
    with_over = not look and (overload or any(b.overload > SEEN for b in bands))
    over = OVER if with_over else 0.0
    values = [0.0, 100.0] if look else _values(bands, reading, reach)
    log = function is Function.OHM and _decades(values) > DECADES
    start, end = MARGIN + 4.0, width - MARGIN - over
    scale, factor, unit = _scale(values, function.unit, log, start, end, look)
    room = width - 2 * MARGIN - over
    titles = []
    for band in bands:
        lines = wrapped(band.title, TEXT, room)
        if len(lines) > MOST_LINES:
            rest = " ".join(lines[MOST_LINES - 1 :])
            lines = [*lines[: MOST_LINES - 1], shortened(rest, TEXT, room)]
        titles.append(tuple(lines))
    return Plot(
        scale=scale,
        factor=factor,
        unit=unit,
        log=log,
        titles=tuple(titles),
        top=top,
        over_x=width - MARGIN - 0.5 * over + 4.0 if with_over else None,
        ink=ink,
    )


def _told(function: Function, reading: float | None, overload: bool, words: Words) -> str:
    if reading is not None:
        return say(words, "expected.reading", value=figure(reading, function.unit, digits=4))
    return say(words, "expected.reading", value="OL") if overload else ""


def _values(bands: Sequence[Band], reading: float | None, reach: float) -> list[float]:
    found = [v for band in bands for v in (band.low, band.high) if v is not None]
    if reading is not None:
        found += [reading - reach, reading + reach]
    return found or [0.0, 1.0]


def _decades(values: Sequence[float]) -> float:
    positive = [v for v in values if v > 0.0]
    return math.log10(max(positive) / min(positive)) if positive else 0.0


def _scale(
    values: list[float], unit: str, log: bool, start: float, end: float, look: bool
) -> tuple[Scale, float, str]:
    """Return (scale, factor from the unit to the axis's, unit on the axis)."""
    if look:
        return Scale(0.0, 100.0, start, end), 1.0, "%"
    if log:
        logs = [math.log10(v) for v in values if v > 0.0]
        return Scale(math.floor(min(logs)), math.ceil(max(logs)), start, end), 1.0, unit
    factor, shown = prefixed(max(abs(v) for v in values), unit)
    low, high = spread_of(values, margin=0.08, least=0.02 * max(abs(v) for v in values))
    return Scale(low * factor, high * factor, start, end), factor, shown


def _text(band: Band, function: Function, words: Words) -> str:
    """Return a band in words, for those who do not see the picture."""
    if function is Function.LOOK:
        return say(words, "expected.seen", share=percent(band.overload))
    if band.low is None or band.high is None:
        return "OL"
    low, high = (figure(v, function.unit) for v in (band.low, band.high))
    text = low if low == high else say(words, "expected.span", low=low, high=high)
    if band.overload > 0.02:
        text += f", OL {percent(band.overload)}"
    return text
