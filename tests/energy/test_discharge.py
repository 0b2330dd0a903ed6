"""Steady discharges: open data of a 17 Ah battery, a porous-electrode model, records in doubt."""

from __future__ import annotations

import csv
import os
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from chargewright.circuit.polarisation import polarisation_of
from chargewright.energy.capacity import exponent_from_ratings
from chargewright.energy.discharge import Cell, counted_ah, discharged_v, hours_to_empty
from chargewright.errors import InputError
from chargewright.machine.layout import Chemistry
from chargewright.machine.parameters import Array

# V. Sulzer et al., J. Electrochem. Soc. 166 (2019) A2363, public telemetry of one 17 Ah 12 V VRLA
# battery: A -> (Ah to about 10.45 V, C, volts at AH). Volts include the wiring.
AH = np.array([0.5, 2.0, 4.0, 8.5, 12.0, 16.0, 18.0])
DISCHARGES = {
    3.043: (19.74, 23.5, [12.593, 12.511, 12.394, 12.063, 11.802, 11.436, 11.166]),
    2.540: (19.80, 22.2, [12.664, 12.567, 12.435, 12.124, 11.866, 11.490, 11.205]),
    2.039: (19.67, 22.9, [12.730, 12.604, 12.459, 12.143, 11.883, 11.508, 11.217]),
    1.536: (19.28, 21.6, [12.814, 12.659, 12.480, 12.133, 11.867, 11.487, 11.162]),
    1.033: (18.97, 23.4, [12.817, 12.646, 12.470, 12.147, 11.881, 11.484, 11.102]),
    0.531: (18.45, 18.6, [12.834, 12.657, 12.476, 12.127, 11.866, 11.452, 10.969]),
}
OWN_OHM = 3.0 / (17.0 * 17.0)
FULL_CSV = os.environ.get("CHARGEWRIGHT_VRLA_CSV", "")


def model(current_a: float, ohm: float, share: float) -> Array:
    """Return volts at AH; ``share`` scales what this discharge itself gave, ``ohm`` is the wiring.

    The battery's own resistance is that of its class (17 Ah x 17 A/Ah, 3.0 V/CCA). Each
    discharge by its own Ah: the battery was recharged less and less completely.
    """
    ah, temp_c, _ = DISCHARGES[current_a]
    cell = Cell(chemistry=Chemistry.AGM, capacity_ah=share * ah, battery_ohm=OWN_OHM, temp_c=temp_c)
    return discharged_v(cell, 1.0 - AH / cell.capacity_ah, current_a) - current_a * ohm


# Published with the record: volts the battery rises by at once when a load goes off, wiring
# included, at the end of the highest and the lowest discharge current.
STEPS = {3.043: 0.243, 0.531: 0.089}


def wiring_ohm() -> float:
    """Return the wiring's ohms from the steps: what the circuit's own step leaves over."""
    left = []
    for current_a, step_v in STEPS.items():
        law = polarisation_of(
            np.array([1.0]),
            np.array([0.5]),
            temp_c=np.array([25.0]),
            capacity_ah=np.array([19.0]),
            scale=np.array([1.0]),
        )
        quick_v = float(law.draw_scale_v[0] * np.arcsinh(current_a / law.draw_knee_a[0]))
        left.append((step_v - quick_v) / current_a - OWN_OHM)
    low, high = sorted(left)
    assert high - low < 0.006  # both steps tell of one resistance: the law has the right shape
    return float(np.mean(left))


def fitted(current_a: float) -> tuple[float, float]:
    """Return (wiring ohm by the steps, share by least squares on one discharge)."""
    measured = np.array(DISCHARGES[current_a][2])
    ohm = wiring_ohm()
    shares = np.arange(0.98, 1.04, 0.001)
    errors = [float(((model(current_a, ohm, share) - measured) ** 2).sum()) for share in shares]
    return ohm, float(shares[int(np.argmin(errors))])


def rms(current_a: float, parameters: tuple[float, float]) -> float:
    error = model(current_a, *parameters) - np.array(DISCHARGES[current_a][2])
    return float(np.sqrt((error**2).mean()))


