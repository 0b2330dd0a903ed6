"""The circuit for a page: alternator on the left, battery and loads on the right."""

from __future__ import annotations

from chargewright.machine.layout import Layout, Winding
from chargewright.pictures.facts import (
    half_wave,
    legs,
    node_words,
    sense_lead,
    shunt_symbol,
    star,
    to_battery,
    upper_symbol,
)
from chargewright.pictures.lying_coils import (
    coil_captions,
    coil_crossings,
    coil_edges,
    coil_handles,
    coil_nodes,
    frame_ends_x,
    half_wave_coil,
    harness_x,
    stator_tall,
)
from chargewright.pictures.schematic import (
    INSULATION,
    NEUTRAL,
    STATOR_BODY,
    Box,
    Caption,
    Edge,
    Line,
    Schematic,
)
from chargewright.pictures.svg import WIDTH, XY

LEAD_Y = {"a": 96.0, "b": 136.0, "c": 176.0}
NEUTRAL_X, ALT, REG = 34.0, 136.0, 172.0
LEFT, RIGHT, TOP, END = 196.0, 424.0, 18.0, 268.0  # the regulator's box
PLUS, MINUS = 40.0, 236.0
COLUMN = {"a": 240.0, "b": 304.0, "c": 368.0}
RAIL, FRAME = 112.0, 306.0
STARTER, BATTERY, GROUND = 474.0, 562.0, 216.0
FRAME_AT: XY = (320.0, FRAME)
HEIGHT = 334.0


def drawing(layout: Layout) -> Schematic:
    """Return the circuit of a layout, lying."""
    tall = stator_tall(layout)
    left, right = frame_ends_x(layout, GROUND)
    return Schematic(
        width=WIDTH["page"],
        height=HEIGHT,
        nodes=_nodes(layout),
        handles=_handles() | coil_handles(),
        edges=(
            *_windings(layout),
            *coil_edges(layout, body=_body(layout), frame=FRAME_AT, plus=PLUS, minus=MINUS),
            *_bridge(layout),
            *_direct(layout),
        ),
        boxes=(
            Box("alternator", (14.0, 66.0), 96.0, tall),
            Box("regulator", (LEFT, TOP), RIGHT - LEFT, END - TOP),
        ),
        captions=_captions(layout),
        frame_signs=(_body(layout), FRAME_AT),
        frame_bar=((left, FRAME), (right, FRAME)),
        crossings=_crossings(layout),
    )


def _body(layout: Layout) -> XY:
    """Return where the sign of the stator's iron hangs."""
    return 62.0, 66.0 + stator_tall(layout)


def _nodes(layout: Layout) -> dict[str, XY]:
    places: dict[str, XY] = {
        "battery_neg": (BATTERY, 220.0),
        "battery_pos": (BATTERY, RAIL),
        "fuse_out": (harness_x(layout), RAIL),
        "reg_out": (RIGHT, PLUS),
        "reg_body": (GROUND, END),
        "frame": FRAME_AT,
        "reg_sense": (RIGHT, 76.0),
        "starter_pos": (STARTER, RAIL),
    }
    places |= {f"alt_{leg}": (ALT, y) for leg, y in LEAD_Y.items()}
    places |= {f"reg_{leg}": (REG, y) for leg, y in LEAD_Y.items()}
    places |= coil_nodes(layout)
    found = {word: places[word] for word in node_words(layout)}
    if star(layout):
        found[NEUTRAL] = (NEUTRAL_X, LEAD_Y["b"])
    found[STATOR_BODY] = _body(layout)
    return found


def _handles() -> dict[str, XY]:
    found: dict[str, XY] = {
        "battery_neg": (32.0, 0.0),
        "battery_pos": (-20.0, -24.0),
        "fuse_out": (-20.0, 26.0),
        "reg_out": (24.0, -16.0),
        "reg_body": (-26.0, 16.0),
        "frame": (22.0, -24.0),
        "reg_sense": (26.0, 18.0),
        "starter_pos": (-20.0, 24.0),
    }
    found |= {f"alt_{leg}": (-14.0, -20.0) for leg in LEAD_Y}
    return found | {f"reg_{leg}": (12.0, -20.0) for leg in LEAD_Y}


def _windings(layout: Layout) -> list[Edge]:
    a, b, c = LEAD_Y["a"], LEAD_Y["b"], LEAD_Y["c"]
    body = _body(layout)
    if half_wave(layout):
        return [half_wave_coil(a, body), *_plugs(layout)]
    edges = []
    line: Line
    if star(layout):
        middle = (NEUTRAL_X, b)
        for leg, y in LEAD_Y.items():
            line = ((ALT, y), (92.0, y), (46.0, y), (NEUTRAL_X, y), middle)
            edges.append(Edge(f"winding_{leg}", f"alt_{leg}", NEUTRAL, line, "coil", 1))
    elif layout.winding is Winding.DELTA:
        near = 88.0
        for leg, other, y, y2 in (("a", "b", a, b), ("b", "c", b, c)):
            line = ((ALT, y), (near, y), (near, y + 5), (near, y2 - 5), (near, y2), (ALT, y2))
            edges.append(Edge(f"winding_{leg}", f"alt_{leg}", f"alt_{other}", line, "coil", 2))
        far = 40.0
        over = ((ALT, c), (far, c), (far, b + 20), (far, b - 20), (far, a), (ALT, a))
        edges.append(Edge("winding_c", "alt_c", "alt_a", over, "coil", 2))
    else:
        far = 60.0
        line = ((ALT, a), (far, a), (far, a + 3), (far, b - 3), (far, b), (ALT, b))
        edges.append(Edge("winding_a", "alt_a", "alt_b", line, "coil", 2))
    if star(layout):
        leak: Line = ((NEUTRAL_X, b), (NEUTRAL_X, 194.0), (62.0, 194.0), body)
        edges.append(Edge(INSULATION, NEUTRAL, STATOR_BODY, leak))
    else:
        edges.append(Edge(INSULATION, "alt_a", STATOR_BODY, ((ALT, a), (62.0, a), body)))
    return [*edges, *_plugs(layout)]


