"""Rest voltages against published figures and against PyBaMM's Sulzer2019 parameter set."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.circuit.ocv import (
    bode_cell_fine_v,
    bode_cell_v,
    lithium_v,
    molality,
    open_circuit_v,
)

FLOODED, AGM, GEL, LITHIUM = 0.0, 1.0, 2.0, 3.0
FIFTHS = np.array([1.0, 0.75, 0.5, 0.25, 0.0])


def test_bode_polynomial_at_printed_molalities() -> None:
    """Bode 1977 as carried by PyBaMM Sulzer2019, six decimals rounded to five."""
    m = np.array([0.5, 1, 2, 3, 4, 5, 6, 7])
    printed = [1.88142, 1.92200, 1.97456, 2.01676, 2.05456, 2.08961, 2.12265, 2.15407]
    assert bode_cell_v(m) == pytest.approx(printed, abs=1e-5)


def test_bode_against_acid_concentrations() -> None:
    """PyBaMM Sulzer2019, mol/m3 -> V per cell; m = c Vw / ((1 - c Ve) Mw) with its constants."""
    c = np.array([1000, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5500, 5650, 6000.0])
    printed = [
        1.9231, 1.9537, 1.9807, 2.0062, 2.0311, 2.0559,
        2.0807, 2.1058, 2.1312, 2.1572, 2.1651, 2.1838,
    ]  # fmt: skip
    m = c * 1.75e-5 / ((1.0 - c * 4.5e-5) * 0.01801)
    assert bode_cell_v(m) == pytest.approx(printed, abs=0.5e-3)


def test_both_printed_forms_of_bode_agree() -> None:
    m = np.linspace(0.5, 7.5, 200)
    assert np.abs(bode_cell_fine_v(m) - bode_cell_v(m)).max() <= 1.0e-3


def test_bode_against_pybamm_itself() -> None:
    pybamm = pytest.importorskip("pybamm", reason="the oracle of this test is pip install pybamm")
    values = pybamm.ParameterValues("Sulzer2019")
    positive = values["Positive electrode open-circuit potential [V]"]
    negative = values["Negative electrode open-circuit potential [V]"]
    for m in (0.3, 0.8, 1.7, 2.9, 4.4, 5.6, 6.9, 7.7):
        theirs = values.evaluate(positive(pybamm.Scalar(m)) - negative(pybamm.Scalar(m)))
        assert float(bode_cell_v(m)) == pytest.approx(theirs, abs=0.5e-3)


def test_flooded_meets_the_published_table() -> None:
    """Flooded table at 26.7 C: 12.65/12.45/12.24/12.06/11.89 V; Bode itself is within 17 mV."""
    table = np.array([12.65, 12.45, 12.24, 12.06, 11.89])
    assert np.abs(open_circuit_v(FLOODED, FIFTHS, 26.7) - table).max() < 0.017


def test_flooded_acid_is_that_of_the_table() -> None:
    """SG 1.265/1.225/1.190/1.155/1.120 is 5.593/4.494/3.624/2.834/2.115 mol/kg at 25 C."""
    table = np.array([5.593, 4.494, 3.624, 2.834, 2.115])
    assert molality(FLOODED, FIFTHS) == pytest.approx(table, abs=0.045)


def test_agm_lies_between_the_published_motorcycle_tables() -> None:
    """One maker's 12.7/12.6/12.3/12.0/11.8; another's bands 12.8-13.2, 12.6, 12.3, 12.0."""
    v = open_circuit_v(AGM, FIFTHS, 25.0)
    assert 12.8 <= v[0] <= 13.0
    assert v[1:] == pytest.approx([12.6, 12.3, 12.0, 11.8], abs=0.06)


def test_agm_meets_a_measured_rest() -> None:
    """17 Ah VRLA, 8.57 of 19.7 Ah taken, two hours at rest: 12.365 V (Sulzer et al. 2019)."""
    assert float(open_circuit_v(AGM, 1.0 - 8.57 / 19.7, 20.0)) == pytest.approx(12.365, abs=0.05)


def test_gel_meets_its_published_column() -> None:
    """Gel column at 26.7 C: 12.80/12.60/12.40/12.00/11.80 V."""
    table = np.array([12.80, 12.60, 12.40, 12.00, 11.80])
    assert np.abs(open_circuit_v(GEL, FIFTHS, 26.7) - table).max() < 0.1


def test_the_same_volts_mean_different_charge() -> None:
    """12.40 V rested: flooded 69 %, the gel column 50 % of charge (published tables)."""
    soc = np.linspace(0.0, 1.0, 1001)
    flooded = np.interp(12.40, open_circuit_v(FLOODED, soc, 26.7), soc)
    gel = np.interp(12.40, open_circuit_v(GEL, soc, 26.7), soc)
    assert flooded == pytest.approx(0.69, abs=0.02)
    assert gel == pytest.approx(0.50, abs=0.06)


@pytest.mark.parametrize("chemistry", [FLOODED, AGM, GEL])
def test_cold_lowers_rest_volts_by_thermodynamics_only(chemistry: float) -> None:
    """25 to -18 C: between -0.05 and -0.13 V for 12 V, never more (dE/dT 0.2-0.3 mV/K/cell)."""
    change = open_circuit_v(chemistry, 1.0, -18.0) - open_circuit_v(chemistry, 1.0, 25.0)
    assert -0.13 <= float(change) <= -0.05


def test_lithium_volts_say_little_of_its_charge() -> None:
    """13.2 V spans at least 40-80 %; >= 13.4 is > 90 %; <= 12.8 is <= 30 %; <= 12.0 is <= 10 %."""
    soc = np.linspace(0.0, 1.0, 2001)
    v = lithium_v(soc)
    near = soc[np.abs(v - 13.2) < 0.065]  # 5 mV per cell of hysteresis and scatter, and a meter
    assert near.min() <= 0.40
    assert near.max() >= 0.80
    assert soc[v >= 13.4].min() > 0.90
    assert soc[v <= 12.8].max() <= 0.30
    assert soc[v <= 12.0].max() <= 0.10
    assert v[0] == pytest.approx(10.0, abs=0.2)  # empty: 2.5 V per cell (cell sheet)


@given(
    chemistry=st.sampled_from([FLOODED, AGM, GEL, LITHIUM]),
    low=st.floats(0.0, 0.999),
    step=st.floats(1e-3, 1.0),
    temp_c=st.floats(-40.0, 55.0),
)
def test_more_charge_is_always_more_volts(
    chemistry: float, low: float, step: float, temp_c: float
) -> None:
    high = min(low + step, 1.0)
    assert open_circuit_v(chemistry, high, temp_c) > open_circuit_v(chemistry, low, temp_c)
