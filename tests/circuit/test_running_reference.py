"""The periodic steady state against independent references.

References, named where used: (a) exact closed form of a six-pulse bridge into a constant
voltage with R = 0, by half-wave symmetry, after V. Caliskan, D. Perreault, T. Jahns and
J. Kassakian, "Analysis of three-phase rectifiers with constant-voltage loads", IEEE Trans.
CAS-I 50(9), 2003 (method; the formula derived anew); (b) a 27-state implicit bridge solver
written independently of this project, its fault rows repeated with a stiff ODE solver;
(c) waveform integrals.
"""

from __future__ import annotations

import numpy as np
import pytest

from chargewright.circuit import network as nw
from tests.circuit.machine_m import Change, machine_m, set_column, solve

OUTPUT, LEAD_A, LEAD_B, LEAD_C = 3, 0, 1, 2
ALT_A, ALT_B, BATTERY_NEG = 6, 7, 0

# rpm: Idc [A], phase rms [A], connected lead-to-lead volts true rms / average-responding (b)
TABLE_M = {
    900: (3.20, 2.55, 12.61, 12.00),
    1000: (6.49, 5.02, 13.00, 12.00),
    1200: (12.72, 9.56, 13.23, 12.00),
    1500: (18.49, 13.76, 13.23, 12.00),
    2000: (22.91, 16.99, 13.23, 12.00),
    3000: (26.08, 19.33, 13.23, 12.00),
    5000: (27.71, 20.52, 13.23, 12.00),
    8000: (28.27, 20.93, 13.23, 12.00),
}


@pytest.mark.parametrize("rpm", TABLE_M)
def test_machine_m_rows(rpm: int) -> None:
    """Every row of the reference table within 2 % (b)."""
    volts, _ = solve([machine_m(rpm)], [(ALT_A, ALT_B)])
    amps, results = solve([machine_m(rpm)], [(OUTPUT, 1), (LEAD_A, 1)], current=True)
    found = (amps[0, 0, 0], amps[0, 1, 1], volts[0, 0, 1], volts[0, 0, 2])
    assert found == pytest.approx(TABLE_M[rpm], rel=0.02)
    assert results[0, 6] == 1.0


def test_machine_m_at_cut_in() -> None:
    """At 800 rpm the table prints 0.20 A and 0.21 A: agreement to its last digit (b)."""
    amps, _ = solve([machine_m(800)], [(OUTPUT, 1), (LEAD_A, 1)], current=True, steps=480)
    assert (amps[0, 0, 0], amps[0, 1, 1]) == pytest.approx((0.20, 0.21), abs=0.005)


def coil_short(op: np.ndarray) -> None:
    """One of six coils of phase A shorted: E, R and L times 5/6."""
    for column in (nw.EMF_A, nw.R_A, nw.L_A):
        op[column] *= 5 / 6


def weak_flux(op: np.ndarray) -> None:
    """Rotor flux 20 % low."""
    op[nw.EMF_A : nw.EMF_A + 3] *= 0.8


def hot_stator(op: np.ndarray) -> None:
    """Copper at 150 C."""
    op[nw.R_A : nw.R_A + 3] *= 1.511


