"""The waveforms themselves, of one running machine: what an oscilloscope would show.

``observe.signals`` gives means and rms of a batch; this gives the samples they are made of, from
the path without a compiler, for one machine at a time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from chargewright.circuit import network as nw
from chargewright.circuit import plain
from chargewright.circuit.observe import rpm_of
from chargewright.circuit.operate import CONVERGED, CUT
from chargewright.circuit.plain_batch import assemble
from chargewright.circuit.running import KIND, current_row, operating_points
from chargewright.circuit.signals import Probe
from chargewright.circuit.switching import STEP, WEIGHT
from chargewright.circuit.waveforms import POINTS, ROW, WIRE, WIRES, all_rows
from chargewright.circuit.wires import check_probes
from chargewright.errors import InputError
from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense
from chargewright.machine.parameters import INDEX, OPEN_OHM, Array
from chargewright.machine.points import Engine, State

MAGNETS = frozenset({Regulator.SHUNT, Regulator.SERIES, Regulator.NONE})
STEPS = 241  # time steps of a period: a curve without visible corners


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """One electrical period in one mode of the regulator, sampled k times.

    ``at`` (k,) where in the period a sample stands, 0 to 1, rising; ``weight`` (k,) the part of
    the period it speaks for, summing to 1. ``volts`` (m, k) and ``amps`` (q, k) of the probes.
    """

    at: Array
    weight: Array
    volts: Array
    amps: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Waves:
    """What a running machine's probes show: the period while charging, and while cut off.

    The regulator spends ``cut_share`` of the time in ``cutting``; a mode it never takes is None.
    ``period_s`` is the electrical period, ``converged`` whether the steady state was reached.
    """

    charging: Period | None
    cutting: Period | None
    cut_share: float
    period_s: float
    rpm: float
    converged: bool


def can_sample(layout: Layout) -> bool:
    """Tell whether a layout is one the bridge's march solves as it stands: magnets, full bridge."""
    return layout.winding in KIND and layout.regulator in MAGNETS


def waves(
    layout: Layout,
    params: Array,
    state: State,
    *,
    volts: Sequence[Probe] = (),
    amps: Sequence[Probe] = (),
    steps: int = STEPS,
) -> Waves:
    """Return the sampled waveforms of one machine, ``params`` (1, COUNT), in a running state.

    Where the state opens the alternator plug, its contacts count as broken: leads then show
    their open-circuit volts. Raises ``InputError`` for another number of machines, an engine
    that does not run, a point the machine lacks, or a current that no single wire carries.
    """
    if not can_sample(layout):
        raise InputError(
            f"waveforms of winding {layout.winding.value!r}, regulator {layout.regulator.value!r}: "
            "expected magnets and a full bridge"
        )
    if params.shape[0] != 1 or state.engine is not Engine.RUNNING:
        raise InputError(
            f"waveforms of {params.shape[0]} machines, engine {state.engine.value}; "
            "expected one machine with its engine running"
        )
    check_probes(layout, [*volts, *amps])
    rpm = rpm_of(params, state)
    if not state.plug_in:
        params, state = _pulled(params), replace(state, plug_in=True)
    op = np.ascontiguousarray(operating_points(layout, params, state, rpm).T)
    to_battery = layout.charge_to is ChargeTo.BATTERY
    by_lead = layout.sense is Sense.LEAD
    with np.errstate(all="ignore"):
        batch = assemble(
            op,
            KIND[layout.winding],
            layout.regulator is Regulator.SERIES,
            to_battery,
            nw.emf_table(steps),
        )
        result, runs = plain.operate(batch, to_battery, by_lead)
    point_rows = np.zeros((POINTS, ROW, 1))
    wire_rows = np.zeros((WIRES, ROW, 1))
    all_rows(op, batch.y, result, to_battery, by_lead, point_rows, wire_rows)
    volt_rows = [point_rows[int(p.plus), :, 0] - point_rows[int(p.minus), :, 0] for p in volts]
    amp_rows = [_amps(layout, p, wire_rows[:, :, 0]) for p in amps]
    cut = float(result[CUT, 0])
    modes = [
        _period(run.mode.samples[:, :, 0], volt_rows, amp_rows) if share > 0.0 else None
        for run, share in zip(runs, (1.0 - cut, cut), strict=True)
    ]
    return Waves(
        charging=modes[0],
        cutting=modes[1],
        cut_share=cut,
        period_s=float(2.0 * np.pi / op[nw.OMEGA, 0]),
        rpm=float(rpm[0]),
        converged=bool(result[CONVERGED, 0] > 0.5),
    )


def _pulled(params: Array) -> Array:
    """Return parameters with every contact of the alternator plug broken."""
    pulled = params.copy()
    pulled[:, [INDEX[f"plug_ohm_{leg}"] for leg in "abc"]] = OPEN_OHM
    return pulled


def _amps(layout: Layout, probe: Probe, wire_rows: Array) -> Array:
    row, sign = current_row(layout, probe)
    return sign * wire_rows[row - WIRE] if row >= WIRE else np.zeros(ROW)


def _period(samples: Array, volt_rows: Sequence[Array], amp_rows: Sequence[Array]) -> Period:
    """Return one mode's samples in the order of time; parts of a divided step follow each other."""
    used = samples[:, samples[WEIGHT] > 0.0]
    used = used[:, np.argsort(used[STEP], kind="stable")]
    weight = used[WEIGHT]
    basis = used[:8]

    def values(rows: Sequence[Array]) -> Array:
        if not rows:
            return np.zeros((0, weight.size))
        stacked = np.array(rows)
        return np.asarray(stacked[:, :8] @ basis + stacked[:, 8:])

    return Period(
        at=np.cumsum(weight) - 0.5 * weight,
        weight=weight,
        volts=values(volt_rows),
        amps=values(amp_rows),
    )
