"""Bands of expected readings on one axis, each below its cause's title."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from chargewright.diagnosis.expected import Band
from chargewright.pictures.axes import Scale, bottom_axis, prefixed
from chargewright.pictures.fit import LINE, width_of
from chargewright.pictures.ink import Ink
from chargewright.pictures.svg import SMALL, TEXT, label, polygon, polyline, tag

MARGIN, BAR = 16.0, 28.0
SEEN = 0.02  # a smaller share of OL is not drawn


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
