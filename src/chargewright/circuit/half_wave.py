"""One coil with its far end on the frame, and one diode: solved as a bridge with three legs out.

The bridge of a single coil becomes a half-wave charger when one of its leads is tied to frame
and only the other lead's upper junction is left. The frame takes the place of lead A there,
because the network has a branch from lead A to frame (``harness_leak_s``); the coil's one real
lead is then lead B. The coil's current comes back through the frame and never through the
regulator's body, whose ground lead therefore counts as none; a leak from the harness to frame
is then one to the body.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from chargewright.circuit import running
from chargewright.circuit.signals import Probe, Signals
from chargewright.circuit.wires import check_probes, wire_between
from chargewright.machine.layout import Layout, Winding
from chargewright.machine.parameters import INDEX, Array, column
from chargewright.machine.points import Point, State

TIED_S = 1e5  # the coil's far end to frame: as good as one node
AS_BRIDGE = {Point.ALT_A: Point.ALT_B, Point.REG_A: Point.REG_B}


def bridge_layout(layout: Layout) -> Layout:
    """Return the layout of the bridge that stands for a half-wave charger."""
    return replace(layout, winding=Winding.SINGLE)


def bridge_params(params: Array) -> Array:
    """Return the parameters (n, COUNT) of that bridge."""
    made = params.copy()

    def put(name: str, value: Array | float) -> None:
        made[:, INDEX[name]] = value

    for name in ("plug_ohm", "up_v", "up_open", "up_leak_s"):
        put(f"{name}_b", column(params, f"{name}_a"))
    put("plug_ohm_a", 0.0)
    put("up_open_a", 1.0)
    for leg in "ab":
        put(f"dn_open_{leg}", 1.0)
    put("up_leak_s_a", 0.0)
    put("dn_leak_s_a", 0.0)
    put("dn_leak_s_b", column(params, "dn_leak_s_a") + column(params, "harness_leak_s"))
    put("phase_short_s", 0.0)
    put("harness_leak_s", TIED_S)
    put("stator_leak_at", 1.0 - column(params, "stator_leak_at"))
    put("reg_ground_ohm", 0.0)
    return made


def bridge_probe(probe: Probe) -> Probe:
    """Return the same pair of points on that bridge."""
    plus, minus = (AS_BRIDGE.get(point, point) for point in (probe.plus, probe.minus))
    return Probe(plus, minus)


def signals(
    layout: Layout,
    params: Array,
    state: State,
    rpm: Array,
    volts: Sequence[Probe],
    amps: Sequence[Probe],
    *,
    steps: int = running.STEPS,
) -> tuple[Signals, Signals]:
    """Return what ``running.signals`` returns, for a half-wave charger with its plug in.

    The regulator's body is at frame potential; what an AC regulator in the same body sends
    through its ground is added by ``lighting.py``.
    """
    check_probes(layout, [*volts, *amps])
    for probe in amps:
        wire_between(layout, probe)
    return running.signals(
        bridge_layout(layout),
        bridge_params(params),
        state,
        rpm,
        [bridge_probe(probe) for probe in volts],
        [bridge_probe(probe) for probe in amps],
        steps=steps,
    )


def open_lead_phasors(
    emf: np.ndarray[tuple[int, ...], np.dtype[np.complex128]],
    z: np.ndarray[tuple[int, ...], np.dtype[np.complex128]],
    leak_s: Array,
    leak_at: Array,
    load_s: float,
) -> np.ndarray[tuple[int, ...], np.dtype[np.complex128]]:
    """Return phasors (n, h) of a lead to frame, plug open, the coil's far end on the frame.

    ``emf`` and ``z`` (n, h) of the whole coil per harmonic; a leak to frame sits at ``leak_at``
    (0 far end, 1 lead); ``load_s`` is the meter. Voltage dividers, textbook.
    """
    leak, at = leak_s[:, None], leak_at[:, None]
    tap = at * emf / (1.0 + at * z * leak)
    behind = at * z / (1.0 + at * z * leak) + (1.0 - at) * z
    return (tap + (1.0 - at) * emf) / (1.0 + behind * load_s)
