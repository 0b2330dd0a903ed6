"""Which wire joins two test points, for current readings."""

from __future__ import annotations

from chargewright.circuit.signals import Probe
from chargewright.circuit.waveforms import BATTERY_WIRE, GROUND_WIRE, LEADS, LOADS, OUTPUT
from chargewright.errors import InputError
from chargewright.machine.layout import ChargeTo, Layout
from chargewright.machine.points import POINT_TITLES, Point

P = Point


def _wires(layout: Layout) -> dict[tuple[Point, Point], tuple[int, int]]:
    """Return (from, to) -> (wire, sign): positive when the wire's current flows that way."""
    table = {
        (P.BATTERY_NEG, P.FRAME): (BATTERY_WIRE, 1),
        (P.FRAME, P.REG_BODY): (GROUND_WIRE, 1),
        (P.ALT_A, P.REG_A): (LEADS, 1),
        (P.ALT_B, P.REG_B): (LEADS + 1, 1),
        (P.ALT_C, P.REG_C): (LEADS + 2, 1),
    }
    if layout.charge_to is ChargeTo.HARNESS:
        table[(P.REG_OUT, P.FUSE_OUT)] = (OUTPUT, 1)
        table[(P.REG_OUT, P.BATTERY_POS)] = (OUTPUT, 1)
        table[(P.FUSE_OUT, P.BATTERY_POS)] = (BATTERY_WIRE, 1)
    else:
        table[(P.REG_OUT, P.BATTERY_POS)] = (OUTPUT, 1)
        table[(P.BATTERY_POS, P.FUSE_OUT)] = (LOADS, 1)
    return table


def running_wire(layout: Layout, probe: Probe) -> tuple[int, int]:
    """Return (wire index, sign) of the wire between a probe's points, engine running.

    Raises ``InputError`` when no single wire joins them.
    """
    table = _wires(layout)
    if (probe.plus, probe.minus) in table:
        return table[(probe.plus, probe.minus)]
    if (probe.minus, probe.plus) in table:
        wire, sign = table[(probe.minus, probe.plus)]
        return wire, -sign
    raise InputError(
        f"no single wire joins {POINT_TITLES[probe.plus]} and {POINT_TITLES[probe.minus]}; "
        "a current needs a pair such as battery_neg and frame, or reg_out and battery_pos"
    )
