"""The waveforms of one machine as named arrays, over one period of each mode of its regulator."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.sampled import Period, Waves, can_sample, waves
from chargewright.circuit.signals import Probe
from chargewright.machine.layout import ChargeTo, Layout
from chargewright.machine.parameters import Array
from chargewright.machine.points import Point, State

P = Point
LEADS = ((P.ALT_A, P.REG_A), (P.ALT_B, P.REG_B), (P.ALT_C, P.REG_C))


@dataclass(frozen=True, slots=True, kw_only=True)
class Traces:
    """Waveforms (k,) over one electrical period, or over two where the regulator cuts.

    The first period is with the alternator charging, the second (``cutting``) while the
    regulator holds it off; the regulator stays many periods in each, ``cut_share`` of the time
    in the second. ``weight`` sums to 1 and makes means: ``(weight * output_v).sum()``.

    ``phase_x_a`` [A] flows out of the alternator through lead x; ``leg_x_v`` [V] is lead x at
    the regulator against frame; ``pair_xy_v`` [V] between leads at the alternator; ``output_v``
    [V] and ``output_a`` [A] at the regulator's output; ``battery_v`` [V] at the posts;
    ``battery_a`` [A] into the battery. Leads a machine lacks are None.
    """

    time_ms: Array
    weight: Array
    cutting: NDArray[np.bool_]
    phase_a_a: Array
    phase_b_a: Array
    phase_c_a: Array | None
    leg_a_v: Array
    leg_b_v: Array
    leg_c_v: Array | None
    pair_ab_v: Array
    pair_bc_v: Array | None
    pair_ca_v: Array | None
    output_v: Array
    output_a: Array
    battery_v: Array
    battery_a: Array
    rpm: float
    period_ms: float
    cut_share: float
    converged: bool

    def arrays(self) -> dict[str, Array]:
        """Return every waveform by its name, without those the machine lacks."""
        names = [n for n in self.__slots__ if n[-2:] in ("_v", "_a") and n != "time_ms"]
        return {n: getattr(self, n) for n in names if getattr(self, n) is not None}


def traces(layout: Layout, params: Array, state: State) -> Traces:
    """Return the waveforms of one machine (1, COUNT) in a running state.

    They are empty (k = 0) for a kind of alternator that cannot be sampled.
    """
    if not can_sample(layout):
        return _nothing(state.rpm or 0.0)
    leads = LEADS[: layout.phases]
    volts = {f"leg_{_letter(reg)}_v": Probe(reg, P.FRAME) for _, reg in leads}
    alternator = [alt for alt, _ in leads]
    for one, other in zip(alternator, alternator[1:] + alternator[:1], strict=True):
        volts[f"pair_{_letter(one)}{_letter(other)}_v"] = Probe(one, other)
    volts["output_v"] = Probe(P.REG_OUT, P.REG_BODY)
    volts["battery_v"] = Probe(P.BATTERY_POS, P.BATTERY_NEG)
    goal = P.BATTERY_POS if layout.charge_to is ChargeTo.BATTERY else P.FUSE_OUT
    amps = {f"phase_{_letter(alt)}_a": Probe(alt, reg) for alt, reg in leads}
    amps["output_a"] = Probe(P.REG_OUT, goal)
    amps["battery_a"] = Probe(P.BATTERY_NEG, P.FRAME)
    found = waves(layout, params, state, volts=list(volts.values()), amps=list(amps.values()))
    modes = [mode for mode in (found.charging, found.cutting) if mode is not None]
    named = {
        name: np.concatenate([mode.volts[row] for mode in modes]) for row, name in enumerate(volts)
    }
    named |= {
        name: np.concatenate([mode.amps[row] for mode in modes]) for row, name in enumerate(amps)
    }
    return _traces(found, modes, named)


def _traces(found: Waves, modes: list[Period], named: dict[str, Array]) -> Traces:
    period_ms = 1000.0 * found.period_s
    shares = (1.0 - found.cut_share, found.cut_share)
    kept = [s for s, m in zip(shares, (found.charging, found.cutting), strict=True) if m]
    return Traces(
        time_ms=np.concatenate([(n + mode.at) * period_ms for n, mode in enumerate(modes)]),
        weight=np.concatenate([s * m.weight for s, m in zip(kept, modes, strict=True)]),
        cutting=np.concatenate([np.full(m.at.size, m is found.cutting) for m in modes]),
        phase_a_a=named["phase_a_a"],
        phase_b_a=named["phase_b_a"],
        phase_c_a=named.get("phase_c_a"),
        leg_a_v=named["leg_a_v"],
        leg_b_v=named["leg_b_v"],
        leg_c_v=named.get("leg_c_v"),
        pair_ab_v=named["pair_ab_v"],
        pair_bc_v=named.get("pair_bc_v"),
        pair_ca_v=named.get("pair_ca_v"),
        output_v=named["output_v"],
        output_a=named["output_a"],
        battery_v=named["battery_v"],
        battery_a=named["battery_a"],
        rpm=found.rpm,
        period_ms=period_ms,
        cut_share=found.cut_share,
        converged=found.converged,
    )


def _nothing(rpm: float) -> Traces:
    none = np.zeros(0)
    return Traces(
        time_ms=none,
        weight=none,
        cutting=np.zeros(0, dtype=bool),
        phase_a_a=none,
        phase_b_a=none,
        phase_c_a=None,
        leg_a_v=none,
        leg_b_v=none,
        leg_c_v=None,
        pair_ab_v=none,
        pair_bc_v=None,
        pair_ca_v=None,
        output_v=none,
        output_a=none,
        battery_v=none,
        battery_a=none,
        rpm=rpm,
        period_ms=0.0,
        cut_share=0.0,
        converged=False,
    )


def _letter(point: Point) -> str:
    return point.word[-1]
