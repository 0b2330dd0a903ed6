"""One door to the circuit: any two points, any state.

``volts``, ``amps`` and ``under_test`` choose the solver by the machine's state: engine off or
cranking (``still``), running (``running``), running with the alternator plug open
(``unplugged`` for the leads, ``still`` for the rest), the meter's own test current
(``under_test``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from chargewright.circuit import running, still, unplugged
from chargewright.circuit import under_test as tested
from chargewright.circuit.signals import Probe, Signals, TestResult, TestSource
from chargewright.errors import InputError
from chargewright.machine.layout import Layout
from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import Array, column
from chargewright.machine.points import Engine, Point, State

IDLE_REGION_RPM = 1800.0  # at and below this a speed error is the idle's own
LEADS = (Point.ALT_A, Point.ALT_B, Point.ALT_C)


def rpm_of(params: Array, state: State) -> Array:
    """Return each machine's crankshaft speed [rpm], shape (n,), for a running state.

    The nominal speed is missed by ``state.rpm_rel_u`` times the machine's own deviate; a range
    is spread evenly. Raises ``InputError`` when the state names no speed.
    """
    if state.rpm is None:
        raise InputError("engine running but no speed given: expected rpm, or rpm and rpm_max")
    near_idle = (state.rpm_max or state.rpm) <= IDLE_REGION_RPM
    z = column(params, "idle_rpm_z" if near_idle else "high_rpm_z")
    if state.rpm_max is not None:
        return state.rpm + (state.rpm_max - state.rpm) * ndtr(z)
    return np.maximum(state.rpm * (1.0 + state.rpm_rel_u * z), 0.3 * state.rpm)


def volts(layout: Layout, params: Array, state: State, probes: Sequence[Probe]) -> Signals:
    """Return the signals between pairs of points on n machines; arrays (n, m)."""
    if state.engine is not Engine.RUNNING:
        return still.volts(layout, params, state, probes)
    rpm = rpm_of(params, state)
    if state.plug_in:
        return running.volts(layout, params, state, rpm, probes)
    on_leads = [i for i, p in enumerate(probes) if p.plus in LEADS or p.minus in LEADS]
    parts: list[tuple[list[int], Signals]] = []
    if on_leads:
        chosen = [probes[i] for i in on_leads]
        parts.append((on_leads, unplugged.lead_volts(layout, params, state, rpm, chosen)))
    others = [i for i in range(len(probes)) if i not in on_leads]
    if others:
        chosen = [probes[i] for i in others]
        parts.append((others, still.volts(layout, params, without_charging(state), chosen)))
    return _gather(parts, params.shape[0], len(probes))


def amps(layout: Layout, params: Array, state: State, probes: Sequence[Probe]) -> Signals:
    """Return the currents in the wires that join pairs of points; arrays (n, m).

    Raises ``InputError`` for a pair that no single wire joins.
    """
    if state.engine is Engine.RUNNING and state.plug_in:
        return running.amps(layout, params, state, rpm_of(params, state), probes)
    if state.engine is Engine.RUNNING:
        state = without_charging(state)
    return still.amps(layout, params, state, probes)


def under_test(
    layout: Layout, params: Array, state: State, probes: Sequence[Probe], source: TestSource
) -> TestResult:
    """Return what a meter's ohms or diode test meets between pairs of points; arrays (n, m)."""
    return tested.respond(layout, params, state, probes, source)


def without_charging(state: State) -> State:
    """Return the state that loads and battery see when a running machine does not charge."""
    return replace(state, engine=Engine.OFF, key_on=True, rpm=None, rpm_max=None)


def _gather(parts: list[tuple[list[int], Signals]], n: int, m: int) -> Signals:
    arrays = {
        name: np.zeros((n, m)) for name in ("dc", "ac_true_rms", "ac_average", "frequency_hz")
    }
    converged = np.ones(n, dtype=bool)
    for columns, signals in parts:
        for name, array in arrays.items():
            array[:, columns] = getattr(signals, name)
        converged &= signals.converged
    return Signals(converged=converged, **arrays)
