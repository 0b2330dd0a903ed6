"""The charging circuit with both probes on it: what to touch, and what the check looks at."""

from __future__ import annotations

from chargewright.checks.looks import Sign
from chargewright.machine.layout import Layout, Regulator
from chargewright.machine.points import POINT_BY_WORD, Function, Point, State
from chargewright.pictures import marks
from chargewright.pictures.ink import Ink, Theme, ink_of
from chargewright.pictures.legend import foot, head, sentences
from chargewright.pictures.look import Places, highlighted, places_of
from chargewright.pictures.route import Route, is_open, route
from chargewright.pictures.schematic import (
    STATOR_BODY,
    Edge,
    Schematic,
    schematic,
)
from chargewright.pictures.svg import (
    SMALL,
    TEXT,
    WIDTH,
    XY,
    Size,
    document,
    label,
    polyline,
    tag,
)
from chargewright.pictures.symbols import STROKE, SYMBOLS, Span, frame_sign
from chargewright.pictures.words import ENGLISH, Words, dial_words, say, state_words

IN_WIRE = frozenset({Function.CLAMP_A, Function.DC_A})


def circuit_picture(
    layout: Layout,
    *,
    plus: Point | None,
    minus: Point | None,
    function: Function | None,
    state: State,
    look: Sign | None = None,
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    name: str = "circuit",
) -> str:
    """Return the circuit of ``layout`` as SVG text with the probes of one check on it.

    ``plus`` and ``minus`` are none for a look without a place and for an act; ``look`` is a
    look's sign, whose parts are then marked. ``name`` begins every id in the picture.
    """
    ink = ink_of(theme)
    above, top = head(function, state, ink, words, WIDTH[size])
    drawing = schematic(layout, size).moved(top)
    way = route(drawing, plus, minus, function, state)
    looked_at = places_of(look, drawing) if look is not None else Places()
    legend = sentences(plus, minus, function, words)
    keys = [
        ("route", set(way.edges) - way.blocked),
        ("route.blocked", way.blocked),
        ("look.places", looked_at),
    ]
    below, height = foot(
        legend,
        tuple(key for key, there in keys if there),
        ink,
        words,
        width=WIDTH[size],
        top=top + drawing.height + 12.0,
    )
    about = ". ".join(
        [
            f"{dial_words(words, function)}, {state_words(words, state)}",
            *(text for _, text in legend),
        ]
    )
    body = [
        *above,
        *highlighted(looked_at, drawing, ink),
        *marks.bands(
            [(drawing.edge(e), f) for e, f in zip(way.edges, way.forward, strict=True)],
            way.blocked,
            ink,
        ),
        *_parts(drawing, state, way, ink, name),
        *_captions(drawing, layout, state, ink, words),
        *_arrows(drawing, way, function, ink),
        *_probes(drawing, way, plus, minus, function, ink),
        *below,
    ]
    return document(
        body,
        width=WIDTH[size],
        height=height,
        title=say(words, "circuit.title", check=dial_words(words, function)),
        about=about,
        ink=ink,
        name=name,
    )


def _parts(drawing: Schematic, state: State, way: Route, ink: Ink, name: str) -> list[str]:
    made = [
        tag(
            "rect",
            x=box.corner[0],
            y=box.corner[1],
            width=box.width,
            height=box.height,
            rx=10,
            fill="none",
            stroke=ink.soft,
            stroke_width=1.6,
            stroke_dasharray="6 5",
            id=f"{name}-box-{box.id}",
        )
        for box in drawing.boxes
    ]
    made.append(polyline(drawing.frame_bar, stroke=ink.ink, stroke_width=5.0))
    for edge in drawing.edges:
        if not edge.insulates:
            made.append(_edge(edge, state, ink, name))
    for on_top, place, vertical in drawing.crossings:
        made.append(_crossing(place, vertical, on_top in way.edges, ink))
    for place in drawing.frame_signs:
        made += frame_sign(place, ink.ink)
    for word, place in drawing.nodes.items():
        if word != STATOR_BODY:
            made.append(marks.node_dot(POINT_BY_WORD.get(word), word, place, ink, name))
    return made


