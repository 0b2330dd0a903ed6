"""Hydrometer, acid strength and freezing against published tables."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.circuit.ocv import CELLS, bode_cell_v
from chargewright.energy.acid import (
    corrected_gravity,
    freezing_c,
    gravity_of,
    molality_of,
    soc_freezing_at,
)
from chargewright.energy.charge_state import charge_from_gravity
from chargewright.errors import InputError
from chargewright.machine.layout import Chemistry


@pytest.mark.parametrize(
    ("gravity", "volts"),
    [(1.120, 11.89), (1.155, 12.06), (1.190, 12.24), (1.225, 12.45), (1.265, 12.65)],
)
def test_flooded_table_through_the_acid(gravity: float, volts: float) -> None:
    """Published flooded table, 26.7 C, against Bode's polynomial: within 17 mV at every point."""
    assert CELLS * float(bode_cell_v(molality_of(gravity))) == pytest.approx(volts, abs=0.0175)


@pytest.mark.parametrize(
    ("volts", "gravity"),
    [(12.0, 1.143), (12.2, 1.182), (12.4, 1.219), (12.6, 1.255), (12.8, 1.290), (13.0, 1.324)],
)
def test_gravity_from_volts_by_bode(volts: float, gravity: float) -> None:
    """Computed reference: Bode 1977 with PHREEQC densities, turned round."""
    acid = np.linspace(1.5, 7.6, 4000)
    found = gravity_of(np.interp(volts, CELLS * bode_cell_v(acid), acid))
    assert float(found) == pytest.approx(gravity, abs=0.001)


def test_the_linear_rule_fails_below_half_charge() -> None:
    """OCV = 6 (SG + 0.845) is 88 mV low at SG 1.120, within 13 mV from SG 1.225 up."""

    def error(gravity: float) -> float:
        return 6.0 * (gravity + 0.845) - CELLS * float(bode_cell_v(molality_of(gravity)))

    assert error(1.120) == pytest.approx(-0.088, abs=0.002)
    assert all(abs(error(g)) <= 0.0135 for g in (1.225, 1.265, 1.280, 1.300))


def test_hydrometer_correction() -> None:
    """TM 5-4210-230-14&P-1: 1.265 read at 0 C is 1.246; 1.258 at 48.9 C is 1.274."""
    assert corrected_gravity(1.265, 0.0) == pytest.approx(1.246, abs=0.0005)
    assert corrected_gravity(1.258, 48.9) == pytest.approx(1.274, abs=0.0005)


def test_freezing_of_flooded_batteries() -> None:
    """Army OD1002 p. 54: flat (1.120) near -10 C, half charge near -24 C, full below -55 C."""
    flat, half, full = freezing_c(Chemistry.FLOODED, np.array([0.0, 0.5, 1.0]))
    assert flat == pytest.approx(-10.0, abs=1.0)
    assert half == pytest.approx(-24.0, abs=1.0)
    assert full < -55.0
    # One maker's table says -23 C for a flat battery: unsafe, and not what is used here.
    assert flat > -12.0


def test_lithium_does_not_freeze() -> None:
    assert float(freezing_c(Chemistry.LIFEPO4, 0.0)) < -200.0
    assert soc_freezing_at(Chemistry.LIFEPO4, -30.0) == 0.0


@given(st.floats(-60.0, -8.0))
def test_freezing_limit_is_where_the_acid_freezes(temp_c: float) -> None:
    soc = soc_freezing_at(Chemistry.FLOODED, temp_c)
    above = min(soc + 0.005, 1.0)
    assert float(freezing_c(Chemistry.FLOODED, above)) < temp_c or above == 1.0


def test_charge_from_gravity() -> None:
    """Published flooded table: SG 1.190 at 26.7 C is 50 %, 1.265 is 100 %."""
    half = charge_from_gravity((1.190,) * 6, 26.7)
    full = charge_from_gravity((1.265,) * 6, 26.7)
    assert half.soc is not None
    assert full.soc is not None
    assert half.soc.holds(0.50)
    assert half.soc.width < 0.40
    assert full.soc.high > 0.97
    assert full.soc.best > 0.90


def test_cold_acid_is_thinner_than_it_reads() -> None:
    cold, warm = (charge_from_gravity((1.225,), t).soc for t in (0.0, 26.7))
    assert cold is not None
    assert warm is not None
    assert cold.best < warm.best - 0.1


def test_cells_apart_are_named() -> None:
    """Car-maker bulletin 1992: more than 0.030 apart is suspect, more than 0.050 replace."""
    assert "suspect" in charge_from_gravity((1.26, 1.225), 26.7).notes[0]
    assert "replace" in charge_from_gravity((1.26, 1.20), 26.7).notes[0]
    assert not charge_from_gravity((1.26, 1.25), 26.7).notes


def test_a_sealed_battery_has_no_hydrometer_reading() -> None:
    refused = charge_from_gravity((1.25,), 25.0, chemistry=Chemistry.AGM)
    assert refused.soc is None
    assert refused.refused is not None
    with pytest.raises(InputError, match=r"0\.9.*1\.05"):
        corrected_gravity(0.9, 20.0)
