"""Open-circuit signatures of a turning alternator, plug open: exact relations of phasors.

Star EMF triangle: a winding with a share x of its turns gone, a ground fault at a fraction y of
a winding from the neutral, an open winding; V_LL 75 V as in the worked values (own computation
of the phasor relations, given to three digits).
"""

from __future__ import annotations

import numpy as np
import pytest

from chargewright.circuit.signals import Probe
from chargewright.circuit.unplugged import lead_volts
from chargewright.machine.layout import Layout, Winding
from chargewright.machine.parameters import COUNT, INDEX, OPEN_OHM, Array, healthy_row
from chargewright.machine.points import Engine, Point, State

STATE = State(engine=Engine.RUNNING, rpm=5000, plug_in=False)
PAIRS = [
    Probe(Point.ALT_A, Point.ALT_B),
    Probe(Point.ALT_B, Point.ALT_C),
    Probe(Point.ALT_C, Point.ALT_A),
]
TO_FRAME = [Probe(lead, Point.FRAME) for lead in (Point.ALT_A, Point.ALT_B, Point.ALT_C)]


def machine(**changes: float) -> Array:
    """Return machine M (15 V lead to lead per 1000 rpm) with columns changed."""
    row = healthy_row().reshape(1, COUNT)
    for leg in "abc":
        row[0, INDEX[f"emf_v_per_krpm_{leg}"]] = 15.0 / np.sqrt(3.0)
    for name, value in changes.items():
        row[0, INDEX[name]] = value
    return row


def read(params: Array, probes: list[Probe], layout: Layout | None = None) -> Array:
    """Return true rms volts of each probe at 5000 rpm."""
    answer = lead_volts(layout or Layout(), params, STATE, np.array([5000.0]), probes)
    return answer.ac_true_rms[0]


def test_sound_star() -> None:
    """75 V between any two leads at 5000 rpm; nothing to frame."""
    assert read(machine(), PAIRS) == pytest.approx([75.0] * 3, rel=1e-9)
    assert read(machine(), TO_FRAME) == pytest.approx([0.0] * 3, abs=0.5)


@pytest.mark.parametrize(
    ("share", "ratio"), [(0.05, 0.975), (0.10, 0.950), (1 / 6, 0.918), (0.25, 0.878), (0.5, 0.764)]
)
def test_turns_gone(share: float, ratio: float) -> None:
    """V_AB = V_CA = V_LL sqrt((1-x)^2 + (1-x) + 1)/sqrt 3, V_BC unchanged: within 0.2 %."""
    k = 1.0 - share
    params = machine(emf_v_per_krpm_a=15.0 / np.sqrt(3.0) * k)
    exact = np.sqrt(k * k + k + 1.0) / np.sqrt(3.0)
    assert exact == pytest.approx(ratio, abs=6e-4)
    assert read(params, PAIRS) == pytest.approx([75 * exact, 75, 75 * exact], rel=0.002)


@pytest.mark.parametrize(
    ("at", "volts"), [(0.5, (21.7, 57.3, 57.3)), (0.0, (43.3, 43.3, 43.3)), (1.0, (0, 75, 75))]
)
def test_ground_fault(at: float, volts: tuple[float, ...]) -> None:
    """Lead A (1-y) V_ph, leads B and C V_ph sqrt(1 + y + y^2); pairs unchanged.

    The model keeps the tap 1 % away from either end.
    """
    params = machine(stator_leak_s=1.0, stator_leak_at=at)
    assert read(params, TO_FRAME) == pytest.approx(volts, rel=0.02, abs=0.6)
    assert read(params, PAIRS) == pytest.approx([75.0] * 3, rel=0.002)


def test_open_winding() -> None:
    """An open winding: two pairs read next to nothing on a 10 megohm meter, one is whole."""
    volts = read(machine(winding_ohm_a=OPEN_OHM), PAIRS)
    assert volts[1] == pytest.approx(75.0, rel=1e-6)
    assert max(volts[0], volts[2]) < 1.0


def test_weak_rotor_lowers_every_pair() -> None:
    """Flux 20 % low: every pair 20 % low."""
    weak = {f"emf_v_per_krpm_{leg}": 0.8 * 15.0 / np.sqrt(3.0) for leg in "abc"}
    assert read(machine(**weak), PAIRS) == pytest.approx([60.0] * 3, rel=1e-9)


def test_delta_pairs_are_its_windings() -> None:
    """Delta: the pair voltage is the winding's own; an open winding leaves all three readings."""
    layout = Layout(winding=Winding.DELTA)
    assert read(machine(), PAIRS, layout) == pytest.approx([75.0 / np.sqrt(3.0)] * 3, rel=1e-9)
    opened = read(machine(winding_ohm_a=OPEN_OHM), PAIRS, layout)
    assert opened == pytest.approx([75.0 / np.sqrt(3.0)] * 3, rel=1e-3)


def test_the_solve_agrees_with_the_closed_form() -> None:
    """A leak too small to matter gives the closed form's answer by the nodal solve."""
    for layout in (Layout(), Layout(winding=Winding.DELTA), Layout(winding=Winding.SINGLE)):
        probes = PAIRS[:1] if layout.winding is Winding.SINGLE else PAIRS
        closed = read(machine(emf_third=0.05), probes, layout)
        solved = read(machine(emf_third=0.05, stator_leak_s=1e-12), probes, layout)
        assert solved == pytest.approx(closed, rel=1e-3)
