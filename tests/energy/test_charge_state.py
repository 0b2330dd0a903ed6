"""State of charge: published tables must lie inside the interval, and traps must not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.circuit.ocv import open_circuit_v
from chargewright.energy.charge_state import (
    AFTER_CHARGE_V,
    Before,
    ChargeEstimate,
    Rested,
    charge_from_volts,
    disturbance,
)
from chargewright.energy.interval import Interval
from chargewright.errors import InputError
from chargewright.machine.layout import Chemistry

LEAD = (Chemistry.FLOODED, Chemistry.AGM, Chemistry.GEL)


def soc(volts: float, chemistry: Chemistry | None = None, *, meter_u: float = 0.01) -> Interval:
    """Return the charge of a battery rested overnight at 25 C, read with a good meter."""
    found = charge_from_volts(
        Rested(volts=volts, chemistry=chemistry, temp_c=25.0, rest_h=12.0, volts_u=meter_u)
    )
    assert found.soc is not None
    return found.soc


def test_12_4_v_of_an_unknown_battery() -> None:
    """12.40 V rested: flooded table 69 %, gel column 50 %, measured VRLA curve 50 %."""
    found = soc(12.40)
    assert found.low <= 0.50
    assert found.high >= 0.69
    assert soc(12.40, Chemistry.FLOODED).holds(0.69)
    assert soc(12.40, Chemistry.GEL).holds(0.50)
    assert soc(12.40, Chemistry.AGM).holds(0.50)


@pytest.mark.parametrize(
    ("chemistry", "volts"),
    [
        # flooded, 26.7 C; gel column of the same file
        (Chemistry.FLOODED, (11.89, 12.06, 12.24, 12.45, 12.65)),
        (Chemistry.GEL, (11.80, 12.00, 12.40, 12.60, 12.80)),
        # motorcycle AGM article; VRLA 20 Ah pseudo-OCV (0 % at 11.476 V is refused)
        (Chemistry.AGM, (11.8, 12.0, 12.3, 12.6, 12.7)),
        (Chemistry.AGM, (None, 11.973, 12.408, 12.848, 13.191)),
    ],
)
def test_published_tables_lie_inside(chemistry: Chemistry, volts: tuple[float | None, ...]) -> None:
    """At 0, 25, 50, 75 and 100 %; the ends of an interval stop just short of 0 and 1."""
    for share, at_v in zip((0.0, 0.25, 0.5, 0.75, 1.0), volts, strict=True):
        if at_v is None:
            continue
        found = soc(at_v, chemistry)
        assert found.low - 0.03 <= share <= found.high + 0.03, (chemistry, at_v, found)


def test_lithium_plateau_is_wide() -> None:
    """Three charts put 13.2 V at 40, 70 and 80 %; 13.4 above 90, 12.8 to 30, 12.0 to 10."""
    flat = soc(13.2, Chemistry.LIFEPO4)
    assert flat.low <= 0.40
    assert flat.high >= 0.80
    assert soc(13.4, Chemistry.LIFEPO4).low > 0.90
    assert soc(12.8, Chemistry.LIFEPO4).high <= 0.30
    assert soc(12.0, Chemistry.LIFEPO4).high <= 0.10


def test_the_lead_table_is_not_for_lithium() -> None:
    """12.8 V is a full flooded battery and a nearly empty LiFePO4 one."""
    assert soc(12.8, Chemistry.FLOODED).low > 0.9
    assert soc(12.8, Chemistry.LIFEPO4).high < 0.3


@pytest.mark.parametrize("volts", [10.4, 10.55, 10.6])
@pytest.mark.parametrize("chemistry", [*LEAD, None])
def test_a_dead_cell_is_no_charge(volts: float, chemistry: Chemistry | None) -> None:
    """12.65 - 2.1 = 10.55 V: never a state of charge; refused below 11.5 V."""
    found = charge_from_volts(Rested(volts=volts, chemistry=chemistry))
    assert found.soc is None
    assert found.refused is not None
    assert "dead cell" in found.refused
    assert "charge" in found.refused


def test_a_sleeping_lithium_pack_is_no_charge() -> None:
    found = charge_from_volts(Rested(volts=3.1, chemistry=Chemistry.LIFEPO4))
    assert found.soc is None
    assert found.refused is not None
    assert "protection" in found.refused


def test_a_battery_on_charge_is_not_at_rest() -> None:
    found = charge_from_volts(Rested(volts=14.2, chemistry=Chemistry.AGM))
    assert found.soc is None
    assert found.refused is not None
    assert "surface charge" in found.refused


def test_cold_full_battery_is_still_full() -> None:
    """Full flooded at -17.8 C reads 12.516 V (published table with 13 temperatures).

    A widely copied correction (-24 mV per 10 F) would call it 60 %.
    """
    found = charge_from_volts(
        Rested(volts=12.516, chemistry=Chemistry.FLOODED, temp_c=-17.8, rest_h=12.0, volts_u=0.01)
    )
    assert found.soc is not None
    assert found.soc.best > 0.85
    assert found.soc.high > 0.98


def test_temperature_moves_the_voltage_little() -> None:
    """25 to -18 C changes a rested 12 V by 0.05 to 0.13 V, never more (thermodynamics, table)."""
    drop = float(open_circuit_v(0.0, 1.0, 25.0) - open_circuit_v(0.0, 1.0, -18.0))
    assert 0.05 <= drop <= 0.13


@pytest.mark.parametrize(
    ("hours", "after_charge_v", "after_discharge_v"),
    [(5 / 60, 0.25, -0.35), (0.5, 0.08, -0.13), (1.0, 0.05, -0.07)],
)
def test_what_has_not_faded_covers_a_measured_rest(
    hours: float, after_charge_v: float, after_discharge_v: float
) -> None:
    """100 Ah sealed battery, public data: residual to its long-rest voltage, within 2 u."""
    for before, measured in (
        (Before.CHARGED, after_charge_v),
        (Before.DISCHARGED, after_discharge_v),
    ):
        mean, u = disturbance(Rested(volts=12.5, rest_h=hours, before=before))
        assert abs(measured - mean) <= 2.0 * u, (before, mean, u)
    mean, u = disturbance(Rested(volts=12.5, rest_h=hours))
    assert mean == 0.0
    assert u >= 0.5 * abs(after_charge_v)


def test_half_an_hour_of_rest_costs_about_13_points() -> None:
    """0.1 V is 13 points on the flooded table: after charging, 30 min of rest widens by that."""
    short, long = (
        charge_from_volts(
            Rested(
                volts=12.35,
                chemistry=Chemistry.FLOODED,
                temp_c=25.0,
                rest_h=hours,
                before=Before.UNKNOWN,
                volts_u=0.005,
            )
        ).soc
        for hours in (0.5, 24.0)
    )
    assert short is not None
    assert long is not None
    assert 0.5 * (short.width - long.width) >= 0.05
    assert AFTER_CHARGE_V > 0.0


@given(st.floats(11.6, 13.0), st.sampled_from([*LEAD, None]), st.floats(0.005, 0.05))
def test_a_worse_meter_never_makes_us_surer(
    volts: float, chemistry: Chemistry | None, meter_u: float
) -> None:
    at = {"chemistry": chemistry, "temp_c": 25.0, "rest_h": 12.0}
    good = charge_from_volts(Rested(volts=volts, volts_u=meter_u, **at))  # type: ignore[arg-type]
    poor = charge_from_volts(Rested(volts=volts, volts_u=3 * meter_u, **at))  # type: ignore[arg-type]
    if good.soc is not None and poor.soc is not None:
        assert poor.soc.width >= good.soc.width - 0.003


@given(st.floats(11.55, 12.9), st.floats(0.01, 0.3), st.sampled_from(list(Chemistry)))
def test_more_volts_never_mean_less_charge(
    volts: float, more_v: float, chemistry: Chemistry
) -> None:
    low, high = (
        charge_from_volts(Rested(volts=v, chemistry=chemistry)) for v in (volts, volts + more_v)
    )
    if low.soc is not None and high.soc is not None:
        assert high.soc.best >= low.soc.best - 1e-9
        assert high.soc.high >= low.soc.high - 1e-9


def test_impossible_readings_are_named() -> None:
    with pytest.raises(InputError, match=r"126 V.*0 to 18 V"):
        Rested(volts=126.0)
    with pytest.raises(InputError, match="rest_h = -1"):
        Rested(volts=12.6, rest_h=-1.0)


def test_the_answer_says_what_would_narrow_it() -> None:
    vague: ChargeEstimate = charge_from_volts(Rested(volts=12.4))
    assert any("chemistry" in note for note in vague.notes)
    assert dict(vague.volts_u)["meter"] == 0.05
