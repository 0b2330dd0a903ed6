"""The circuit for a phone: alternator on top, then plug, regulator-rectifier, battery, frame."""

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
from chargewright.pictures.upright_coils import (
    alternator_caption,
    coil_captions,
    coil_crossings,
    coil_edges,
    coil_handles,
    coil_nodes,
    half_wave_coil,
    harness_x,
    plug_x,
    right_end_x,
    stator_x,
)

LEAD_X = {"a": 64.0, "b": 128.0, "c": 192.0}
TOP, ALT, REG = 14.0, 84.0, 116.0  # neutral, and both sides of the plug
BOX_TOP, PLUS, MID, MINUS, BOX_END = 130.0, 152.0, 194.0, 240.0, 272.0
RIGHT = 258.0  # edge of the regulator's box
RAIL, FRAME = 312.0, 416.0
STARTER, BATTERY, GROUND = 128.0, 214.0, 46.0
FRAME_AT: XY = (84.0, FRAME)
HEIGHT = 440.0


def drawing(layout: Layout) -> Schematic:
    """Return the circuit of a layout, upright."""
    nodes = _nodes(layout)
    return Schematic(
        width=WIDTH["phone"],
        height=HEIGHT,
        nodes=nodes,
        handles=_handles() | coil_handles(),
        edges=(
            *_windings(layout),
            *coil_edges(
                layout, body=(stator_x(layout), 42.0), frame=FRAME_AT, plus=PLUS, minus=MINUS
            ),
            *_bridge(layout),
            *_direct(layout),
        ),
        boxes=(
            Box("alternator", (34.0, 3.0), stator_x(layout) - 50.0, 66.0),
            Box("regulator", (30.0, BOX_TOP), RIGHT - 30.0, BOX_END - BOX_TOP),
        ),
        captions=_captions(layout),
        frame_signs=((stator_x(layout), 42.0), (FRAME_AT[0], FRAME)),
        frame_bar=((GROUND, FRAME), (right_end_x(layout), FRAME)),
        crossings=_crossings(layout),
    )


def _nodes(layout: Layout) -> dict[str, XY]:
    places: dict[str, XY] = {
        "battery_neg": (BATTERY, 372.0),
        "battery_pos": (BATTERY, RAIL),
        "fuse_out": (harness_x(layout), RAIL),
        "reg_out": (RIGHT, PLUS),
        "reg_body": (GROUND, BOX_END),
        "frame": FRAME_AT,
        "reg_sense": (RIGHT, MID),
        "starter_pos": (STARTER, RAIL),
    }
    places |= {f"alt_{leg}": (x, ALT) for leg, x in LEAD_X.items()}
    places |= {f"reg_{leg}": (x, REG) for leg, x in LEAD_X.items()}
    places |= coil_nodes(layout)
    found = {word: places[word] for word in node_words(layout)}
    if star(layout):
        found[NEUTRAL] = (LEAD_X["b"], TOP)
    found[STATOR_BODY] = (stator_x(layout), 42.0)
    return found


def _handles() -> dict[str, XY]:
    found: dict[str, XY] = {
        "battery_neg": (30.0, 0.0),
        "battery_pos": (-22.0, -22.0),
        "fuse_out": (21.0, -20.0),
        "reg_out": (24.0, -20.0),
        "reg_body": (24.0, 20.0),
        "frame": (22.0, -24.0),
        "reg_sense": (26.0, -14.0),
        "starter_pos": (-20.0, -22.0),
    }
    found |= {f"alt_{leg}": (-28.0, 0.0) for leg in LEAD_X}
    return found | {f"reg_{leg}": (-28.0, 1.0) for leg in LEAD_X}


def _windings(layout: Layout) -> list[Edge]:
    """Return coils, what insulates them from the frame, and the plug."""
    a, b, c = LEAD_X["a"], LEAD_X["b"], LEAD_X["c"]
    leak: Line
    body = (stator_x(layout), 42.0)
    edges = []
    line: Line
    if half_wave(layout):
        return [half_wave_coil(a, body), *_plugs(layout)]
    if star(layout):
        middle = (b, TOP)
        for leg, x in LEAD_X.items():
            line = ((x, ALT), (x, 62.0), (x, 24.0), (x, TOP), middle)
            edges.append(Edge(f"winding_{leg}", f"alt_{leg}", NEUTRAL, line, "coil", 1))
        leak = (middle, (160.0, TOP), (160.0, 30.0), (body[0], 30.0), body)
    elif layout.winding is Winding.DELTA:
        low = 54.0
        for leg, other, x, x2 in (("a", "b", a, b), ("b", "c", b, c)):
            line = ((x, ALT), (x, low), (x + 12, low), (x2 - 12, low), (x2, low), (x2, ALT))
            edges.append(Edge(f"winding_{leg}", f"alt_{leg}", f"alt_{other}", line, "coil", 2))
        top = 24.0
        over = ((c, ALT), (c, top), (b + 20, top), (b - 20, top), (a, top), (a, ALT))
        edges.append(Edge("winding_c", "alt_c", "alt_a", over, "coil", 2))
        leak = ((a, ALT), (a, 42.0), body)
    else:
        low = 36.0
        line = ((a, ALT), (a, low), (a + 10, low), (b - 10, low), (b, low), (b, ALT))
        edges.append(Edge("winding_a", "alt_a", "alt_b", line, "coil", 2))
        leak = ((a, ALT), (a, 42.0), body)
    edges.append(Edge(INSULATION, NEUTRAL if star(layout) else "alt_a", STATOR_BODY, leak))
    return [*edges, *_plugs(layout)]


