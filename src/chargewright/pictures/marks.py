"""What lies on top of a circuit: probes, clamp, eye, the meter's dial, the way of the current.

Red and black are told apart three ways: a round and a square handle, plus and minus on them,
and their colours.
"""

from __future__ import annotations

import math
from collections.abc import Container, Sequence
from itertools import groupby, pairwise

from chargewright.machine.points import Function, Point
from chargewright.pictures.ink import Ink
from chargewright.pictures.schematic import Edge
from chargewright.pictures.svg import XY, label, polygon, polyline, tag
from chargewright.pictures.symbols import STROKE

HANDLE = 12.0  # half the size of a probe's handle
BAND = 10.0  # breadth of the way of the current
ARROW = 7.0


def probe(role: str, node: str, at: XY, reach: XY, ink: Ink) -> str:
    """Return a probe whose tip is on a node; ``role`` is ``plus`` or ``minus``."""
    x, y = at[0] + reach[0], at[1] + reach[1]
    colour = ink.plus if role == "plus" else ink.minus
    edge = ink.paper if role == "plus" else ink.minus_edge
    needle = [at, (x, y)]
    parts = [
        polyline(needle, stroke=edge, stroke_width=8.0),
        polyline(needle, stroke=colour, stroke_width=5.0),
        tag("circle", cx=at[0], cy=at[1], r=6.0, fill=colour, stroke=edge, stroke_width=1.6),
        handle(role, (x, y), ink),
    ]
    return tag(
        "g",
        *parts,
        class_=f"probe {role}",
        data_probe=role,
        data_node=node,
        data_x=at[0],
        data_y=at[1],
    )


def handle(role: str, at: XY, ink: Ink, size: float = HANDLE) -> str:
    """Return a probe's handle: a red disc with a plus, or a black square with a minus."""
    x, y = at
    arm = 0.46 * size
    if role == "plus":
        body = tag("circle", cx=x, cy=y, r=size, fill=ink.plus, stroke=ink.paper, stroke_width=1.6)
        sign = [polyline([(x, y - arm), (x, y + arm)], stroke=ink.plus_text, stroke_width=3.0)]
        text = ink.plus_text
    else:
        corner = size - 1.0
        body = tag(
            "rect",
            x=x - corner,
            y=y - corner,
            width=2.0 * corner,
            height=2.0 * corner,
            fill=ink.minus,
            stroke=ink.minus_edge,
            stroke_width=1.6,
        )
        sign, text = [], ink.minus_text
    sign.append(polyline([(x - arm, y), (x + arm, y)], stroke=text, stroke_width=3.0))
    return body + "".join(sign)


def clamp(at: XY, angle: float, ink: Ink, *, size: float = 13.0) -> str:
    """Return a clamp's jaws round a wire at ``at``, its arrow pointing along ``angle`` [rad]."""
    x, y = at
    ring = tag("circle", cx=x, cy=y, r=size, fill="none", stroke=ink.paper, stroke_width=8.5)
    jaws = tag("circle", cx=x, cy=y, r=size, fill="none", stroke=ink.plus, stroke_width=5)
    gap = (x + size * math.sin(angle), y - size * math.cos(angle))
    parting = tag("circle", cx=gap[0], cy=gap[1], r=3.4, fill=ink.paper)
    return tag("g", ring, jaws, parting, arrow(at, angle, ink.plus, 8.0), class_="clamp")


def place(role: str, node: str, at: XY, ink: Ink) -> str:
    """Return a ring round a node that is named but not touched."""
    ring = tag("circle", cx=at[0], cy=at[1], r=8.0, fill="none", stroke=ink.plus, stroke_width=2.6)
    return tag(
        "g",
        ring,
        class_=f"place {role}",
        data_probe=role,
        data_node=node,
        data_x=at[0],
        data_y=at[1],
    )


def eye(at: XY, ink: Ink) -> str:
    """Return an eye."""
    x, y = at
    lid = f"M{x - 15} {y}Q{x} {y - 16} {x + 15} {y}Q{x} {y + 16} {x - 15} {y}Z"
    return tag("path", d=lid, fill=ink.paper, stroke=ink.ink, stroke_width=STROKE) + tag(
        "circle", cx=x, cy=y, r=5.0, fill=ink.ink
    )


