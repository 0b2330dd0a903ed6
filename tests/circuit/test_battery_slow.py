"""Slow overvoltages against a measured battery: 17 Ah 12 V VRLA.

Data: V. Sulzer et al., J. Electrochem. Soc. 166 (2019) A2363, public telemetry, read off by
trapezoid and linear interpolation. Its volts include wiring, its charge varies by test order.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.circuit.battery import (
    Polarisation,
    charging_a,
    exhausted_v,
    ohmic_ohm,
    open_circuit_v,
    overvoltage_slope_ohm,
    overvoltage_v,
    polarisation_of,
    stored_a,
)

AGM = 1.0
WIRED_OHM = 0.061  # one resistance for the whole series: battery and wiring, fitted
CHARGED_OHM = 3.0 / (17.0 * 17.0) + 0.036  # its class's 3.0 V/CCA, wiring by the load steps

AH = np.array([0.5, 2, 4, 8.5, 12, 16, 18])
DISCHARGES = {  # A: (Ah to about 10.45 V, volts at AH)
    3.043: (19.74, [12.593, 12.511, 12.394, 12.063, 11.802, 11.436, 11.166]),
    2.540: (19.80, [12.664, 12.567, 12.435, 12.124, 11.866, 11.490, 11.205]),
    2.039: (19.67, [12.730, 12.604, 12.459, 12.143, 11.883, 11.508, 11.217]),
    1.536: (19.28, [12.814, 12.659, 12.480, 12.133, 11.867, 11.487, 11.162]),
    1.033: (18.97, [12.817, 12.646, 12.470, 12.147, 11.881, 11.484, 11.102]),
    0.531: (18.45, [12.834, 12.657, 12.476, 12.127, 11.866, 11.452, 10.969]),
}


def slow(soc: float, capacity_ah: float, temp_c: float = 25.0, scale: float = 1.0) -> Polarisation:
    """Return the coefficients of one AGM battery."""
    return polarisation_of(
        np.array([AGM]),
        np.array([soc]),
        temp_c=np.array([temp_c]),
        capacity_ah=np.array([capacity_ah]),
        scale=np.array([scale]),
    )


@pytest.mark.parametrize("current_a", list(DISCHARGES))
def test_discharges_of_the_17_ah_battery(current_a: float) -> None:
    """Each curve by its own capacity, one resistance for all: within 60 mV.

    Closer is not to be had: at 0.5 Ah the six curves lie 241 mV apart, at 4 Ah 82 mV, and no
    single resistance explains both.
    """
    capacity_ah, volts = DISCHARGES[current_a]
    model = [
        float(
            open_circuit_v(AGM, 1.0 - ah / capacity_ah, 25.0)
            + overvoltage_v(slow(1.0 - ah / capacity_ah, 19.7), -current_a)[0]
            - current_a * WIRED_OHM
        )
        for ah in AH
    ]
    assert np.abs(np.array(model) - volts).max() < 0.060


def recharge(hours: int) -> list[tuple[float, float]]:
    """Return (V, A) at each full hour of a recharge from flat, limited to 14.4 V."""
    soc, capacity_ah, step_h = 0.0, 19.7, 1 / 60
    rows = []
    for minute in range(60 * hours + 1):
        offered = max(2.9 - 0.075 * minute / 60, 2.45)
        p = slow(soc, capacity_ah)
        rest = float(open_circuit_v(AGM, soc, 25.0) - exhausted_v(p)[0])

        def volts(amps: float, p: Polarisation = p, rest: float = rest) -> float:
            return rest + float(overvoltage_v(p, amps)[0]) + amps * CHARGED_OHM

        low, amps = 0.0, offered
        if volts(offered) > 14.4:
            for _ in range(50):
                middle = 0.5 * (low + amps)
                low, amps = (middle, amps) if volts(middle) < 14.4 else (low, middle)
        if minute % 60 == 0:
            rows.append((volts(amps), amps))
        kept = float(stored_a(p, volts(amps) - rest - amps * CHARGED_OHM)[0])
        soc = min(soc + min(kept, amps) * step_h / capacity_ah, 0.9999)
    return rows


def test_recharge_of_the_17_ah_battery() -> None:
    """2.9 falling to 2.5 A: 12.3/12.6/12.9/13.15/13.5/14.05 V at 1..6 h, then the taper.

    14.4 V is reached at 6.3-7 h; 1.3-1.6 A at 7 h, 0.9, 0.5, 0.4, 0.3 A at 8..11 h. The model
    keeps volts within 70 mV and the taper within a fifth.
    """
    rows = recharge(11)
    measured_v = [12.3, 12.6, 12.9, 13.15, 13.5, 14.05]
    assert [v for v, _ in rows[1:7]] == pytest.approx(measured_v, abs=0.07)
    assert rows[7][0] == pytest.approx(14.4, abs=1e-6)
    assert [a for _, a in rows[7:]] == pytest.approx([1.45, 0.9, 0.5, 0.4, 0.3], rel=0.20)


def test_a_partial_recharge_the_fit_did_not_see() -> None:
    """From a rested 12.365 V (8.57 of 19.7 Ah gone) at 2.6 A: 13.14 V at 0.5 h, 13.77 at 2 h.

    After 1.30 Ah and 5.14 Ah; measured 13.142 and 13.765 V at 2.60 and 2.48 A. The model reads
    0.23-0.34 V higher: after a deep discharge, where it was fitted, this battery took charge less
    willingly at equal charge than here, and the model does not carry that history.
    """
    for ah, amps, measured in ((1.30, 2.596, 13.142), (5.14, 2.479, 13.765)):
        soc = 1.0 - 8.57 / 19.7 + ah / 19.7
        volts = open_circuit_v(AGM, soc, 25.0) + overvoltage_v(slow(soc, 19.7), amps)
        assert float((volts + amps * CHARGED_OHM)[0]) == pytest.approx(measured, abs=0.36)


def test_a_flat_battery_holds_running_volts_down() -> None:
    """12 Ah at 30 %, fed 15 A: workshop experience says about 12.8-13.2 V."""
    volts = (
        open_circuit_v(AGM, 0.3, 25.0)
        + overvoltage_v(slow(0.3, 12.0), 15.0)
        + 15.0 * ohmic_ohm(0.015, 0.3, 25.0)
    )
    assert 12.8 <= float(volts[0]) <= 13.2


@pytest.mark.parametrize("chemistry", [0.0, 1.0, 2.0, 3.0])
def test_a_full_battery_takes_little_at_14_4_v(chemistry: float) -> None:
    """The usual rule calls a battery full below C/30 at 14.4 V."""
    p = polarisation_of(
        np.array([chemistry]),
        np.array([1.0]),
        temp_c=np.array([25.0]),
        capacity_ah=np.array([12.0]),
        scale=np.array([1.0]),
    )
    taken = charging_a(p, 14.4 - open_circuit_v(chemistry, 1.0, 25.0))
    assert 0.0 < float(taken[0]) < 12.0 / 30.0


def test_charging_current_inverts_the_overvoltage() -> None:
    p = slow(0.8, 12.0)
    assert charging_a(p, overvoltage_v(p, 3.7))[0] == pytest.approx(3.7, rel=1e-9)


battery = st.tuples(
    st.floats(0.0, 1.0), st.floats(0.5, 400.0), st.floats(-40.0, 55.0), st.floats(0.1, 20.0)
)


@given(battery, st.floats(-500.0, 500.0), st.floats(1e-3, 100.0))
def test_overvoltage_rises_with_current(
    made: tuple[float, float, float, float], amps: float, more: float
) -> None:
    p = slow(*made)
    low, high = overvoltage_v(p, amps)[0], overvoltage_v(p, amps + more)[0]
    assert high >= low
    assert np.isfinite([low, high]).all()
    assert overvoltage_v(p, 0.0)[0] == 0.0


@given(battery, st.floats(0.01, 100.0), st.sampled_from([-1.0, 1.0]))
def test_the_slope_is_the_derivative(
    made: tuple[float, float, float, float], size: float, sign: float
) -> None:
    p = slow(*made)
    amps, h = sign * size, 1e-5 * size
    numeric = (overvoltage_v(p, amps + h) - overvoltage_v(p, amps - h)) / (2.0 * h)
    assert overvoltage_slope_ohm(p, amps)[0] == pytest.approx(numeric[0], rel=1e-4, abs=1e-8)