def _plugs(layout: Layout) -> list[Edge]:
    edges = []
    for leg in legs(layout):
        x = LEAD_X[leg]
        line = ((x, ALT), (x, ALT + 5), (x, REG - 5), (x, REG))
        edges.append(Edge(f"plug_{leg}", f"alt_{leg}", f"reg_{leg}", line, "plug", 1))
    return edges


def _bridge(layout: Layout) -> list[Edge]:
    edges = []
    shunt = shunt_symbol(layout)
    for leg in legs(layout):
        x = LEAD_X[leg]
        column, cut = x + 21.0, x + 46.0
        lead = ((x, REG), (x, MID), (column, MID))
        up = (*lead, (column, 188.0), (column, 163.0), (column, PLUS), (RIGHT, PLUS))
        edges.append(Edge(f"up_{leg}", f"reg_{leg}", "reg_out", up, upper_symbol(layout), 3))
        if half_wave(layout):
            continue
        body = ((GROUND, BOX_END), (GROUND, MINUS), (column, MINUS))
        down = (*body, (column, 229.0), (column, 204.0), (column, MID), (x, MID), (x, REG))
        edges.append(Edge(f"dn_{leg}", "reg_body", f"reg_{leg}", down, "junction", 3))
        if shunt is not None:
            line = (*lead, (cut, MID), (cut, 204.0), (cut, 229.0), (cut, MINUS), *body[1::-1])
            edges.append(Edge(f"cut_{leg}", f"reg_{leg}", "reg_body", line, shunt, 4))
    return edges


def _direct(layout: Layout) -> list[Edge]:
    """Return the direct-current side: charge lead, fuse, battery, loads, starter, grounds."""
    harness = harness_x(layout)
    positive, behind = (BATTERY, RAIL), (harness, RAIL)
    frame = FRAME_AT
    out = (RIGHT, PLUS)
    charge: Line
    if to_battery(layout):
        goal, charge = (
            "battery_pos",
            (out, (286.0, PLUS), (286.0, 282.0), (BATTERY, 282.0), positive),
        )
    else:
        goal, charge = "fuse_out", (out, (harness, PLUS), behind)
    lamp = ((harness, RAIL), (harness, 342.0), (harness, 374.0), (harness, FRAME), frame)
    cells = (positive, (BATTERY, 333.0), (BATTERY, 353.0), (BATTERY, 372.0))
    motor = ((STARTER, RAIL), (STARTER, 334.0), (STARTER, 364.0), (STARTER, FRAME), frame)
    edges = [
        Edge("charge_lead", "reg_out", goal, charge),
        Edge(
            "fuse",
            "battery_pos",
            "fuse_out",
            (positive, (250, RAIL), (284, RAIL), behind),
            "fuse",
            1,
        ),
        Edge("loads", "fuse_out", "frame", lamp, "load", 1),
        Edge("battery", "battery_pos", "battery_neg", cells, "battery", 1),
        Edge("neg_cable", "frame", "battery_neg", (frame, (BATTERY, FRAME), (BATTERY, 372.0))),
        Edge("starter_cable", "battery_pos", "starter_pos", (positive, (STARTER, RAIL))),
        Edge("starter", "starter_pos", "frame", motor, "motor", 1),
        Edge("reg_ground", "reg_body", "frame", ((GROUND, BOX_END), (GROUND, FRAME), frame)),
    ]
    if sense_lead(layout):
        line = ((RIGHT, MID), (304.0, MID), (304.0, 298.0), (harness, 298.0), behind)
        edges.append(Edge("sense", "reg_sense", "fuse_out", line))
    return edges


def _captions(layout: Layout) -> tuple[Caption, ...]:
    beside = plug_x(layout)
    found = [
        alternator_caption(layout),
        Caption("part.plug", (beside, 97.0)),
        Caption("plug.state", (beside, 113.0), bold=False),
        Caption("part.regulator", (62.0, 263.0)),
        Caption("part.fuse", (267.0, 301.0), "middle"),
        Caption("part.battery", (231.0, 348.0)),
        Caption("sign.positive", (222.0, 331.0)),
        Caption("part.loads", (harness_x(layout) - 16.0, 398.0), "end"),
        Caption("part.starter", (149.0, 384.0)),
        Caption("part.frame", (104.0, 437.0)),
    ]
    found += coil_captions(layout)
    if sense_lead(layout):
        found.append(Caption("part.sense", (257.0, 182.0), "end", bold=False))
    found += [Caption(f"lead.{leg}", (LEAD_X[leg] + 8.0, ALT + 1.0)) for leg in legs(layout)]
    return tuple(found)


def _crossings(layout: Layout) -> tuple[tuple[str, XY, bool], ...]:
    """Return where a lead passes under the plus rail, and the sense lead under the charge lead."""
    rail = f"up_{legs(layout)[0]}"
    found = [(rail, (LEAD_X[leg], PLUS), False) for leg in legs(layout)[1:]]
    found += coil_crossings(layout, rail, PLUS)
    if to_battery(layout) and sense_lead(layout):
        found.append(("charge_lead", (286.0, MID), True))
    return tuple(found)