def arrow(at: XY, angle: float, colour: str, size: float = ARROW) -> str:
    """Return an arrow head centred on ``at``."""
    corners = []
    for turn, reach in ((0.0, size), (2.5, size), (math.pi, 0.35 * size), (-2.5, size)):
        corners.append(
            (at[0] + reach * math.cos(angle + turn), at[1] + reach * math.sin(angle + turn))
        )
    return polygon(corners, fill=colour)


def bands(edges: Sequence[tuple[Edge, bool]], blocked: Container[str], ink: Ink) -> list[str]:
    """Return broad stripes under the way of (edge, forward), dashed where it is ``blocked``."""
    made = []
    for closed, group in groupby(edges, key=lambda pair: pair[0].id in blocked):
        pairs = list(group)
        line: list[XY] = []
        for edge, forward in pairs:
            for place in edge.line if forward else edge.line[::-1]:
                _go(line, place)
        made.append(
            polyline(
                line,
                stroke=ink.path,
                stroke_width=BAND,
                stroke_dasharray="3 13" if closed else None,
                class_="route",
                data_route=" ".join(edge.id for edge, _ in pairs),
            )
        )
    return made


def _go(line: list[XY], place: XY) -> None:
    """Lengthen a line; going back the way it came shortens it instead."""
    if line and line[-1] == place:
        return
    if len(line) > 1 and line[-2] == place:
        line.pop()
    else:
        line.append(place)


def ammeter(at: XY, ink: Ink) -> str:
    """Return a meter in the wire."""
    x, y = at
    ring = tag("circle", cx=x, cy=y, r=13.0, fill=ink.paper, stroke=ink.ink, stroke_width=STROKE)
    return ring + label((x, y + 5.0), "A", fill=ink.ink, bold=True, anchor="middle", role="symbol")


def longest(line: Sequence[XY], frame_y: float) -> tuple[XY, float]:
    """Return the middle of a line's longest straight, and its direction.

    What runs along the frame at height ``frame_y`` is shared and only counts when nothing else
    is there.
    """
    pairs = list(pairwise(line))
    own = [pair for pair in pairs if not pair[0][1] == pair[1][1] == frame_y]
    a, b = max(own or pairs, key=lambda pair: math.dist(*pair))
    return ((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0), math.atan2(b[1] - a[1], b[0] - a[0])


def dial(at: XY, function: Function | None, ink: Ink) -> str:
    """Return the meter as a circle with what it measures, as a circuit diagram shows one."""
    x, y = at
    if function is Function.LOOK or function is None:
        return eye(at, ink)
    parts = [tag("circle", cx=x, cy=y, r=17.0, fill="none", stroke=ink.ink, stroke_width=STROKE)]
    letter = {Function.OHM: "Ω", Function.DC_A: "A", Function.CLAMP_A: "A"}.get(function, "V")
    if function is Function.DIODE:
        parts.append(polygon([(x - 7, y - 7), (x - 7, y + 7), (x + 6, y)], fill=ink.ink))
        parts.append(polyline([(x + 7, y - 7), (x + 7, y + 7)], stroke=ink.ink, stroke_width=3.0))
        return "".join(parts)
    high = y + 5.0 if function is Function.OHM else y + 2.0
    parts.append(label((x, high), letter, fill=ink.ink, bold=True, anchor="middle", role="symbol"))
    if function is Function.AC_V:
        wave = f"M{x - 7} {y + 8}q3.5 -6 7 0t7 0"
        parts.append(tag("path", d=wave, fill="none", stroke=ink.ink, stroke_width=2.0))
    elif function is not Function.OHM:
        parts.append(polyline([(x - 7, y + 6), (x + 7, y + 6)], stroke=ink.ink, stroke_width=2.0))
        dashes = [(x - 7, y + 10), (x + 7, y + 10)]
        parts.append(
            polyline(
                dashes,
                stroke=ink.ink,
                stroke_width=2.0,
                stroke_dasharray="3 2.5",
                stroke_linecap="butt",
            )
        )
    return "".join(parts)


def node_dot(point: Point | None, name: str, at: XY, ink: Ink, prefix: str) -> str:
    """Return a test point (a small ring) or a joint (a dot)."""
    ring = point is not None
    return tag(
        "circle",
        id=f"{prefix}-node-{name}",
        data_node=name,
        cx=at[0],
        cy=at[1],
        r=4.2 if ring else 3.0,
        fill=ink.paper if ring else ink.ink,
        stroke=ink.ink,
        stroke_width=STROKE - 0.4,
    )