def _plugs(layout: Layout) -> list[Edge]:
    edges = []
    for leg in legs(layout):
        y = LEAD_Y[leg]
        line = ((ALT, y), (ALT + 7, y), (REG - 7, y), (REG, y))
        edges.append(Edge(f"plug_{leg}", f"alt_{leg}", f"reg_{leg}", line, "plug", 1))
    return edges


def _bridge(layout: Layout) -> list[Edge]:
    edges = []
    shunt = shunt_symbol(layout)
    for leg in legs(layout):
        y, column = LEAD_Y[leg], COLUMN[leg]
        cut, low = column + 28.0, 192.0
        lead = ((REG, y), (column, y))
        up = (*lead, (column, 82.0), (column, 56.0), (column, PLUS), (RIGHT, PLUS))
        edges.append(Edge(f"up_{leg}", f"reg_{leg}", "reg_out", up, upper_symbol(layout), 2))
        if half_wave(layout):
            continue
        body = ((GROUND, END), (GROUND, MINUS), (column, MINUS))
        down = (*body, (column, 226.0), (column, 200.0), (column, y), (REG, y))
        edges.append(Edge(f"dn_{leg}", "reg_body", f"reg_{leg}", down, "junction", 3))
        if shunt is not None:
            rest = ((cut, 200.0), (cut, 226.0), (cut, MINUS), *body[1::-1])
            line = (*lead, (column, low), (cut, low), *rest)
            edges.append(Edge(f"cut_{leg}", f"reg_{leg}", "reg_body", line, shunt, 4))
    return edges


def _direct(layout: Layout) -> list[Edge]:
    harness = harness_x(layout)
    positive, behind = (BATTERY, RAIL), (harness, RAIL)
    frame, out = FRAME_AT, (RIGHT, PLUS)
    goal = "battery_pos" if to_battery(layout) else "fuse_out"
    across = BATTERY if to_battery(layout) else harness
    lamp = (behind, (harness, 152.0), (harness, 186.0), (harness, FRAME), frame)
    cells = (positive, (BATTERY, 150.0), (BATTERY, 172.0), (BATTERY, 220.0))
    motor = ((STARTER, RAIL), (STARTER, 152.0), (STARTER, 184.0), (STARTER, FRAME), frame)
    middle = 0.5 * (BATTERY + harness) - 1.0
    fuse = (positive, (middle - 18.0, RAIL), (middle + 18.0, RAIL), behind)
    edges = [
        Edge("charge_lead", "reg_out", goal, (out, (across, PLUS), (across, RAIL))),
        Edge("fuse", "battery_pos", "fuse_out", fuse, "fuse", 1),
        Edge("loads", "fuse_out", "frame", lamp, "load", 1),
        Edge("battery", "battery_pos", "battery_neg", cells, "battery", 1),
        Edge("neg_cable", "frame", "battery_neg", (frame, (BATTERY, FRAME), (BATTERY, 220.0))),
        Edge("starter_cable", "battery_pos", "starter_pos", (positive, (STARTER, RAIL))),
        Edge("starter", "starter_pos", "frame", motor, "motor", 1),
        Edge("reg_ground", "reg_body", "frame", ((GROUND, END), (GROUND, FRAME), frame)),
    ]
    if sense_lead(layout):
        line = ((RIGHT, 76.0), (657.0, 76.0), (657.0, RAIL), behind)
        edges.append(Edge("sense", "reg_sense", "fuse_out", line))
    return edges


def _captions(layout: Layout) -> tuple[Caption, ...]:
    found = [
        Caption("part.alternator", (14.0, 56.0)),
        Caption("part.plug", (154.0, 56.0), "middle"),
        Caption("plug.state", (154.0, 72.0), "middle", bold=False),
        Caption("part.regulator", (234.0, 258.0)),
        Caption("part.fuse", (0.5 * (BATTERY + harness_x(layout)) - 1.0, 98.0), "middle"),
        Caption("part.battery", (580.0, 166.0)),
        Caption("sign.positive", (571.0, 147.0)),
        Caption("part.loads", (harness_x(layout) - 16.0, 204.0), "end"),
        Caption("part.starter", (496.0, 172.0)),
        Caption("part.frame", (338.0, 326.0)),
    ]
    found += coil_captions(layout)
    if sense_lead(layout):
        found.append(Caption("part.sense", (432.0, 70.0), bold=False))
    found += [Caption(f"lead.{leg}", (ALT + 2.0, LEAD_Y[leg] + 18.0)) for leg in legs(layout)]
    return tuple(found)


def _crossings(layout: Layout) -> tuple[tuple[str, XY, bool], ...]:
    """Return where leads pass under the columns of the leads before them."""
    letters = legs(layout)
    found = [
        (f"dn_{leg}", (COLUMN[leg], LEAD_Y[other]), True)
        for number, leg in enumerate(letters)
        for other in letters[number + 1 :]
    ]
    found += coil_crossings(layout, LEAD_Y)
    if to_battery(layout) and sense_lead(layout):
        found.append(("charge_lead", (BATTERY, 76.0), True))
    return tuple(found)
