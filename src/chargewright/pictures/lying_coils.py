"""Coils of other kinds for a page: half-wave charging, a lighting coil, a rotor's field coil."""

from __future__ import annotations

from chargewright.machine.layout import Layout
from chargewright.pictures.facts import field_coil, lighting_coil
from chargewright.pictures.schematic import FIELD_INSULATION, STATOR_BODY, Caption, Edge
from chargewright.pictures.svg import XY

COMMON_X, ALT, REG = 34.0, 136.0, 172.0  # neutral or common end, and both sides of the plug
FIELD_Y, FIELD_END_Y = 216.0, 256.0
SUPPLY, HARNESS = (424.0, 20.0), (668.0, 112.0)
ASIDE_X, OVER_BOX, FEED_X, CUT_X, EDGE_X = 184.0, 8.0, 210.0, 368.0, 205.0
LAMP: XY = (702.0, 112.0)


def light_y(layout: Layout) -> float:
    """Return the row of the lighting lead, below those of the alternator."""
    return 216.0 if layout.phases == 3 else 176.0


def coil_nodes(layout: Layout) -> dict[str, XY]:
    """Return the points of a lighting or field coil, those the layout lacks included."""
    return {
        "light_coil": (ALT, light_y(layout)),
        "light_reg": (REG, light_y(layout)),
        "lamp": LAMP,
        "field_pos": (ALT, FIELD_Y),
        "reg_field": (REG, FIELD_Y),
        "field_neg": (ALT, FIELD_END_Y),
        "reg_supply": SUPPLY,
    }


def coil_handles() -> dict[str, XY]:
    """Return where probes are held on these points."""
    return {
        "light_coil": (-14.0, -20.0),
        "light_reg": (-6.0, -22.0),
        "lamp": (-18.0, -26.0),
        "field_pos": (-14.0, -20.0),
        "reg_field": (10.0, 20.0),
        "field_neg": (-14.0, -20.0),
        "reg_supply": (22.0, 20.0),
    }


def half_wave_coil(y: float, body: XY) -> Edge:
    """Return the charging coil of a half-wave machine, its far end on the stator's iron."""
    return Edge("winding_a", "alt_a", STATOR_BODY, _to_iron(y, body), "coil", 1)


def _to_iron(y: float, body: XY) -> tuple[XY, ...]:
    low = body[1] - 12.0
    return (
        (ALT, y), (92.0, y), (46.0, y), (COMMON_X, y), (COMMON_X, low), (body[0], low), body,
    )  # fmt: skip


def coil_edges(layout: Layout, *, body: XY, frame: XY, plus: float, minus: float) -> list[Edge]:
    """Return lighting circuit and field circuit, as far as the layout has them.

    ``body`` is the stator's iron, ``plus`` and ``minus`` the heights of the regulator's rails.
    """
    found: list[Edge] = []
    if lighting_coil(layout):
        found += _lighting(light_y(layout), body, frame, minus)
    if field_coil(layout):
        found += _field(body, frame, plus)
    return found


def _lighting(y: float, body: XY, frame: XY, minus: float) -> list[Edge]:
    plug = ((ALT, y), (ALT + 7, y), (REG - 7, y), (REG, y))
    if y > minus - 40.0:  # a row of junctions would be in the way: held at the box's edge
        x, low = EDGE_X, 256.0
        held: tuple[XY, ...] = (
            (REG, y), (x, y), (x, 220.0), (x, 246.0), (x, low), (216.0, low), (216.0, 268.0),
        )  # fmt: skip
    else:
        x = CUT_X
        held = (
            (REG, y), (x, y), (x, 200.0), (x, 226.0), (x, minus), (216.0, minus), (216.0, 268.0),
        )  # fmt: skip
    lead = ((REG, y), (ASIDE_X, y), (ASIDE_X, OVER_BOX), (LAMP[0], OVER_BOX), LAMP)
    lamp = (LAMP, (LAMP[0], 153.0), (LAMP[0], 183.0), (LAMP[0], frame[1]), frame)
    return [
        Edge("winding_light", "light_coil", STATOR_BODY, _to_iron(y, body), "coil", 1),
        Edge("light_plug", "light_coil", "light_reg", plug, "plug", 1),
        Edge("cut_light", "light_reg", "reg_body", held, "thyristor", 2),
        Edge("lamp_lead", "light_reg", "lamp", lead),
        Edge("headlamp", "lamp", "frame", lamp, "load", 1),
    ]


def _field(body: XY, frame: XY, plus: float) -> list[Edge]:
    y, y2, x = FIELD_Y, FIELD_END_Y, 88.0
    coil = ((ALT, y), (x, y), (x, y + 6), (x, y2 - 6), (x, y2), (ALT, y2))
    plug = ((ALT, y), (ALT + 7, y), (REG - 7, y), (REG, y))
    ground = ((ALT, y2), (ALT + 7, y2), (REG - 7, y2), (REG, y2), (REG, frame[1]), frame)
    feed = (
        SUPPLY, (FEED_X, SUPPLY[1]), (FEED_X, plus + 14), (FEED_X, plus + 40), (FEED_X, y),
        (REG, y),
    )  # fmt: skip
    supply = (HARNESS, (HARNESS[0], SUPPLY[1]), SUPPLY)
    leak = ((ALT, y), (body[0], y), body)
    return [
        Edge("winding_field", "field_pos", "field_neg", coil, "coil", 2),
        Edge("field_lead", "field_pos", "reg_field", plug, "plug", 1),
        Edge("field_ground", "field_neg", "frame", ground, "plug", 1),
        Edge("feed_field", "reg_supply", "reg_field", feed, "switch", 2),
        Edge("field_feed", "fuse_out", "reg_supply", supply),
        Edge(FIELD_INSULATION, "field_pos", STATOR_BODY, leak),
    ]


def coil_captions(layout: Layout) -> list[Caption]:
    """Return the names of these parts."""
    found = []
    if lighting_coil(layout):
        found.append(Caption("lead.light", (ALT + 2.0, light_y(layout) + 18.0)))
        found.append(Caption("part.headlamp", (714.0, 327.0), "end"))
    if field_coil(layout):
        found.append(Caption("part.field", (20.0, 241.0), bold=False))
    return found


def stator_tall(layout: Layout) -> float:
    """Return the height of the alternator's outline."""
    if field_coil(layout):
        return 206.0
    if layout.phases == 3 and lighting_coil(layout):
        return 180.0
    return 140.0 if layout.phases == 3 or lighting_coil(layout) else 100.0


def harness_x(layout: Layout) -> float:
    """Return the column of harness and loads: a headlamp of its own needs room beside it."""
    return 652.0 if lighting_coil(layout) else 668.0


def frame_ends_x(layout: Layout, left: float) -> tuple[float, float]:
    """Return where the frame begins and ends."""
    right = LAMP[0] if lighting_coil(layout) else harness_x(layout)
    return (REG if field_coil(layout) else left), right


def coil_crossings(layout: Layout, leads: dict[str, float]) -> list[tuple[str, XY, bool]]:
    """Return where leads pass under the lighting lead or under the field's feed."""
    if lighting_coil(layout):
        return [("lamp_lead", (ASIDE_X, y), True) for y in list(leads.values())[: layout.phases]]
    if field_coil(layout):
        return [("feed_field", (FEED_X, y), True) for y in leads.values()]
    return []