# fault: (change, Idc at 1500, 3000, 5000 rpm, phase rms A/B/C at 5000 rpm) (b)
FAULTS: dict[str, tuple[Change, tuple[float, ...], tuple[float, ...]]] = {
    "open diode": (set_column(nw.UP_S_A, 0), (13.55, 23.93, 28.17), (25.3, 22.5, 20.9)),
    "open phase": (set_column(nw.PLUG_A, 1e9), (7.51, 14.39, 15.77), (0.0, 17.5, 17.5)),
    "shorted diode": (set_column(nw.UP_LEAK_A, 1e4), (4.67, 7.87, 8.60), (31.0, 22.6, 24.6)),
    "lead to ground": (set_column(nw.HARNESS_S, 1e4), (4.67, 7.87, 8.60), (31.0, 22.6, 24.6)),
    "coil shorted": (coil_short, (17.44, 25.84, 27.62), (20.4, 20.7, 20.3)),
    "flux low": (weak_flux, (10.96, 20.03, 21.87), (16.2, 16.2, 16.2)),
    "0.2 ohm in lead A": (set_column(nw.PLUG_A, 0.2), (16.83, 25.43, 27.45), (20.2, 20.9, 19.8)),
    "1.0 ohm in lead A": (set_column(nw.PLUG_A, 1.0), (12.79, 22.54, 26.00), (18.4, 22.0, 17.3)),
    "0.1 ohm to battery": (set_column(nw.CHARGE_OHM, 0.1), (16.71, 25.44, 27.46), (20.3,) * 3),
    "stator at 150 C": (hot_stator, (16.55, 25.37, 27.43), (20.3,) * 3),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_fault_signatures(fault: str) -> None:
    """Output at three speeds within 3 %, phase currents at 5000 rpm within 3 % (b)."""
    change, output, phases = FAULTS[fault]
    columns = [machine_m(rpm, change) for rpm in (1500, 3000, 5000)]
    amps, results = solve(
        columns, [(OUTPUT, 1), (LEAD_A, 1), (LEAD_B, 1), (LEAD_C, 1)], current=True
    )
    assert amps[:, 0, 0] == pytest.approx(output, rel=0.03)
    rms = np.hypot(amps[2, 1:, 0], amps[2, 1:, 1])
    assert rms == pytest.approx(phases, rel=0.03, abs=0.05)
    assert results[:, 6].all()


@pytest.mark.parametrize("ratio", [0.2, 0.5, 0.8, 1.0, 1.1107, 1.2, 1.29])
def test_exact_law_without_resistance(ratio: float) -> None:
    """Io = 3/(pi X) sqrt(E^2 - (2 pi V'/9)^2), continuous conduction, within 1 % (a)."""
    x_ohm, v_prime = 2.0, 16.2
    e_v = v_prime / ratio

    def lossless(op: np.ndarray) -> None:
        op[nw.EMF_A : nw.EMF_A + 3] = e_v
        op[nw.R_A : nw.R_A + 3] = 1e-3
        op[nw.L_A : nw.L_A + 3] = x_ohm / op[nw.OMEGA]

    amps, _ = solve([machine_m(3000, lossless)], [(OUTPUT, 1)], current=True, steps=480)
    exact = 3 / (np.pi * x_ohm) * np.sqrt(e_v**2 - (2 * np.pi * v_prime / 9) ** 2)
    assert amps[0, 0, 0] == pytest.approx(exact, rel=0.01)


@pytest.mark.parametrize(("ratio", "expected"), [(0.2, 0.6044), (0.5, 0.3941)])
def test_single_phase_law(ratio: float, expected: float) -> None:
    """Single-phase full bridge, R = 0: simulated values in units of E/X within 1 % (b).

    A single bridge's state at R = 0 depends on its start; the small resistance here picks the
    periodic one without direct current.
    """
    x_ohm, v_prime = 2.0, 16.2
    e_v = v_prime / ratio

    def single(op: np.ndarray) -> None:
        op[nw.EMF_A : nw.EMF_A + 3] = (e_v, 0, 0)
        op[nw.R_A] = 2e-3
        op[nw.L_A] = x_ohm / op[nw.OMEGA]
        op[nw.UP_S_A + 2] = op[nw.DN_S_A + 2] = 0.0
        op[nw.PLUG_C] = 1e9

    amps, _ = solve(
        [machine_m(3000, single)], [(OUTPUT, 1)], current=True, kind=nw.SINGLE, steps=480
    )
    assert amps[0, 0, 0] == pytest.approx(expected * e_v / x_ohm, rel=0.01)


def test_lead_to_battery_minus() -> None:
    """Each lead against battery minus: DC 7.20 V, true rms 8.10 V, average 9.00 V (c)."""
    volts, _ = solve([machine_m(5000)], [(ALT_A, BATTERY_NEG)])
    assert volts[0, 0, :3] == pytest.approx((7.20, 8.10, 9.00), rel=0.005)


def test_steps_converge() -> None:
    """A finer step leads to the same answer: the usual steps within 0.7 % of 1920."""
    columns = [machine_m(rpm) for rpm in (900, 1500, 3000, 5000)]
    coarse, _ = solve(columns, [(OUTPUT, 1)], current=True)
    fine, _ = solve(columns, [(OUTPUT, 1)], current=True, steps=1920)
    assert coarse[:, 0, 0] == pytest.approx(fine[:, 0, 0], rel=0.007)


def test_phase_permutation() -> None:
    """The same fault on another lead gives the same output."""
    columns = [machine_m(2000, set_column(nw.PLUG_A + leg, 0.4)) for leg in range(3)]
    amps, _ = solve(columns, [(OUTPUT, 1)], current=True, steps=480)
    assert amps[:, 0, 0] == pytest.approx(amps[0, 0, 0], rel=0.003)
