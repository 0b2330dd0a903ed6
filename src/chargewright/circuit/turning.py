"""The running machine of any kind: which solver it needs, and what its lighting coil adds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from chargewright.circuit import field_excited, half_wave, lamp_signals, running, still, unplugged
from chargewright.circuit.field_coil import excited, field_coil
from chargewright.circuit.running import STEPS
from chargewright.circuit.signals import Probe, Signals, added, nothing, spread
from chargewright.circuit.wires import check_probes
from chargewright.machine.layout import Layout
from chargewright.machine.parameters import Array, column
from chargewright.machine.points import Engine, Point, State, Warmth

LEADS = (Point.ALT_A, Point.ALT_B, Point.ALT_C)


def plugged(
    layout: Layout,
    params: Array,
    state: State,
    rpm: Array,
    volts: Sequence[Probe],
    amps: Sequence[Probe],
    *,
    steps: int = STEPS,
) -> tuple[Signals, Signals]:
    """Return (volts between points, amperes in wires), engine running, plug in; (n, m) each.

    ``params`` (n, COUNT), ``rpm`` (n,). Raises ``InputError`` for a point the machine lacks and
    for an ``amps`` probe whose points no single wire joins.
    """
    check_probes(layout, [*volts, *amps])
    if layout.field:
        return field_excited.signals(layout, params, state, rpm, volts, amps, steps=steps)
    solver = half_wave.signals if layout.half_wave else running.signals
    if not layout.lighting_coil:
        return solver(layout, params, state, rpm, volts, amps, steps=steps)
    own = [i for i, p in enumerate(amps) if lamp_signals.is_lighting_wire(layout, p)]
    rest = [i for i in range(len(amps)) if i not in own]
    moved = [lamp_signals.battery_side(p) for p in volts]
    v_found, some = solver(layout, params, state, rpm, moved, [amps[i] for i in rest], steps=steps)
    a_found = spread(some, rest, len(amps))
    more_v, more_a = lamp_signals.plugged(params, state, rpm, layout, volts, amps)
    return added(v_found, more_v), added(a_found, more_a)


def open_points(layout: Layout) -> tuple[Point, ...]:
    """Return the points that alternate while the plug is apart."""
    return (*LEADS, Point.LIGHT_COIL) if layout.lighting_coil else LEADS


def on_frame(layout: Layout, probe: Probe) -> bool:
    """Tell whether a probe's open leads belong to coils whose other end is the frame."""
    ends = {probe.plus, probe.minus} & set(open_points(layout))
    return layout.half_wave or ends == {Point.LIGHT_COIL}


def open_volts(
    layout: Layout, params: Array, state: State, rpm: Array, probes: Sequence[Probe]
) -> Signals:
    """Return what probes read of which one end at least is in ``open_points``, plug apart."""
    check_probes(layout, probes)
    if layout.field:
        params = _excited_open(layout, params, state)
    on_lamp = [i for i, p in enumerate(probes) if Point.LIGHT_COIL in (p.plus, p.minus)]
    rest = [i for i in range(len(probes)) if i not in on_lamp]
    lead_volts = coil_volts if layout.half_wave else unplugged.lead_volts
    some = lead_volts(layout, params, state, rpm, [probes[i] for i in rest])
    if not on_lamp:
        return some
    lamp = lamp_signals.unplugged(params, state, rpm, [probes[i] for i in on_lamp])
    return added(
        spread(some, rest, len(probes)),
        spread(lamp, on_lamp, len(probes)),
    )


def coil_volts(
    layout: Layout, params: Array, state: State, rpm: Array, probes: Sequence[Probe]
) -> Signals:
    """Return the open charging coil's volts against frame, whose far end it sits on; (n, m)."""
    emf = unplugged.winding_phasors(half_wave.bridge_layout(layout), params, state, rpm)[:, 0]
    hot = state.warmth is Warmth.HOT
    z = unplugged.impedances(params, state, rpm, "a")
    lead = half_wave.open_lead_phasors(
        emf,
        z,
        column(params, "stator_leak_hot_s" if hot else "stator_leak_s"),
        np.clip(column(params, "stator_leak_at"), 0.01, 0.99),
        unplugged.METER_S,
    )
    rms, average = unplugged.from_phasors(lead)
    found = nothing(len(rpm), len(probes))
    found.ac_true_rms[:] = rms[:, None]
    found.ac_average[:] = average[:, None]
    found.frequency_hz[:] = (np.round(column(params, "pole_pairs")) * rpm / 60.0)[:, None]
    return found


def _excited_open(layout: Layout, params: Array, state: State) -> Array:
    """Return the machines with what flux they have while the plug is apart.

    The regulator's field lead hangs in the air; a jumper from the battery may feed the coil.
    """
    coil = field_coil(params, state)
    n = params.shape[0]
    share, feed_v = np.zeros(n), np.zeros(n)
    if state.full_field:
        rest = replace(state, engine=Engine.OFF, key_on=True, rpm=None, rpm_max=None)
        fed = Probe(Point.BATTERY_POS, Point.FRAME)
        share = np.ones(n)
        feed_v = still.volts(layout, params, rest, [fed]).dc[:, 0]
    return excited(params, coil.excitation(share, feed_v), np.zeros(n), 1.0)
