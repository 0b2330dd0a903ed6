"""Where everything of a circuit lies on the paper: one table of places for each size.

Nodes are the test points by their words, and a few joints of the alternator. An edge is a wire
or a part between two nodes, named as in ``circuit/wires.py`` where that table knows it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from chargewright.machine.layout import Layout
from chargewright.pictures.svg import XY, Anchor, Size

NEUTRAL = "neutral"
STATOR_BODY = "stator_body"  # the iron the coils sit on: bolted to the engine, which is frame
INSULATION = "stator_insulation"
FIELD_INSULATION = "field_insulation"
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

    @property
    def insulates(self) -> bool:
        """Whether this is insulation: never drawn, but shown where a check looks for a leak."""
        return self.id in (INSULATION, FIELD_INSULATION)


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
