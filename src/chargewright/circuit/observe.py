"""One door to the circuit: any two points, any state.

``signals`` and ``under_test`` choose the solver by the machine's state: engine off or
cranking (``still``), running (``turning``), running with the alternator plug open (``turning``
for the leads, ``still`` for the rest), the meter's own test current (``under_test``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from chargewright.circuit import running, still, turning
from chargewright.circuit import under_test as tested
from chargewright.circuit.signals import (
    Probe,
    Signals,
    TestResult,
    TestSource,
    added,
    nothing,
    spread,
)
from chargewright.circuit.warmth import as_warm_as_it_is
from chargewright.errors import InputError
from chargewright.machine.layout import Layout
from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import Array, column
from chargewright.machine.points import Engine, State

IDLE_REGION_RPM = 1800.0  # at and below this a speed error is the idle's own


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


def signals(
    layout: Layout,
    params: Array,
    state: State,
    *,
    volts: Sequence[Probe] = (),
    amps: Sequence[Probe] = (),
    steps: int = running.STEPS,
) -> tuple[Signals, Signals]:
    """Return (volts between pairs of points, amperes in the wires that join them); (n, m) each.

    ``steps`` is the running solver's time steps per electrical period. Raises ``InputError``
    for an ``amps`` probe whose points no single wire joins, and for a running state without a
    speed.
    """
    params, state = as_warm_as_it_is(params, state)
    if state.engine is not Engine.RUNNING:
        return _standing(layout, params, state, volts, amps)
    rpm = rpm_of(params, state)
    if state.plug_in:
        return turning.plugged(layout, params, state, rpm, volts, amps, steps=steps)
    leads = turning.open_points(layout)
    on_leads = [i for i, p in enumerate(volts) if p.plus in leads or p.minus in leads]
    # A coil that ends on the frame shares its direct volts; an insulated winding floats.
    others = [i for i, p in enumerate(volts) if i not in on_leads or turning.on_frame(layout, p)]
    standing, currents = _standing(
        layout, params, without_charging(state), [volts[i] for i in others], amps
    )
    found = spread(standing, others, len(volts))
    if on_leads:
        chosen = [volts[i] for i in on_leads]
        leads_v = turning.open_volts(layout, params, state, rpm, chosen)
        found = added(found, spread(leads_v, on_leads, len(volts)))
    return found, currents


def _standing(
    layout: Layout,
    params: Array,
    state: State,
    volts: Sequence[Probe],
    amps: Sequence[Probe],
) -> tuple[Signals, Signals]:
    n = params.shape[0]
    return (
        still.volts(layout, params, state, volts) if volts else nothing(n, 0),
        still.amps(layout, params, state, amps) if amps else nothing(n, 0),
    )


def under_test(
    layout: Layout, params: Array, state: State, probes: Sequence[Probe], source: TestSource
) -> TestResult:
    """Return what a meter's ohms or diode test meets between pairs of points; arrays (n, m)."""
    params, state = as_warm_as_it_is(params, state)
    return tested.respond(layout, params, state, probes, source)


def without_charging(state: State) -> State:
    """Return the state that loads and battery see when a running machine does not charge."""
    return replace(state, engine=Engine.OFF, key_on=True, rpm=None, rpm_max=None)
