"""Coils of other kinds for a phone: half-wave charging, a lighting coil, a rotor's field coil."""

from __future__ import annotations

from chargewright.machine.layout import Layout
from chargewright.pictures.facts import field_coil, lighting_coil
from chargewright.pictures.schematic import FIELD_INSULATION, STATOR_BODY, Caption, Edge
from chargewright.pictures.svg import XY

TOP, ALT, REG = 14.0, 84.0, 116.0  # neutral or common end, and both sides of the plug
FIELD_X, FIELD_END_X, ASIDE_X = 236.0, 276.0, 344.0
SUPPLY, HARNESS = (258.0, 132.0), (322.0, 312.0)
OVER_BOX, BESIDE_C = 123.0, 249.0
LAMP: XY = (343.0, 312.0)


def light_x(layout: Layout) -> float:
    """Return the column of the lighting lead, beside those of the alternator."""
    return 232.0 if layout.phases == 3 else 192.0


def coil_nodes(layout: Layout) -> dict[str, XY]:
    """Return the points of a lighting or field coil, those the layout lacks included."""
    return {
        "light_coil": (light_x(layout), ALT),
        "light_reg": (light_x(layout), REG),
        "lamp": LAMP,
        "field_pos": (FIELD_X, ALT),
        "reg_field": (FIELD_X, REG),
        "field_neg": (FIELD_END_X, ALT),
        "reg_supply": SUPPLY,
    }


def coil_handles() -> dict[str, XY]:
    """Return where probes are held on these points."""
    return {
        "light_coil": (-28.0, 0.0),
        "light_reg": (-28.0, 1.0),
        "lamp": (-21.0, -20.0),
        "field_pos": (-20.0, 16.0),
        "reg_field": (-24.0, 14.0),
        "field_neg": (24.0, -12.0),
        "reg_supply": (26.0, 14.0),
    }


def half_wave_coil(x: float, body: XY) -> Edge:
    """Return the charging coil of a half-wave machine, its far end on the stator's iron."""
    return Edge("winding_a", "alt_a", STATOR_BODY, _to_iron(x, body), "coil", 1)


def _to_iron(x: float, body: XY) -> tuple[XY, ...]:
    down = body[0] - 32.0
    return (
        (x, ALT), (x, 62.0), (x, 24.0), (x, TOP), (down, TOP), (down, body[1]), body,
    )  # fmt: skip


def coil_edges(layout: Layout, *, body: XY, frame: XY, plus: float, minus: float) -> list[Edge]:
    """Return lighting circuit and field circuit, as far as the layout has them.

    ``body`` is the stator's iron, ``plus`` and ``minus`` the heights of the regulator's rails.
    """
    found: list[Edge] = []
    if lighting_coil(layout):
        found += _lighting(light_x(layout), body, frame, minus)
    if field_coil(layout):
        found += _field(body, frame, plus)
    return found


def _lighting(x: float, body: XY, frame: XY, minus: float) -> list[Edge]:
    inside = BESIDE_C if x > FIELD_X - 10.0 else x  # past the third lead's own devices
    plug = ((x, ALT), (x, ALT + 5), (x, REG - 5), (x, REG))
    held = (
        (x, REG), (x, OVER_BOX), (inside, OVER_BOX), (inside, 204.0), (inside, 229.0),
        (inside, minus), (46.0, minus), (46.0, 272.0),
    )  # fmt: skip
    lead = ((x, REG), (x, OVER_BOX), (LAMP[0], OVER_BOX), LAMP)
    lamp = (LAMP, (LAMP[0], 344.0), (LAMP[0], 370.0), (LAMP[0], frame[1]), frame)
    return [
        Edge("winding_light", "light_coil", STATOR_BODY, _to_iron(x, body), "coil", 1),
        Edge("light_plug", "light_coil", "light_reg", plug, "plug", 1),
        Edge("cut_light", "light_reg", "reg_body", held, "thyristor", 3),
        Edge("lamp_lead", "light_reg", "lamp", lead),
        Edge("headlamp", "lamp", "frame", lamp, "load", 1),
    ]


def _field(body: XY, frame: XY, plus: float) -> list[Edge]:
    x, x2, y = FIELD_X, FIELD_END_X, 44.0
    coil = ((x, ALT), (x, y), (x + 6, y), (x2 - 6, y), (x2, y), (x2, ALT))
    plug = ((x, ALT), (x, ALT + 5), (x, REG - 5), (x, REG))
    ground = (
        (x2, ALT), (x2, ALT + 5), (x2, REG - 5), (x2, OVER_BOX), (ASIDE_X, OVER_BOX),
        (ASIDE_X, frame[1]), frame,
    )  # fmt: skip
    top = SUPPLY[1]
    feed = (SUPPLY, (256.0, top), (238.0, top), (x, top), (x, REG))
    supply = (HARNESS, (HARNESS[0], top), SUPPLY)
    leak = ((x, ALT), (x, 60.0), (body[0], 60.0), body)
    return [
        Edge("winding_field", "field_pos", "field_neg", coil, "coil", 2),
        Edge("field_lead", "field_pos", "reg_field", plug, "plug", 1),
        Edge("field_ground", "field_neg", "frame", ground, "plug", 1),
        Edge("feed_field", "reg_supply", "reg_field", feed, "switch", 1),
        Edge("field_feed", "fuse_out", "reg_supply", supply),
        Edge(FIELD_INSULATION, "field_pos", STATOR_BODY, leak),
    ]


def coil_captions(layout: Layout) -> list[Caption]:
    """Return the names of these parts."""
    found = []
    if lighting_coil(layout):
        found.append(Caption("lead.light", (light_x(layout) + 8.0, ALT + 1.0)))
        found.append(Caption("part.headlamp", (356.0, 436.0), "end"))
    if field_coil(layout):
        found.append(Caption("part.field", (256.0, 63.0), "middle", bold=False))
    return found


def stator_x(layout: Layout) -> float:
    """Return where the sign of the stator's iron stands."""
    if field_coil(layout):
        return 308.0
    if layout.phases == 3 and lighting_coil(layout):
        return 272.0
    return 240.0 if layout.phases == 3 or lighting_coil(layout) else 176.0


def plug_x(layout: Layout) -> float:
    """Return where the plug's name stands."""
    if field_coil(layout):
        return 292.0
    return light_x(layout) + 44.0 if lighting_coil(layout) else stator_x(layout) - 24.0


def alternator_caption(layout: Layout) -> Caption:
    """Return the alternator's name, within its outline where there is no room beside it."""
    if field_coil(layout):
        return Caption("part.alternator", (288.0, 24.0), "end")
    return Caption("part.alternator", (stator_x(layout) - 8.0, 20.0))


def harness_x(layout: Layout) -> float:
    """Return the column of harness and loads: a headlamp of its own needs room beside it."""
    return 304.0 if lighting_coil(layout) else 322.0


def right_end_x(layout: Layout) -> float:
    """Return where the frame ends on the right."""
    if lighting_coil(layout):
        return LAMP[0]
    return ASIDE_X if field_coil(layout) else harness_x(layout)


def coil_crossings(layout: Layout, rail: str, plus: float) -> list[tuple[str, XY, bool]]:
    """Return where the lighting lead passes under the plus rail."""
    if not lighting_coil(layout):
        return []
    return [(rail, (BESIDE_C if layout.phases == 3 else light_x(layout), plus), False)]
