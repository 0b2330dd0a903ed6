"""A half-wave charger and its lighting coil as a netlist, from the machine's own parameters.

Nothing here knows that the program solves the charger as a bridge with three legs out, nor that
it marches half a period of the lamp's circuit: both circuits stand in one netlist, joined at
frame and at the regulator's body (node 0).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from chargewright.circuit import network as nw
from chargewright.circuit.lighting import coil_of, downstream_of
from chargewright.machine.layout import Layout
from chargewright.machine.parameters import Array, column
from chargewright.machine.points import State
from tests.spice.netlist import Mode, downstream_lines, junction, leak, ohm

INSULATION_OHM = 1e8
NODES = ("frame", "plus", "harness", "pos", "neg", "alt_a", "reg_a", "l_coil", "l_reg", "lamp")
WIRES = ("Vlead_a", "Vout", "Vbattery", "Vlight", "Vlamp")
VECTORS = [*(f"v({node})" for node in NODES), *(f"i({wire})" for wire in WIRES)]


def _coil(name: str, start: str, end: str, peaks: Array, omega: float, r: float, h: float,
          start_a: float) -> list[str]:  # fmt: skip
    """Return EMF (fundamental, third, fifth), resistance and inductance in series."""
    lines, node = [], start
    for order, peak in zip((1, 3, 5), peaks, strict=True):
        after = f"e{order}_{name}"
        hertz = order * omega / (2.0 * np.pi)
        lines.append(f"V{order}_{name} {after} {node} SIN(0 {peak:.10g} {hertz:.12g} 0 0 90)")
        node = after
    lines.append(f"Rw_{name} {node} w_{name} {ohm(r)}")
    lines.append(f"L_{name} w_{name} {end} {h:.10g} IC={start_a:.10g}")
    return lines


def netlist(
    layout: Layout, params: Array, state: State, rpm: float, op: Array, e_v: float, mode: Mode,
    currents: Mapping[str, float],
) -> list[str]:  # fmt: skip
    """Return the machine with its regulator held in one mode; ``op`` is its operating point."""
    harmonics = op[nw.EMF_A] * np.array([1.0, op[nw.THIRD], op[nw.FIFTH]])
    at = float(np.clip(op[nw.LEAK_AT], 0.01, 0.99))
    lines = []
    for name, start, end, part in (("near", "frame", "tap", at), ("a", "tap", "alt_a", 1.0 - at)):
        r, h = part * op[nw.R_A], part * op[nw.L_A]
        lines += _coil(name, start, end, part * harmonics, op[nw.OMEGA], r, h, currents[name])
    lines += leak("tap", "tap", "frame", op[nw.LEAK_S])
    lines += leak("harness", "reg_a", "frame", op[nw.HARNESS_S])
    lines += ["Vlead_a alt_a plug_a 0", f"Rplug_a plug_a reg_a {ohm(op[nw.PLUG_A])}"]
    if mode is Mode.CHARGE:
        lines += junction("up_a", "reg_a", "plus", op[nw.UP_V_A], op[nw.UP_S_A])
    lines += leak("up_a", "reg_a", "plus", op[nw.UP_LEAK_A])
    lines += leak("dn_a", "0", "reg_a", op[nw.DN_LEAK_A])
    lines += downstream_lines(layout, op, e_v)
    lines += _lamp(params, state, rpm, currents["light"])
    lines += [
        f"Rs_{node} {node} 0 {INSULATION_OHM:g}"
        for node in ("alt_a", "reg_a", "plus", "l_coil", "l_reg", "lamp")
    ]
    return lines


def _lamp(params: Array, state: State, rpm: float, start_a: float) -> list[str]:
    coil = coil_of(params, state, np.array([rpm]))
    load = downstream_of(params, state)

    def of(name: str) -> float:
        return float(column(params, name)[0])

    lines = _coil("light", "frame", "l_coil", coil.emf_v[0], float(coil.omega[0]),
                  float(coil.ohm[0]), float(coil.henry[0]), start_a)  # fmt: skip
    lines += leak("light", "l_coil", "frame", of("light_leak_s"))
    lines += ["Vlight l_coil l_plug 0", f"Rlplug l_plug l_reg {ohm(of('light_plug_ohm'))}"]
    if of("light_clamp_open") < 0.5:
        siemens, volts = float(load.clamp_s[0]), of("light_clamp_v")
        lines += junction("clamp_p", "l_reg", "0", volts, siemens)
        lines += junction("clamp_n", "0", "l_reg", volts, siemens)
    lines += leak("short", "l_reg", "0", of("light_short_s"))
    lead = of("lamp_lead_ohm") if state.lights_on else 1e13
    filament = of("lamp_ohm") + of("lamp_ground_ohm")
    return [*lines, "Vlamp l_reg l_lead 0", f"Rllead l_lead lamp {ohm(lead)}",
            f"Rlamp lamp frame {ohm(filament)}"]  # fmt: skip