@pytest.mark.parametrize("one", list(DISCHARGES))
def test_two_parameters_from_one_discharge_predict_the_others(one: float) -> None:
    """From any of the six curves the other five within 60 mV rms.

    The two parameters are the wiring, by the load steps, and the capacity, by the curve.
    Fitting the wiring to a curve as well asks 0.53 A for milliohms it cannot tell: 50 mohm are
    27 mV there and 150 mV at 3 A.
    """
    parameters = fitted(one)
    assert 0.98 < parameters[1] < 1.039
    found = {current: rms(current, parameters) for current in DISCHARGES}
    assert max(found.values()) < 0.060, found


def test_steps_of_the_load() -> None:
    """3.04 A off lifts the volts by 0.243 V at once: 80 mohm, wiring included; half is ohmic."""
    assert 0.030 < wiring_ohm() < 0.042
    at_once = 3.043 * (wiring_ohm() + OWN_OHM)
    assert 0.4 * 0.243 < at_once < 0.243  # the rest is the quick part of the polarisation


def test_hours_follow_the_current() -> None:
    """The 17 Ah battery: 19.74 Ah at 3.043 A is 6.49 h."""
    cell = Cell(chemistry=Chemistry.AGM, capacity_ah=19.9, battery_ohm=0.05, temp_c=23.5)
    assert hours_to_empty(cell, 3.043) == pytest.approx(6.49, rel=0.05)
    assert hours_to_empty(cell, 1.0) > 2.9 * hours_to_empty(cell, 3.043)
    with pytest.raises(InputError, match="up to 1 C"):
        hours_to_empty(cell, 60.0)


def test_current_without_a_voltage_response() -> None:
    """Pattern of a public 100 Ah record: the column says 10 A for 15 min before the load was on.

    92.29 Ah in 9.229 h were real; the column integrates to 94.78 Ah (+2.7 %).
    """
    hours = np.arange(0.0, 10.5, 5.0 / 3600.0)
    on_h, real_h, end_h = 0.5, 0.749, 0.749 + 9.229
    amps = np.where((hours >= on_h) & (hours <= end_h), 10.0, 0.0)
    loaded = (hours >= real_h) & (hours <= end_h)
    depth = np.clip((hours - real_h) / 9.229, 0.0, 1.0)
    volts = np.where(loaded, 12.62 - 1.1 * depth - 1.0 * depth**8, 13.229)
    found = counted_ah(hours, volts, amps, capacity_ah=100.0)
    assert found.column_ah == pytest.approx(94.78, abs=0.03)
    assert found.ah == pytest.approx(92.29, abs=0.03)
    assert "15 min" in found.doubt


def test_an_honest_record_is_not_doubted() -> None:
    hours = np.linspace(0.0, 5.0, 501)
    amps = np.where(hours >= 0.1, 1.0, 0.0)
    volts = np.where(amps > 0.0, 12.5 - 0.3 * hours, 12.9)
    found = counted_ah(hours, volts, amps, capacity_ah=10.0)
    assert found.doubt == ""
    assert found.ah == pytest.approx(4.9, abs=0.02)
    with pytest.raises(InputError, match="no current"):
        counted_ah(hours, volts, 0.0 * amps, capacity_ah=10.0)


def telemetry() -> tuple[Array, Array, Array]:
    """Return (hours, volts, amperes) of the full public record."""
    rows = []
    with Path(FULL_CSV).open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["voltage"] and row["current"]:
                at = datetime.fromisoformat(row["time"])
                rows.append((at.timestamp() / 3600.0, float(row["voltage"]), float(row["current"])))
    table = np.array(rows)
    return table[:, 0] - table[0, 0], table[:, 1], table[:, 2]


