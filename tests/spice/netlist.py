"""Writes one running machine as a netlist for a general-purpose circuit simulator.

The circuit is drawn from what a machine is, node by node; nothing of the program's own
reduction, time stepping or conduction states is used, only the numbers of its operating point.

A junction is a current source: nothing below its offset, the straight line of slope s above,
joined by a parabola over the first 0.2 mV, because a simulator's Newton iteration dislikes
corners. (A hyperbola is smoother still, but leaks microamperes: enough to charge an open lead.)
Shared with the program as assumptions: straight-line junctions, a part of a winding takes its
share of R, L and EMF without coupling to the rest, 100 Mohm of insulation at every node.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from chargewright.circuit import network as nw
from chargewright.machine.layout import ChargeTo, Layout, Regulator, Winding
from chargewright.machine.parameters import Array

CORNER_V = 2e-4
INSULATION_OHM = 1e8
LEAST_OHM = 1e-5  # instead of zero, as in the program
LEGS = "abc"
LEAST_PART, MOST_PART = 0.01, 0.99  # of a winding, on either side of a fault to frame


class Mode(Enum):
    """What the regulator does."""

    CHARGE = "charge"
    CUT = "cut"


@dataclass(frozen=True, slots=True)
class Coil:
    """A winding or a part of one, its current counted from ``start`` to ``end``."""

    name: str
    start: str
    end: str
    winding: int
    part: float


def ohm(value: float) -> str:
    """Return a resistance as the simulator reads it."""
    return f"{max(value, LEAST_OHM):.10g}"


def coils(layout: Layout, op: Array) -> list[Coil]:
    """Return the coils; the first winding is in two when it has a fault to frame.

    Nodes ``alt_a`` to ``alt_c`` are the leads. In delta the windings lie between leads b and
    a, c and b, a and c; a single coil goes from lead b to lead a.
    """
    ends = {
        Winding.STAR: [("neutral", f"alt_{leg}") for leg in LEGS],
        Winding.DELTA: [("alt_b", "alt_a"), ("alt_c", "alt_b"), ("alt_a", "alt_c")],
        Winding.SINGLE: [("alt_b", "alt_a")],
    }[layout.winding]
    found = [Coil(LEGS[i], start, end, i, 1.0) for i, (start, end) in enumerate(ends)]
    if op[nw.LEAK_S] > 0.0:
        at = float(np.clip(op[nw.LEAK_AT], LEAST_PART, MOST_PART))
        whole = found[0]
        found[:1] = [
            Coil("a", "tap", whole.end, 0, 1.0 - at),
            Coil("near", whole.start, "tap", 0, at),
        ]
    return found


def guessed_currents(layout: Layout, op: Array, mode: Mode) -> dict[str, float]:
    """Return coil currents [A] at time 0 from a plain R-L circuit: where the run-in starts."""
    extra = 0.05 if mode is Mode.CUT and layout.regulator is Regulator.SHUNT else 0.6
    guess = {}
    for coil in coils(layout, op):
        w = coil.winding
        z = complex(op[nw.R_A + w] + extra, op[nw.OMEGA] * op[nw.L_A + w])
        phasor = op[nw.EMF_A + w] * np.exp(-2j * np.pi * w / 3) / z
        guess[coil.name] = float(phasor.real)
    return guess


def coil_lines(coil: Coil, op: Array, start_a: float) -> list[str]:
    """Return EMF with its harmonics, resistance and inductance of a coil in series."""
    w, part, name = coil.winding, coil.part, coil.name
    hertz = op[nw.OMEGA] / (2 * np.pi)
    lines = []
    node = coil.start
    for order, share in ((1, 1.0), (3, op[nw.THIRD]), (5, op[nw.FIFTH])):
        peak = op[nw.EMF_A + w] * share * part
        degrees = (90.0 - order * 120.0 * w) % 360.0
        following = f"e{order}_{name}"
        lines.append(
            f"V{order}_{name} {following} {node}"
            f" SIN(0 {peak:.10g} {order * hertz:.12g} 0 0 {degrees:g})"
        )
        node = following
    lines.append(f"Rw_{name} {node} l_{name} {ohm(op[nw.R_A + w] * part)}")
    lines.append(f"L_{name} l_{name} {coil.end} {op[nw.L_A + w] * part:.10g} IC={start_a:.10g}")
    return lines


def junction(name: str, plus: str, minus: str, offset_v: float, siemens: float) -> list[str]:
    """Return a straight-line junction; nothing where it is open."""
    if siemens <= 0.0:
        return []
    w = f"(V({plus},{minus})-{offset_v:.10g})"
    curve = f"{w}<{CORNER_V:g} ? {0.5 * siemens / CORNER_V:.10g}*{w}*{w}"
    line = f"{siemens:.10g}*({w}-{0.5 * CORNER_V:g})"
    return [f"B{name} {plus} {minus} I={w}<0 ? 0 : ({curve} : {line})"]


def leak(name: str, plus: str, minus: str, siemens: float) -> list[str]:
    """Return a leak as a resistor; nothing where there is none."""
    return [f"R{name} {plus} {minus} {1.0 / siemens:.10g}"] if siemens > 0.0 else []


def alternator_lines(layout: Layout, op: Array, currents: dict[str, float]) -> list[str]:
    """Return windings, faults inside the stator, plug and its leads."""
    lines = []
    for coil in coils(layout, op):
        lines += coil_lines(coil, op, currents[coil.name])
    lines += leak("tap", "tap", "frame", op[nw.LEAK_S]) if op[nw.LEAK_S] > 0.0 else []
    lines += leak("short", "alt_a", "alt_b", op[nw.SHORT_S])
    lines += leak("harness", "reg_a", "frame", op[nw.HARNESS_S])
    for i, leg in enumerate(LEGS):
        lines.append(f"Vlead_{leg} alt_{leg} plug_{leg} 0")
        lines.append(f"Rplug_{leg} plug_{leg} reg_{leg} {ohm(op[nw.PLUG_A + i])}")
    return lines


def rectifier_lines(layout: Layout, op: Array, mode: Mode) -> list[str]:
    """Return junctions and leaks between leads, output ``plus`` and the regulator's body (0)."""
    lines = []
    series = layout.regulator is Regulator.SERIES
    for i, leg in enumerate(LEGS):
        node = f"reg_{leg}"
        if not (series and mode is Mode.CUT):
            lines += junction(f"up_{leg}", node, "plus", op[nw.UP_V_A + i], op[nw.UP_S_A + i])
        lines += junction(f"dn_{leg}", "0", node, op[nw.DN_V_A + i], op[nw.DN_S_A + i])
        if not series and mode is Mode.CUT:
            lines += junction(f"shunt_{leg}", node, "0", op[nw.CUT_V], op[nw.CUT_S])
        lines += leak(f"up_{leg}", node, "plus", op[nw.UP_LEAK_A + i])
        lines += leak(f"dn_{leg}", node, "0", op[nw.DN_LEAK_A + i])
    return lines


