"""What a layout has that the drawing must know; kinds a layout cannot name are simply absent."""

from __future__ import annotations

from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense, Winding
from chargewright.machine.points import Point

LIGHTING = ("light_coil", "light_reg", "lamp")
FIELD = ("reg_supply", "reg_field", "field_pos", "field_neg")


def half_wave(layout: Layout) -> bool:
    """Tell whether one coil with its far end on the frame charges through one junction."""
    return layout.winding.value == "half_wave"


def lighting_coil(layout: Layout) -> bool:
    """Tell whether the headlamp burns on a coil of its own."""
    return bool(getattr(layout, "lighting_coil", False))


def field_coil(layout: Layout) -> bool:
    """Tell whether the rotor is a field coil that the regulator feeds."""
    return layout.regulator.value == "field"


def legs(layout: Layout) -> str:
    """Return the letters of the alternator's leads."""
    return "abc"[: layout.phases]


def to_battery(layout: Layout) -> bool:
    """Tell whether the regulator's output lead ends at the battery."""
    return layout.charge_to is ChargeTo.BATTERY


def sense_lead(layout: Layout) -> bool:
    """Tell whether the regulator has a sense lead."""
    return layout.sense is Sense.LEAD


def node_words(layout: Layout) -> list[str]:
    """Return the words of the test points a machine of this layout has."""
    missing = {f"{side}_{leg}" for side in ("alt", "reg") for leg in "abc"[layout.phases :]}
    if not sense_lead(layout):
        missing.add("reg_sense")
    if not lighting_coil(layout):
        missing |= set(LIGHTING)
    if not field_coil(layout):
        missing |= set(FIELD)
    return [point.word for point in Point if point.word not in missing]


def star(layout: Layout) -> bool:
    """Tell whether the windings meet in a neutral."""
    return layout.winding is Winding.STAR


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
