"""A regulator that really switches, to see what the program's two-mode mixture costs.

A comparator watches the sensed voltage through a low-pass filter and, with a small hysteresis,
gates one thyristor per lead. A thyristor conducts once gated and forward biased, and then until
its current ends by itself, gate or no gate. In a series regulator the thyristors lie between
lead and output and are gated below the set point instead of above it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.circuit import network as nw
from chargewright.machine.layout import Layout, Regulator, Sense
from chargewright.machine.parameters import Array
from tests.spice.netlist import (
    CORNER_V,
    LEGS,
    Mode,
    alternator_lines,
    downstream_lines,
    guessed_currents,
    insulation_lines,
    junction,
    leak,
    saved,
)
from tests.spice.run import Waves, simulate

HOLD_A = 0.05  # a thyristor's holding current; tens of milliamperes are common (assumed)
STEPS = 400  # per electrical period
FILTER_OHM = 1e3
TRIGGER_GAIN = 6.0  # of the comparator, per hysteresis


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller:
    """Filter time constant in electrical periods, half the hysteresis [V], what to simulate."""

    title: str
    filter_periods: float
    hysteresis_v: float
    settle_periods: int
    measure_periods: int


def thyristor(
    name: str, plus: str, minus: str, op: Array, offset: int, siemens: float
) -> list[str]:
    """Return a gated straight-line device and the latch that keeps it on.

    The latch is a node between 0 and 1 that follows "gated or carrying the holding current"
    within a thousandth of a period.
    """
    lag_s = 2 * np.pi / op[nw.OMEGA] / 1000.0
    w = f"(V({plus},{minus})-{op[offset]:.10g})"
    line = (
        f"({w}<0 ? 0 : ({w}<{CORNER_V:g} ? {0.5 / CORNER_V:.10g}*{w}*{w} : {w}-{0.5 * CORNER_V:g}))"
    )
    on = f"(0.5+0.5*tanh(40*(V(q_{name})-0.5)))"
    return [
        f"B{name} {plus} t_{name} I={siemens:.10g}*{on}*{line}",
        f"Vt_{name} t_{name} {minus} 0",
        f"Bq_{name} w_{name} 0 V=max(V(gate),0.5+0.5*tanh(4*(I(Vt_{name})/{HOLD_A:g}-1)))",
        f"Rq_{name} w_{name} q_{name} {FILTER_OHM:g}",
        f"Cq_{name} q_{name} 0 {lag_s / FILTER_OHM:.10g} IC=0",
    ]


def controller_lines(layout: Layout, op: Array, controller: Controller) -> list[str]:
    """Return filter, comparator with hysteresis, and the gate (1 = devices are fired)."""
    period = 2 * np.pi / op[nw.OMEGA]
    sensed = "V(plus)"
    if layout.sense is Sense.LEAD:
        sensed = f"V(harness)-{op[nw.SENSE_DROP_V]:.10g}"
    sign = -1.0 if layout.regulator is Regulator.SERIES else 1.0
    start = op[nw.SETPOINT_V]
    h = controller.hysteresis_v
    above = f"(V(sensed)-{start:.10g})"
    back = f"{h:g}*(2*V(gate)-1)"
    return [
        f"Bsense sense_raw 0 V={sensed}",
        f"Rsense sense_raw sensed {FILTER_OHM:g}",
        f"Csense sensed 0 {controller.filter_periods * period / FILTER_OHM:.10g} IC={start:.10g}",
        f"Bgate gate_raw 0 V=0.5+0.5*tanh({TRIGGER_GAIN / h:g}*({sign:g}*{above}+{back}))",
        f"Rgate gate_raw gate {FILTER_OHM:g}",
        f"Cgate gate 0 {period / 500.0 / FILTER_OHM:.10g} IC=0",
    ]


def regulated_rectifier(layout: Layout, op: Array) -> list[str]:
    """Return junctions, leaks and thyristors between the leads, ``plus`` and the body (0)."""
    series = layout.regulator is Regulator.SERIES
    lines = []
    for i, leg in enumerate(LEGS):
        node, up_s, dn_s = f"reg_{leg}", op[nw.UP_S_A + i], op[nw.DN_S_A + i]
        lines += junction(f"dn_{leg}", "0", node, op[nw.DN_V_A + i], dn_s)
        lines += leak(f"up_{leg}", node, "plus", op[nw.UP_LEAK_A + i])
        lines += leak(f"dn_{leg}", node, "0", op[nw.DN_LEAK_A + i])
        if series and up_s > 0.0:
            lines += thyristor(f"up_{leg}", node, "plus", op, nw.UP_V_A + i, up_s)
        elif not series:
            lines += junction(f"up_{leg}", node, "plus", op[nw.UP_V_A + i], up_s)
            lines += thyristor(f"shunt_{leg}", node, "0", op, nw.CUT_V, op[nw.CUT_S])
    return lines


def regulated(layout: Layout, op: Array, e_v: float, controller: Controller) -> Waves:
    """Return the waveforms of the measured periods; the battery's internal voltage is fixed."""
    period = 2 * np.pi / op[nw.OMEGA]
    lines = [
        *alternator_lines(layout, op, guessed_currents(layout, op, Mode.CHARGE)),
        *regulated_rectifier(layout, op),
        *controller_lines(layout, op, controller),
        *downstream_lines(layout, op, e_v),
        *insulation_lines(layout),
    ]
    settle = controller.settle_periods * period
    return simulate(
        lines,
        [*saved(layout, op), "v(gate)"],
        stop_s=settle + controller.measure_periods * period,
        from_s=settle,
        step_s=period / STEPS,
        reltol=1e-4,
    )
