"""Which points a machine has, and which wire joins two of them: one table for every state."""

from __future__ import annotations

from collections.abc import Iterable

from chargewright.circuit.signals import Probe
from chargewright.errors import InputError
from chargewright.machine.layout import ChargeTo, Layout, Sense
from chargewright.machine.points import POINT_TITLES, Point

P = Point


def check_probes(layout: Layout, probes: Iterable[Probe]) -> None:
    """Raise ``InputError`` when a probe sits on a point this machine does not have."""
    for probe in probes:
        for point in (probe.plus, probe.minus):
            if why := layout.lacks(point):
                raise InputError(f"probe on {point.word}: this machine has no such point, {why}")


def wires(layout: Layout) -> dict[tuple[Point, Point], str]:
    """Return (from, to) -> the wire's name; its current counts positive that way."""
    table = {
        (P.FRAME, P.BATTERY_NEG): "neg_cable",
        (P.BATTERY_POS, P.FUSE_OUT): "fuse",
        (P.BATTERY_POS, P.STARTER_POS): "starter_cable",
        (P.REG_OUT, P.BATTERY_POS): "charge_lead",
        (P.REG_BODY, P.FRAME): "reg_ground",
    }
    if layout.charge_to is ChargeTo.HARNESS:
        table[(P.REG_OUT, P.FUSE_OUT)] = "charge_lead"
    if layout.sense is Sense.LEAD:
        table[(P.REG_SENSE, P.FUSE_OUT)] = "sense"
    pairs = ((P.ALT_A, P.REG_A, "a"), (P.ALT_B, P.REG_B, "b"), (P.ALT_C, P.REG_C, "c"))
    for alt, reg, leg in pairs[: layout.phases]:
        table[(alt, reg)] = f"plug_{leg}"
    if layout.lighting_coil:
        table[(P.LIGHT_COIL, P.LIGHT_REG)] = "light_plug"
        table[(P.LIGHT_REG, P.LAMP)] = "lamp_lead"
    if layout.field:
        table[(P.FUSE_OUT, P.REG_SUPPLY)] = "field_feed"
        table[(P.REG_FIELD, P.FIELD_POS)] = "field_lead"
        table[(P.FIELD_NEG, P.FRAME)] = "field_ground"
    return table


def wire_between(layout: Layout, probe: Probe) -> tuple[str, int]:
    """Return (name, sign) of the wire between a probe's points.

    Raises ``InputError`` when no single wire joins them.
    """
    table = wires(layout)
    for pair, sign in (((probe.plus, probe.minus), 1), ((probe.minus, probe.plus), -1)):
        if pair in table:
            return table[pair], sign
    raise InputError(
        f"no single wire joins {POINT_TITLES[probe.plus]} and {POINT_TITLES[probe.minus]}; "
        "a current needs a pair such as battery_neg and frame, or reg_out and battery_pos"
    )
