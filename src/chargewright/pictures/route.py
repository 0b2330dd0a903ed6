"""Which way the current takes that a check looks at: the shortest way between its two points.

A wire counts one step, a part more, so that a drop is followed along its own wires, battery
volts across the battery, and a winding's ohms through its coils.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

from chargewright.machine.points import Function, Point, State
from chargewright.pictures.schematic import STATOR_BODY, Edge, Schematic

STEPS = {
    "winding": 2.0,
    "up": 3.0,
    "dn": 3.0,
    "battery": 1.5,
    "loads": 40.0,
    "starter": 40.0,
    "headlamp": 3.0,
    "feed": 3.0,
}
BACKWARDS = 10.0  # through a junction that blocks
ACROSS = 400.0  # through insulation
TESTS = frozenset({Function.OHM, Function.DIODE})
WIRES = frozenset(
    {"plug", "charge", "fuse", "neg", "reg", "sense", "starter_cable", "light", "lamp", "field"}
)


@dataclass(frozen=True, slots=True)
class Route:
    """Edges from red to black. ``blocked`` are passed the way they should not conduct."""

    edges: tuple[str, ...] = ()
    forward: tuple[bool, ...] = ()
    blocked: frozenset[str] = frozenset()
    flows: bool = False  # whether the reading itself has a direction from red to black


def route(
    drawing: Schematic,
    plus: Point | None,
    minus: Point | None,
    function: Function | None,
    state: State,
) -> Route:
    """Return the way between two points, empty where there is none or nothing is measured."""
    if plus is None or minus is None or plus is minus or function in (None, Function.LOOK):
        return Route()
    found = _shortest(drawing, plus.word, minus.word, function in TESTS, state)
    names = tuple(edge.id for edge, _ in found)
    tested = function in TESTS
    return Route(
        edges=names,
        forward=tuple(forward for _, forward in found),
        blocked=frozenset(
            edge.id
            for edge, forward in found
            if edge.insulates or (tested and edge.symbol in _VALVES and not forward)
        ),
        flows=tested
        or function in (Function.DC_A, Function.CLAMP_A)
        or (function is Function.DC_V and all(kind(name) in WIRES for name in names)),
    )


_VALVES = frozenset({"junction", "thyristor", "switch"})


def kind(name: str) -> str:
    """Return what sort of edge a name stands for."""
    return name if name == "starter_cable" else name.split("_")[0]


def is_open(edge: Edge, state: State) -> bool:
    """Tell whether the machine's state interrupts an edge."""
    if edge.symbol == "plug":
        return not state.plug_in
    return edge.id == "neg_cable" and not state.battery_in


def _shortest(
    drawing: Schematic, start: str, goal: str, tested: bool, state: State
) -> list[tuple[Edge, bool]]:
    near: dict[str, list[tuple[float, str, Edge, bool]]] = {}
    for edge in drawing.edges:
        if is_open(edge, state) or edge.id.startswith("cut_"):
            continue
        if not state.battery_in and edge.id == "battery":
            continue
        # the iron of the stator is bolted to the engine: it is frame
        first, last = ("frame" if n == STATOR_BODY else n for n in (edge.start, edge.end))
        for here, there, forward in ((first, last, True), (last, first, False)):
            near.setdefault(here, []).append((_steps(edge, forward, tested), there, edge, forward))
    best: dict[str, float] = {start: 0.0}
    came: dict[str, tuple[str, Edge, bool]] = {}
    queue = [(0.0, start)]
    while queue:
        cost, here = heapq.heappop(queue)
        if here == goal:
            break
        for step, there, edge, forward in near.get(here, ()):
            if cost + step < best.get(there, 1e9) - 1e-9:
                best[there] = cost + step
                came[there] = (here, edge, forward)
                heapq.heappush(queue, (cost + step, there))
    return _back(came, start, goal)


def _steps(edge: Edge, forward: bool, tested: bool) -> float:
    if edge.insulates:
        return ACROSS
    if tested and edge.symbol in _VALVES and not forward:
        return BACKWARDS
    return STEPS.get(kind(edge.id), 1.0)


def _back(
    came: dict[str, tuple[str, Edge, bool]], start: str, goal: str
) -> list[tuple[Edge, bool]]:
    """Return the way in order."""
    way: list[tuple[Edge, bool]] = []
    here = goal
    while here != start and here in came:
        before, edge, forward = came[here]
        way.append((edge, forward))
        here = before
    return way[::-1]