def downstream_lines(layout: Layout, op: Array, e_v: float) -> list[str]:
    """Return leads, fuse, grounds, loads and the battery with internal voltage ``e_v``."""
    to_battery = layout.charge_to is ChargeTo.BATTERY
    return [
        f"Rground frame body {ohm(op[nw.GROUND_OHM])}",
        "Vground body 0 0",
        "Vout plus out 0",
        f"Rlead out {'clamp' if to_battery else 'harness'} {ohm(op[nw.CHARGE_OHM])}",
        f"Rfuse harness clamp {ohm(op[nw.FUSE_OHM])}",
        "Vload harness lamps 0",
        f"Rload lamps frame {1.0 / op[nw.LOAD_S]:.10g}",
        "Vbattery clamp clamped 0",
        f"Rclamp clamped pos {ohm(op[nw.CLAMP_OHM])}",
        f"Rbattery pos inside {ohm(op[nw.BATTERY_OHM])}",
        "Ebattery inside neg emf 0 1",
        f"Vemf emf 0 {e_v:.10g}",
        f"Rneg neg frame {ohm(op[nw.NEG_OHM])}",
    ]


def insulation_lines(layout: Layout) -> list[str]:
    """Return what keeps every potential defined when all junctions are off."""
    nodes = [f"{side}_{leg}" for side in ("alt", "reg") for leg in LEGS]
    nodes += ["frame", "plus"] + (["neutral"] if layout.winding is Winding.STAR else [])
    return [f"Rstray_{node} {node} 0 {INSULATION_OHM:g}" for node in nodes]


def saved(layout: Layout, op: Array) -> list[str]:
    """Return the vectors that are read off: node voltages, currents of wires and coils."""
    nodes = [f"v({side}_{leg})" for side in ("alt", "reg") for leg in LEGS]
    nodes += [f"v({node})" for node in ("frame", "plus", "harness", "pos", "neg")]
    wires = [f"i(Vlead_{leg})" for leg in LEGS]
    wires += [f"i(V{wire})" for wire in ("out", "battery", "ground", "load")]
    return nodes + wires + [f"i(L_{coil.name})" for coil in coils(layout, op)]


def netlist(
    layout: Layout, op: Array, e_v: float, mode: Mode, currents: dict[str, float]
) -> list[str]:
    """Return the circuit's lines, the regulator held in one mode; analyses are added by run.py."""
    return [
        *alternator_lines(layout, op, currents),
        *rectifier_lines(layout, op, mode),
        *downstream_lines(layout, op, e_v),
        *insulation_lines(layout),
    ]
