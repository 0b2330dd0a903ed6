"""Where everything of a circuit lies on the paper: one table of places for each size.

Nodes are the test points by their words, and a few joints of the alternator. An edge is a wire
or a part between two nodes, named as in ``circuit/wires.py`` where that table knows it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense, Winding
from chargewright.machine.points import Point
from chargewright.pictures.svg import XY, Anchor, Size

NEUTRAL = "neutral"
STATOR_BODY = "stator_body"  # the iron the coils sit on: bolted to the engine, which is frame
INSULATION = "stator_insulation"
Line = tuple[XY, ...]


@dataclass(frozen=True, slots=True)
class Edge:
    """A wire or part from node ``start`` to ``end`` along ``line``.

    ``symbol`` names a symbol that takes the place of segment number ``body`` of the line.
    Current through a junction passes from start to end.
    """

    id: str
    start: str
    end: str
    line: Line
    symbol: str | None = None
    body: int = -1


@dataclass(frozen=True, slots=True)
class Caption:
    """A word beside a part."""

    key: str
    at: XY
    anchor: Anchor = "start"
    bold: bool = True


@dataclass(frozen=True, slots=True)
class Box:
    """A dashed outline round what is one part."""

    id: str
    corner: XY
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Schematic:
    """A circuit laid out, in pixels. ``crossings`` are (edge on top, place, vertical)."""

    width: float
    height: float
    nodes: dict[str, XY]
    handles: dict[str, XY]  # from a node to the middle of a probe's handle
    edges: tuple[Edge, ...]
    boxes: tuple[Box, ...]
    captions: tuple[Caption, ...]
    frame_signs: tuple[XY, ...]
    frame_bar: tuple[XY, XY]  # the metal that all grounds meet on
    crossings: tuple[tuple[str, XY, bool], ...]

    def edge(self, name: str) -> Edge:
        """Return the edge ``name``."""
        return next(edge for edge in self.edges if edge.id == name)

    def moved(self, down: float) -> Schematic:
        """Return the same drawing ``down`` pixels lower."""

        def at(place: XY) -> XY:
            return place[0], place[1] + down

        return replace(
            self,
            nodes={name: at(place) for name, place in self.nodes.items()},
            edges=tuple(replace(e, line=tuple(at(p) for p in e.line)) for e in self.edges),
            boxes=tuple(replace(box, corner=at(box.corner)) for box in self.boxes),
            captions=tuple(replace(c, at=at(c.at)) for c in self.captions),
            frame_signs=tuple(at(place) for place in self.frame_signs),
            frame_bar=(at(self.frame_bar[0]), at(self.frame_bar[1])),
            crossings=tuple((name, at(place), up) for name, place, up in self.crossings),
        )


def schematic(layout: Layout, size: Size) -> Schematic:
    """Return the circuit of a layout, drawn upright for a phone or lying for a page."""
    from chargewright.pictures import lying, upright

    return upright.drawing(layout) if size == "phone" else lying.drawing(layout)


def legs(layout: Layout) -> str:
    """Return the letters of the alternator's leads."""
    return "abc"[: layout.phases]


def node_words(layout: Layout) -> list[str]:
    """Return the words of the test points a machine of this layout has."""
    missing = set()
    if layout.winding is Winding.SINGLE:
        missing |= {Point.ALT_C, Point.REG_C}
    if layout.sense is not Sense.LEAD:
        missing.add(Point.REG_SENSE)
    return [point.word for point in Point if point not in missing]


def upper_symbol(layout: Layout) -> str:
    """Return the symbol between a lead and the output: a series regulator's can be switched."""
    if layout.regulator is not Regulator.SERIES:
        return "junction"
    return "switch" if layout.mosfet else "thyristor"


def shunt_symbol(layout: Layout) -> str | None:
    """Return the symbol of what shorts a lead to the body, none where nothing does."""
    if layout.regulator is not Regulator.SHUNT:
        return None
    return "switch" if layout.mosfet else "thyristor"


def to_battery(layout: Layout) -> bool:
    """Tell whether the regulator's output lead ends at the battery."""
    return layout.charge_to is ChargeTo.BATTERY
