"""Available current: published outboard curves, the table against the circuit, measurements."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargewright.circuit.running import ROUGH_STEPS, STEPS
from chargewright.energy.output import (
    Measured,
    OutputTable,
    drawn_machines,
    output_interval,
    output_table,
    table_speeds,
    weights_after,
)
from chargewright.errors import InputError
from chargewright.machine.conditioning import load_class
from chargewright.machine.layout import Layout, Regulator, Winding
from chargewright.machine.parameters import INDEX, Array, healthy_row
from chargewright.machine.points import Warmth

SPORT = load_class("sport-600-1000")
POST_V, JUNCTIONS_V = 12.6, 1.6
SINGLE = Layout(winding=Winding.SINGLE, regulator=Regulator.NONE)


def outboard(i_inf_a: float, n0_rpm: float) -> Array:
    """Return a single-phase machine without resistance that follows the law of (I_inf, n0).

    n0 is where the peak EMF is pi V'/2; I_inf = (2/pi)(E/w)/L (single-phase bridge on a
    constant voltage, after Caliskan et al. 2003; exact for R = 0).
    """
    row = healthy_row()
    peak_per_rpm = math.pi * (POST_V + JUNCTIONS_V) / 2.0 / n0_rpm
    pairs = 6.0
    per_omega = peak_per_rpm * 60.0 / (2.0 * math.pi * pairs)
    for name, value in (
        ("pole_pairs", pairs),
        ("emf_v_per_krpm_a", 1000.0 * peak_per_rpm / math.sqrt(2.0)),
        ("winding_ohm_a", 1e-3),
        ("winding_h_a", 2.0 / math.pi * per_omega / i_inf_a),
        ("plug_ohm_a", 0.0),
        ("plug_ohm_b", 0.0),
        ("ambient_c", 20.0),
    ):
        row[INDEX[name]] = value
    return row[None, :]


@pytest.mark.parametrize(
    ("i_inf_a", "n0_rpm", "published", "error_a"),
    [
        # 18 A alternator, 1995: 10, 17, 18 A at 1000, 2000, 3000 rpm; law within 0.1 A
        (18.76, 846.0, {1000: 10.0, 2000: 17.0, 3000: 18.0}, 0.1),
        # 10 A stator, 1999: 6.0, 8.0, 8.4, 8.5, 8.6 A at 1000 to 5000 rpm; law within 0.13 A
        (8.65, 735.0, {1000: 6.0, 2000: 8.0, 3000: 8.4, 4000: 8.5, 5000: 8.6}, 0.13),
        # 9 A stator, 1997: 0, 6, 9, 10, 10 A; law within 0.5 A
        (10.58, 1578.0, {1000: 0.0, 2000: 6.0, 3000: 9.0, 4000: 10.0, 5000: 10.0}, 0.5),
    ],
)
def test_published_outboard_curves(
    i_inf_a: float, n0_rpm: float, published: dict[int, float], error_a: float
) -> None:
    """Spec tables of three outboards, and I = I_inf sqrt(1 - (n0/n)^2) where it holds."""
    rpm = np.array(list(published), dtype=np.float64)
    found = output_table(
        SINGLE,
        outboard(i_inf_a, n0_rpm),
        rpm,
        warmth=Warmth.COLD,
        volts=(POST_V - 0.1, POST_V),
        steps=STEPS,
    ).amps[0, :, 1]
    law = i_inf_a * np.sqrt(np.maximum(1.0 - (n0_rpm / rpm) ** 2, 0.0))
    holds = rpm >= 1.185 * n0_rpm
    assert found[holds] == pytest.approx(law[holds], abs=0.02 * i_inf_a)
    for amps, at_rpm in zip(found, rpm, strict=True):
        assert amps == pytest.approx(published[int(at_rpm)], abs=error_a + 0.01 * i_inf_a), at_rpm


@pytest.fixture(scope="module")
def sport() -> tuple[Array, OutputTable]:
    params = drawn_machines(SPORT, 40, 3)
    return params, output_table(SPORT.layout, params, table_speeds(SPORT))


def test_table_between_its_points(sport: tuple[Array, OutputTable]) -> None:
    """Speeds and volts the table does not hold, against the circuit itself: within 2 %.

    That is what the circuit at these steps is worth.
    """
    params, table = sport
    rpm = np.linspace(700.0, 7000.0, 41)
    direct = output_table(SPORT.layout, params, rpm, volts=(12.5, 13.5), steps=ROUGH_STEPS).amps
    for j, volts in enumerate((12.5, 13.5)):
        error = table.at(rpm, volts) - direct[:, :, j]
        assert np.abs(error).max() < 0.02 * table.amps.max()
        assert np.sqrt((error**2).mean()) < 0.005 * table.amps.max()


def test_output_rises_with_speed_and_falls_with_volts(sport: tuple[Array, OutputTable]) -> None:
    _, table = sport
    assert (np.diff(table.amps, axis=1) > -0.02 * table.amps.max()).all()
    assert (np.diff(table.amps, axis=2) < 0.02 * table.amps.max()).all()
    assert table.at(100.0, 13.0).max() == 0.0


def test_a_measurement_narrows_the_interval(sport: tuple[Array, OutputTable]) -> None:
    """The machine is one of those drawn, measured at two speeds."""
    _, table = sport
    free = weights_after(table, [])
    truth = table.at(np.array([1500.0, 3000.0, 2000.0]), 13.0)[7]
    told = [
        Measured(rpm=1500.0, amps=float(truth[0]), volts=13.0, rel_u=0.03),
        Measured(rpm=3000.0, amps=float(truth[1]), volts=13.0, rel_u=0.03),
    ]
    after = weights_after(table, told)
    before = output_interval(table, free, 2000.0, 13.0)
    narrowed = output_interval(table, after, 2000.0, 13.0)
    assert narrowed.width < 0.75 * before.width
    assert narrowed.low - 0.3 <= truth[2] <= narrowed.high + 0.3


@settings(max_examples=20)
@given(st.floats(0.0, 60.0), st.floats(600.0, 9000.0))
def test_weights_are_a_distribution(amps: float, rpm: float) -> None:
    table = OutputTable(
        rpm=np.array([500.0, 1000.0, 3000.0]),
        volts=np.array([12.0, 14.0]),
        amps=np.linspace(0.0, 30.0, 24).reshape(4, 3, 2),
    )
    weight = weights_after(table, [Measured(rpm=rpm, amps=amps, volts=13.0)])
    assert weight.sum() == pytest.approx(1.0)
    assert (weight >= 0.0).all()


def test_wrong_input_is_named(sport: tuple[Array, OutputTable]) -> None:
    _, table = sport
    one = Measured(rpm=1500.0, amps=10.0, volts=13.0)
    with pytest.raises(InputError, match="at most 3"):
        weights_after(table, [one] * 4)
    with pytest.raises(InputError, match="9 V"):
        Measured(rpm=1500.0, amps=10.0, volts=9.0)