def _edge(edge: Edge, state: State, ink: Ink, name: str) -> str:
    """Return a wire or part, taken apart where the state opens it."""
    parts: list[str] = []
    apart = is_open(edge, state)
    symbol = edge.symbol
    if symbol == "plug":
        symbol = "plug_open" if apart else "plug_closed"
    if symbol is None:
        gap = apart and edge.id == "neg_cable"
        parts.append(_wire(edge.line[:-1] if gap else edge.line, ink))
        if gap:
            (x, y), (_, y2) = edge.line[-2:]
            parts.append(_wire(((x, y), (x, y + 0.35 * (y2 - y))), ink))
            parts.append(_wire(((x, y + 0.35 * (y2 - y)), (x + 12, y + 0.7 * (y2 - y))), ink))
    else:
        before, after = edge.line[: edge.body + 1], edge.line[edge.body + 1 :]
        parts += [_wire(line, ink) for line in (before, after) if len(line) > 1]
        parts += SYMBOLS[symbol](Span(before[-1], after[0]), ink.ink, ink.paper)
    return tag(
        "g",
        *parts,
        id=f"{name}-edge-{edge.id}",
        data_edge=edge.id,
        data_from=edge.start,
        data_to=edge.end,
    )


def _wire(line: tuple[XY, ...], ink: Ink) -> str:
    return polyline(line, stroke=ink.ink, stroke_width=STROKE)


def _crossing(place: XY, vertical: bool, lit: bool, ink: Ink) -> str:
    """Return a short piece of the wire on top, with a gap in the one below it."""
    x, y = place
    ends = [(x, y - 7.0), (x, y + 7.0)] if vertical else [(x - 7.0, y), (x + 7.0, y)]
    parts = [polyline(ends, stroke=ink.paper, stroke_width=11.0, stroke_linecap="butt")]
    if lit:
        parts.append(
            polyline(ends, stroke=ink.path, stroke_width=marks.BAND, stroke_linecap="butt")
        )
    return "".join([*parts, polyline(ends, stroke=ink.ink, stroke_width=STROKE)])


def _captions(
    drawing: Schematic, layout: Layout, state: State, ink: Ink, words: Words
) -> list[str]:
    made = []
    for caption in drawing.captions:
        key = caption.key
        if key == "plug.state":
            key = "plug.closed" if state.plug_in else "plug.open"
        if key == "part.regulator" and layout.regulator is Regulator.NONE:
            key = "part.rectifier"
        made.append(
            label(
                caption.at,
                say(words, key),
                fill=ink.ink if caption.bold else ink.soft,
                size=TEXT if caption.bold else SMALL + 1.0,
                bold=caption.bold,
                anchor=caption.anchor,
                role="caption",
            )
        )
    return made


def _arrows(drawing: Schematic, way: Route, function: Function | None, ink: Ink) -> list[str]:
    """Return one arrow per wire, from red to black, where the reading has that direction."""
    if not way.flows or function in IN_WIRE:
        return []
    made = []
    for edge_id, forward in zip(way.edges, way.forward, strict=True):
        edge = drawing.edge(edge_id)
        if edge.symbol is not None:
            continue
        line = edge.line if forward else edge.line[::-1]
        made.append(marks.arrow(*marks.longest(line, drawing.frame_bar[0][1]), ink.ink))
    return made


def _probes(
    drawing: Schematic,
    way: Route,
    plus: Point | None,
    minus: Point | None,
    function: Function | None,
    ink: Ink,
) -> list[str]:
    """Return the two probes; for a clamp its jaws between two marked points; for a look an eye."""
    if function is None:
        return []
    roles = [(role, p) for role, p in (("plus", plus), ("minus", minus)) if p is not None]
    made = []
    if function in IN_WIRE and way.edges:
        edge = drawing.edge(way.edges[0])
        line = edge.line if way.forward[0] else edge.line[::-1]
        at, angle = marks.longest(line, drawing.frame_bar[0][1])
        made += [marks.place(role, p.word, drawing.nodes[p.word], ink) for role, p in roles]
        if function is Function.CLAMP_A:
            return [*made, marks.clamp(at, angle, ink)]
        made = [marks.ammeter(at, ink)]
    for role, point in roles:
        at, reach = drawing.nodes[point.word], drawing.handles[point.word]
        if plus is minus and role == "minus":
            reach = (-reach[0], reach[1])
        if function is Function.LOOK:
            made.append(marks.place(role, point.word, at, ink))
        else:
            made.append(marks.probe(role, point.word, at, reach, ink))
    return made
