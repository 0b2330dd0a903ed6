"""Circuit symbols as IEC 60617 has them, drawn between two ends in any direction."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from chargewright.pictures.svg import XY, label, number, polygon, polyline, tag

STROKE = 2.4  # of wires and symbols [px]


@dataclass(frozen=True, slots=True)
class Span:
    """The straight way a symbol lies on: from ``start`` to ``end``, ``side`` to its left."""

    start: XY
    end: XY

    @property
    def length(self) -> float:
        """Distance of both ends."""
        return math.dist(self.start, self.end)

    def at(self, along: float, aside: float = 0.0) -> XY:
        """Return the point ``along`` the way (0 to 1) and ``aside`` of it [px]."""
        (x, y), (x2, y2) = self.start, self.end
        dx, dy = x2 - x, y2 - y
        size = self.length
        return x + dx * along + dy / size * aside, y + dy * along - dx / size * aside


def coil(span: Span, ink: str, paper: str) -> list[str]:
    """Return a winding of four half turns."""
    radius = span.length / 8.0
    path = [f"M{number(span.start[0])} {number(span.start[1])}"]
    for turn in range(1, 5):
        x, y = span.at(turn / 4.0)
        path.append(f"A{number(radius)} {number(radius)} 0 0 1 {number(x)} {number(y)}")
    return [
        tag(
            "path",
            d=" ".join(path),
            fill="none",
            stroke=ink,
            stroke_width=STROKE,
            stroke_linecap="round",
        )
    ]


def junction(span: Span, ink: str, paper: str) -> list[str]:
    """Return a diode: current passes from start to end."""
    half = 8.0
    return [
        polyline([span.start, span.end], stroke=ink, stroke_width=STROKE),
        polygon([span.at(0.1, half), span.at(0.1, -half), span.at(0.9)], fill=ink),
        polyline([span.at(0.9, half), span.at(0.9, -half)], stroke=ink, stroke_width=STROKE + 0.6),
    ]


def thyristor(span: Span, ink: str, paper: str) -> list[str]:
    """Return a thyristor: an open diode with a gate."""
    half = 8.0
    outline = [span.at(0.1, half), span.at(0.1, -half), span.at(0.9)]
    return [
        polyline([span.start, span.at(0.1)], stroke=ink, stroke_width=STROKE),
        polygon(outline, fill=paper, stroke=ink, stroke_width=STROKE - 0.6),
        polyline([span.at(0.9, half), span.at(0.9, -half)], stroke=ink, stroke_width=STROKE + 0.6),
        polyline([span.at(0.9), span.end], stroke=ink, stroke_width=STROKE),
        polyline([span.at(0.9), span.at(1.15, 9.0)], stroke=ink, stroke_width=STROKE - 0.6),
    ]


def switch(span: Span, ink: str, paper: str) -> list[str]:
    """Return an electronic switch: an open contact with its control."""
    return [
        polyline([span.start, span.at(0.15)], stroke=ink, stroke_width=STROKE),
        polyline([span.at(0.15), span.at(0.8, 8.0)], stroke=ink, stroke_width=STROKE),
        polyline([span.at(0.85), span.end], stroke=ink, stroke_width=STROKE),
        tag("circle", cx=span.at(0.85)[0], cy=span.at(0.85)[1], r=2.2, fill=ink),
    ]


def fuse(span: Span, ink: str, paper: str) -> list[str]:
    """Return a fuse: a box with the wire through it."""
    half = 7.0
    box = [span.at(0, half), span.at(1, half), span.at(1, -half), span.at(0, -half)]
    return [
        polygon(box, fill=paper, stroke=ink, stroke_width=STROKE),
        polyline([span.start, span.end], stroke=ink, stroke_width=STROKE),
    ]


def load(span: Span, ink: str, paper: str) -> list[str]:
    """Return a lamp: a circle with a cross; it stands for all loads."""
    x, y = span.at(0.5)
    radius = span.length / 2.0
    reach = radius * math.sqrt(0.5)
    return [
        tag("circle", cx=x, cy=y, r=radius, fill=paper, stroke=ink, stroke_width=STROKE),
        polyline([(x - reach, y - reach), (x + reach, y + reach)], stroke=ink, stroke_width=STROKE),
        polyline([(x - reach, y + reach), (x + reach, y - reach)], stroke=ink, stroke_width=STROKE),
    ]


def motor(span: Span, ink: str, paper: str) -> list[str]:
    """Return a motor: a circle with an M."""
    x, y = span.at(0.5)
    radius = span.length / 2.0
    return [
        tag("circle", cx=x, cy=y, r=radius, fill=paper, stroke=ink, stroke_width=STROKE),
        label((x, y + 5.0), "M", fill=ink, bold=True, anchor="middle", role="symbol"),
    ]


def battery(span: Span, ink: str, paper: str) -> list[str]:
    """Return two cells in a row; start is the positive end (the long line)."""
    made = []
    for place, half, stroke in ((0.0, 14, STROKE), (0.3, 7, 5), (0.7, 14, STROKE), (1.0, 7, 5)):
        ends = [span.at(place, half), span.at(place, -half)]
        made.append(polyline(ends, stroke=ink, stroke_width=stroke, stroke_linecap="butt"))
    between = [span.at(0.3), span.at(0.7)]
    made.append(polyline(between, stroke=ink, stroke_width=STROKE))
    return made


def plug_closed(span: Span, ink: str, paper: str) -> list[str]:
    """Return a pin in its socket."""
    return _contact(span, ink, apart=0.0)


def plug_open(span: Span, ink: str, paper: str) -> list[str]:
    """Return a pin and a socket pulled apart."""
    return _contact(span, ink, apart=0.42)


def _contact(span: Span, ink: str, *, apart: float) -> list[str]:
    tip = 0.68 - apart
    cup = [span.at(0.45, 6.5), span.at(0.62, 6.5), span.at(0.75), span.at(0.62, -6.5)]
    return [
        polyline([span.start, span.at(tip)], stroke=ink, stroke_width=4.6, stroke_linecap="butt"),
        polyline([*cup, span.at(0.45, -6.5)], stroke=ink, stroke_width=STROKE),
        polyline([span.at(0.75), span.end], stroke=ink, stroke_width=STROKE),
    ]


def frame_sign(at: XY, ink: str) -> list[str]:
    """Return the sign of a frame or chassis, hanging below ``at``."""
    x, y = at
    parts = [polyline([(x, y), (x, y + 8)], stroke=ink, stroke_width=STROKE)]
    parts.append(polyline([(x - 12, y + 8), (x + 12, y + 8)], stroke=ink, stroke_width=STROKE))
    for shift in (-12.0, 0.0, 12.0):
        line = [(x + shift, y + 8), (x + shift - 6, y + 16)]
        parts.append(polyline(line, stroke=ink, stroke_width=STROKE))
    return parts


Symbol = Callable[[Span, str, str], list[str]]
SYMBOLS: dict[str, Symbol] = {
    "coil": coil,
    "junction": junction,
    "thyristor": thyristor,
    "switch": switch,
    "fuse": fuse,
    "load": load,
    "motor": motor,
    "battery": battery,
    "plug_closed": plug_closed,
    "plug_open": plug_open,
}
