"""What a check would read under each leading cause, with the reading dropped in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from chargewright.diagnosis.expected import Band
from chargewright.machine.points import Function
from chargewright.pictures.axes import Scale, bottom_axis, figure, prefixed, spread_of
from chargewright.pictures.fit import LINE, shortened, width_of, wrapped
from chargewright.pictures.ink import Ink, Theme, ink_of
from chargewright.pictures.svg import (
    SMALL,
    TEXT,
    WIDTH,
    Size,
    document,
    label,
    paragraph,
    polygon,
    polyline,
    tag,
)
from chargewright.pictures.words import ENGLISH, Words, percent, say

MARGIN, BAR, OVER = 16.0, 28.0, 44.0
DECADES = 2.5  # ohms further apart than this get a logarithmic axis
SEEN = 0.02  # a smaller share of OL is not drawn
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


@dataclass(frozen=True, slots=True)
class Plot:
    """Where the bands lie: their axis, rows of one or two lines of text, the column of OL."""

    scale: Scale
    factor: float
    unit: str
    log: bool
    titles: tuple[tuple[str, ...], ...]
    top: float
    over_x: float | None
    ink: Ink

    @property
    def base(self) -> float:
        """Height of the axis."""
        return self.top + sum(self.tall(lines) for lines in self.titles)

    @staticmethod
    def tall(lines: Sequence[str]) -> float:
        """Height of one row with its title."""
        return BAR + max(len(lines), 1) * TEXT * LINE

    def at(self, value: float) -> float:
        """Return the place of a value in the function's unit."""
        shown = value * self.factor
        return self.scale(math.log10(max(shown, 1e-9)) if self.log else shown)

    def axis(self) -> list[str]:
        """Return axis, grid and the column of OL."""
        ink, base = self.ink, self.base
        made = (
            _decades_axis(self.scale, base, self.top, self.unit, ink)
            if self.log
            else bottom_axis(self.scale, base, ink, unit=self.unit, top=self.top)
        )
        if self.over_x is None:
            return made
        x = self.over_x
        edge = [(x - 18.0, self.top), (x - 18.0, base)]
        made.append(polyline(edge, stroke=ink.soft, stroke_width=1.5, stroke_dasharray="2 4"))
        made.append(
            label((x, base + 18.0), "OL", fill=ink.ink, size=SMALL, bold=True, anchor="middle")
        )
        return made

    def row(self, number: int, band: Band, *, look: bool) -> list[str]:
        """Return a cause's title on a clear ground, and its band."""
        ink, made = self.ink, []
        y = self.top + sum(self.tall(lines) for lines in self.titles[:number])
        for line in self.titles[number]:
            y += TEXT * LINE
            ground = width_of(line, TEXT) + 6.0
            made.append(
                tag("rect", x=MARGIN - 3.0, y=y - 13.0, width=ground, height=17, fill=ink.paper)
            )
            made.append(label((MARGIN, y), line, fill=ink.ink, role="cause"))
        y += 14.0
        if look:
            made.append(self.bar(0.0, 100.0 * band.overload, y, band.cause))
        elif band.low is not None and band.middle is not None and band.high is not None:
            made.append(self.bar(band.low, band.high, y, band.cause))
            x = self.at(band.middle)
            made.append(polyline([(x, y - 7.0), (x, y + 7.0)], stroke=ink.ink, stroke_width=3.0))
        if self.over_x is not None and band.overload > SEEN:
            radius = 3.0 + 6.0 * math.sqrt(min(band.overload, 1.0))
            made.append(
                tag(
                    "circle",
                    cx=self.over_x,
                    cy=y,
                    r=radius,
                    fill=ink.first,
                    fill_opacity=0.35,
                    stroke=ink.first,
                    stroke_width=1.8,
                    data_over=band.cause,
                )
            )
        return made

    def bar(self, low: float, high: float, y: float, cause: str) -> str:
        """Return a bar between two values, never too thin to be seen."""
        left, right = self.at(low), self.at(high)
        spare = max(0.0, 4.0 - (right - left)) / 2.0
        return tag(
            "rect",
            x=left - spare,
            y=y - 7.0,
            width=right - left + 2.0 * spare,
            height=14,
            rx=3,
            fill=self.ink.first,
            fill_opacity=0.35,
            stroke=self.ink.first,
            stroke_width=1.8,
            data_cause=cause,
        )

    def span(self, low: float, high: float) -> str:
        """Return the stripe within which the true value probably is."""
        left, right = self.at(low), self.at(high)
        return tag(
            "rect",
            x=left,
            y=self.top,
            width=max(right - left, 1.0),
            height=self.base - self.top,
            fill=self.ink.ink,
            fill_opacity=0.12,
        )

    def drop(self, x: float) -> list[str]:
        """Return a line with a head at both ends, where the reading fell."""
        ink, top, base = self.ink, self.top, self.base
        return [
            polyline([(x, top), (x, base)], stroke=ink.ink, stroke_width=2.4, data_role="reading"),
            polygon([(x - 6, top - 3), (x + 6, top - 3), (x, top + 7)], fill=ink.ink),
            polygon([(x - 6, base + 3), (x + 6, base + 3), (x, base - 7)], fill=ink.ink),
        ]


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


def _decades_axis(scale: Scale, base: float, top: float, unit: str, ink: Ink) -> list[str]:
    """Return an axis of powers of ten."""
    made = [polyline([(scale.start, base), (scale.end, base)], stroke=ink.soft, stroke_width=1.5)]
    powers = range(int(scale.low), int(scale.high) + 1)
    every = max(1, math.ceil(len(powers) / 7))
    for power in powers[::every]:
        x = scale(float(power))
        made.append(polyline([(x, base + 5), (x, top)], stroke=ink.grid, stroke_width=1.0))
        text = f"{10.0**power:g}"
        if power > 2:
            factor, shown = prefixed(10.0 * 10.0**power, "x")
            text = f"{10.0**power * factor:g}{shown.removesuffix('x')}"
        made.append(label((x, base + 18), text, fill=ink.soft, size=SMALL, anchor="middle"))
    made.append(
        label((scale.end, base + 33), unit, fill=ink.soft, size=SMALL, anchor="end", bold=True)
    )
    return made


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