@pytest.mark.skipif(not FULL_CSV, reason="CHARGEWRIGHT_VRLA_CSV does not name the public record")
def test_the_full_record_gives_the_table() -> None:
    """Contiguous |I| > 0.06 A, trapezoid, linear interpolation in Ah: Ah and volts within 5 mV."""
    hours, volts, amps = telemetry()
    on = np.flatnonzero(np.diff(np.concatenate([[0], (amps > 0.06).astype(int), [0]])))
    found = []
    for first, end in on.reshape(-1, 2):
        part = slice(first, end)
        ah = np.concatenate(
            [[0.0], np.cumsum(0.5 * (amps[part][1:] + amps[part][:-1]) * np.diff(hours[part]))]
        )
        if ah[-1] > 15.0:
            median = float(np.median(amps[part]))
            found.append((median, float(ah[-1]), np.interp(AH, ah, volts[part])))
    for current_a, (ah, _, table) in DISCHARGES.items():
        # two discharges were run at 1.03 A: the table holds one of them
        close = [one for one in found if abs(one[0] - current_a) < 0.01]
        assert close, current_a
        best = min(close, key=lambda one: abs(one[1] - ah))
        assert best[1] == pytest.approx(ah, abs=0.05)
        assert best[2] == pytest.approx(table, abs=0.005)


@pytest.fixture(scope="module")
def witness() -> dict[float, tuple[Array, Array]]:
    """Return Ah and volts of PyBaMM's lead-acid Full model at four currents."""
    pybamm = pytest.importorskip("pybamm", reason="the battery witness is not installed")
    found = {}
    for current_a, cut_v in ((0.85, 1.75), (3.043, 1.75), (17.0, 1.75), (85.0, 1.5)):
        full = pybamm.lead_acid.Full()
        values = full.default_parameter_values
        values["Current function [A]"] = current_a
        values["Lower voltage cut-off [V]"] = cut_v
        solution = pybamm.Simulation(full, parameter_values=values).solve(
            [0.0, 24.0 / current_a * 3600.0]
        )
        hours = solution["Time [h]"].entries
        found[current_a] = (hours * current_a, solution["Battery voltage [V]"].entries)
    return found


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_the_witness_is_the_one_described(witness: dict[float, tuple[Array, Array]]) -> None:
    """Computed reference: Full at 3.043 A and 5 C, capacities and Peukert exponent 1.072."""
    ah, volts = witness[3.043]
    assert np.interp([0.5, 2, 4, 8.5, 12, 16, 19], ah, volts) == pytest.approx(
        [12.865, 12.757, 12.613, 12.270, 11.966, 11.522, 11.015], abs=0.006
    )
    assert ah[-1] == pytest.approx(20.75, abs=0.02)
    fast_ah, fast_v = witness[85.0]
    assert fast_v[0] == pytest.approx(11.89, abs=0.01)
    assert float(np.interp(12.0, fast_ah, fast_v)) == pytest.approx(10.17, abs=0.01)
    assert fast_ah[-1] == pytest.approx(13.5, abs=0.1)
    capacity = [witness[a][0][-1] for a in (0.85, 17.0)]
    k = exponent_from_ratings((capacity[0] / 0.85, capacity[1] / 17.0), (capacity[0], capacity[1]))
    assert k == pytest.approx(1.072, abs=0.002)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_low_and_high_rate_beside_the_witness(witness: dict[float, tuple[Array, Array]]) -> None:
    """Fitted at 1 C: 60 mV rms there, 0.25 V at C/20, 0.2 V at C/6, 0.5 V at 5 C.

    The witness reads 0.07-0.27 V above the measured battery this law was fitted to; at 5 C
    the law is on the low, careful side. The first 12 Ah.
    """
    at = np.array([0.5, 2.0, 4.0, 8.5, 12.0])

    def error(current_a: float, ohm: float, capacity_ah: float) -> Array:
        cell = Cell(chemistry=Chemistry.AGM, capacity_ah=capacity_ah, battery_ohm=ohm)
        told = np.interp(at, *witness[current_a])
        return discharged_v(cell, 1.0 - at / capacity_ah, current_a) - told

    _, ohm, capacity_ah = min(
        (float((error(17.0, r, c) ** 2).sum()), r, c)
        for r in np.arange(0.008, 0.03, 0.001)
        for c in np.arange(16.0, 22.0, 0.25)
    )

    def rms_v(current_a: float) -> float:
        return float(np.sqrt((error(current_a, ohm, capacity_ah) ** 2).mean()))

    assert rms_v(17.0) < 0.06
    assert rms_v(3.043) < 0.20
    assert rms_v(0.85) < 0.25
    assert rms_v(85.0) < 0.5
    assert (error(85.0, ohm, capacity_ah) < 0.0).all()
