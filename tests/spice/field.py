"""A field-excited machine as a netlist: its EMFs follow the current that its own field takes.

The share of time the regulator feeds the field is taken from the program, as its cutting share
is elsewhere; what excitation follows, and whether the sensed volts then stand at the set point,
the simulator finds by itself. The chopped supply stands there by its averages: s times the
harness' volts behind s times the feed's resistance, s times the field's current drawn.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from chargewright.circuit import network as nw
from chargewright.circuit.field_coil import FieldCoil
from chargewright.machine.layout import Layout
from chargewright.machine.parameters import Array
from tests.spice.netlist import (
    Mode,
    coils,
    downstream_lines,
    insulation_lines,
    leak,
    ohm,
    rectifier_lines,
    saved,
)

FIELD_PERIODS = 4.0  # time constant of the field coil, in electrical periods: smooth, not slow
VECTORS = ("v(rf)", "v(fpos)", "v(fneg)", "v(x)", "i(Vfield)")


def netlist(
    layout: Layout, op: Array, coil: FieldCoil, share: float, e_v: float,
    currents: Mapping[str, float],
) -> list[str]:  # fmt: skip
    """Return the machine; ``op`` is its operating point at full field, ``coil`` of one machine."""
    one = {name: float(getattr(coil, name)[0]) for name in FieldCoil.__slots__}
    lines = []
    for part in coils(layout, op):
        lines += _winding(part.name, part.start, part.end, part.winding, part.part, op, currents)
    lines += leak("tap", "tap", "frame", op[nw.LEAK_S])
    lines += leak("short", "alt_a", "alt_b", op[nw.SHORT_S])
    lines += leak("harness", "reg_a", "frame", op[nw.HARNESS_S])
    for i, leg in enumerate("abc"):
        lines.append(f"Vlead_{leg} alt_{leg} plug_{leg} 0")
        lines.append(f"Rplug_{leg} plug_{leg} reg_{leg} {ohm(op[nw.PLUG_A + i])}")
    lines += rectifier_lines(layout, op, Mode.CHARGE)
    lines += downstream_lines(layout, op, e_v)
    lines += insulation_lines(layout)
    henry = FIELD_PERIODS * 2.0 * np.pi / op[nw.OMEGA] * (one["coil_ohm"] + one["brush_ohm"] + 0.1)
    gain = (1.0 - one["residual"]) * one["turns"] / one["full_a"]
    return [
        *lines,
        f"Bfed fed frame V={share:.12g}*V(harness,frame)",
        f"Rfed fed fin {ohm(share * one['feed_ohm'])}",
        "Vfeed fin rf 0",
        f"Bdraw harness frame I={share:.12g}*I(Vfeed)",
        f"Rfplug rf fpos {ohm(one['plug_ohm'])}",
        f"Rbrush fpos ring {ohm(one['brush_ohm'])}",
        *leak("field", "ring", "frame", one["leak_s"]),
        "Vfield ring fcoil 0",
        f"Rfcoil fcoil fl {ohm(one['coil_ohm'])}",
        f"L_field fl fneg {henry:.10g} IC={currents['field']:.10g}",
        f"Rfground fneg frame {ohm(one['ground_ohm'])}",
        f"Bx x 0 V={one['residual']:.12g}+{gain:.12g}*I(Vfield)",
    ]


def _winding(name: str, start: str, end: str, winding: int, part: float, op: Array,
             currents: Mapping[str, float]) -> list[str]:  # fmt: skip
    w = f"{op[nw.OMEGA]:.12g}"
    waves = []
    for order, share in ((1, 1.0), (3, op[nw.THIRD]), (5, op[nw.FIFTH])):
        waves.append(f"{share:.10g}*cos({order}*({w}*time-{2.0 * np.pi * winding / 3.0:.12g}))")
    peak = part * op[nw.EMF_A + winding]
    return [
        f"Be_{name} e_{name} {start} V=V(x)*{peak:.10g}*({'+'.join(waves)})",
        f"Rw_{name} e_{name} w_{name} {ohm(op[nw.R_A + winding] * part)}",
        f"L_{name} w_{name} {end} {op[nw.L_A + winding] * part:.10g} IC={currents[name]:.10g}",
    ]


def vectors(layout: Layout, op: Array) -> list[str]:
    """Return what is read off."""
    return [*(name for name in saved(layout, op) if not name.startswith("i(L_")), *VECTORS]
