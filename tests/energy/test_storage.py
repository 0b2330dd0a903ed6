"""Standing still: self-discharge and drain against a battery maker's figures and plain division."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargewright.energy.cranking import (
    START_V,
    Starter,
    class_crank_a,
    cranking_v,
    demand_a,
    least_soc,
    repay_min,
    start_ah,
)
from chargewright.energy.self_discharge import Plate, lost_interval, lost_per_day
from chargewright.energy.storage import Stored, days_to_lose, life_share, plan_storage
from chargewright.errors import InputError
from chargewright.machine.battery_spec import BatterySpec
from chargewright.machine.classes import class_ids
from chargewright.machine.layout import Chemistry

CALCIUM, ANTIMONY = 1.0 / 600.0, 1.0 / 200.0  # per day at 25 C


@pytest.mark.parametrize(
    ("ah", "drain_ma", "rate", "days"),
    [
        (10.0, 1.5, CALCIUM, 94.9),
        (10.0, 0.0, CALCIUM, 300.0),
        (10.0, 30.0, CALCIUM, 6.8),
        (10.0, 30.0, ANTIMONY, 6.5),
        (12.0, 5.0, CALCIUM, 42.9),
        (18.0, 20.0, CALCIUM, 17.6),
        (8.6, 1.2, CALCIUM, 99.7),
        (4.0, 0.5, CALCIUM, 107.1),
    ],
)
def test_days_to_half(ah: float, drain_ma: float, rate: float, days: float) -> None:
    """d = f C/(0.024 I + s C), half of the capacity, worked by hand in the reference."""
    found = days_to_lose(0.5, ah, drain_ma=drain_ma, lost_per_day_share=rate)
    assert found == pytest.approx(days, abs=0.05)


def test_a_makers_example_is_a_20_ah_battery() -> None:
    """Printed as 30 mA, antimony, 77 F: half gone in 12 days, flat in 24, is 19.6 Ah, not 10."""
    capacity_ah = 12.0 * 0.72 / (0.5 - 12.0 / 200.0)
    assert capacity_ah == pytest.approx(19.6, abs=0.05)
    half = days_to_lose(0.5, capacity_ah, drain_ma=30.0, lost_per_day_share=ANTIMONY)
    assert half == pytest.approx(12.0)
    assert days_to_lose(0.5, 10.0, drain_ma=30.0, lost_per_day_share=ANTIMONY) < 7.0


@pytest.mark.parametrize(
    ("plate", "temp_c", "days"),
    [
        (Plate.ANTIMONY, 40, 100),
        (Plate.ANTIMONY, 25, 200),
        (Plate.ANTIMONY, 0, 550),
        (Plate.CALCIUM, 40, 300),
        (Plate.CALCIUM, 25, 600),
        (Plate.CALCIUM, 0, 950),
    ],
)
def test_self_discharge_table(plate: Plate, temp_c: float, days: float) -> None:
    """Motorcycle battery maker's technical manual, section 3: days from full to flat."""
    assert 1.0 / float(lost_per_day(plate, temp_c)) == pytest.approx(days)


def test_idle_without_load() -> None:
    """Calcium AGM 25 C, 90 days: 15 %; antimony 40 C, 30 days: 30 %."""
    assert 90.0 * float(lost_per_day(Plate.CALCIUM, 25.0)) == pytest.approx(0.15)
    assert 30.0 * float(lost_per_day(Plate.ANTIMONY, 40.0)) == pytest.approx(0.30)


@pytest.mark.parametrize(
    ("plate", "per_month"),
    [
        (Plate.CALCIUM, 0.03),
        (Plate.CALCIUM, 0.05),
        (Plate.ANTIMONY, 0.06),
        (Plate.ANTIMONY, 0.12),
        (Plate.GEL, 0.02),
        (Plate.LITHIUM, 0.01),
        (Plate.LITHIUM, 0.03),
    ],
)
def test_other_sources_at_20_c_lie_inside(plate: Plate, per_month: float) -> None:
    """Marine energy handbook p. 19, a sealed battery's data sheet, LiFePO4 1-3 % a month."""
    found = lost_interval(plate, 20.0).scaled(30.0)
    assert found.low - 0.001 <= per_month <= found.high + 0.001


def test_battery_life_and_temperature() -> None:
    """Halving per 10 K: 35 C x0.50, 45 C x0.25; per 8 K x0.42 and x0.18."""
    assert (life_share(35.0), life_share(45.0)) == pytest.approx((0.5, 0.25))
    assert life_share(35.0, halving_k=8.0) == pytest.approx(0.42, abs=0.005)
    assert life_share(45.0, halving_k=8.0) == pytest.approx(0.18, abs=0.005)


def test_start_energy() -> None:
    """130 A for 4 s is 520 As, 0.144 Ah; at a charge factor of 1.1, 4.8 min at 2 A net."""
    taken_ah = float(start_ah(130.0, 25.0))
    assert taken_ah == pytest.approx(520.0 / 3600.0)
    assert repay_min(taken_ah, 2.0) == pytest.approx(4.8, abs=0.05)
    assert repay_min(taken_ah, 0.5) == pytest.approx(19.0, abs=0.1)
    assert math.isinf(repay_min(taken_ah, -0.5))


def test_cold_asks_more() -> None:
    """Engine demand roughly doubles from 27 to -18 C (TM 5-1185)."""
    assert float(demand_a(100.0, -18.0) / demand_a(100.0, 27.0)) == pytest.approx(2.0, rel=0.05)


@pytest.mark.parametrize("class_id", class_ids())
def test_every_class_starts_warm_and_full(class_id: str) -> None:
    starter = Starter(
        chemistry=Chemistry.AGM, battery_ohm=3.0 / 400.0, crank_a=class_crank_a(class_id)
    )
    assert float(cranking_v(starter, 1.0, 20.0)[0]) > 9.0


@given(st.floats(-25.0, 35.0), st.floats(0.004, 0.03), st.floats(40.0, 200.0))
def test_least_charge_is_where_it_stops_cranking(temp_c: float, ohm: float, crank_a: float) -> None:
    starter = Starter(chemistry=Chemistry.AGM, battery_ohm=ohm, crank_a=crank_a)
    soc = least_soc(starter, temp_c)
    if soc > 1.0:
        assert float(cranking_v(starter, 1.0, temp_c)[0]) < START_V
        return
    assert float(cranking_v(starter, soc, temp_c)[0]) >= START_V
    if soc > 0.0:
        assert float(cranking_v(starter, soc - 0.01, temp_c)[0]) < START_V
    assert least_soc(starter, temp_c - 5.0) >= soc


@settings(max_examples=20)
@given(st.floats(0.1, 60.0), st.floats(0.0, 35.0))
def test_more_drain_or_warmth_is_sooner(drain_ma: float, temp_c: float) -> None:
    base = plan_storage(Stored(drain_ma=drain_ma, temp_c=temp_c, coldest_c=0.0))
    more = plan_storage(Stored(drain_ma=2 * drain_ma, temp_c=temp_c, coldest_c=0.0))
    warm = plan_storage(Stored(drain_ma=drain_ma, temp_c=temp_c + 5.0, coldest_c=0.0))
    for other in (more, warm):
        assert other.to_half.best < base.to_half.best
        assert other.to_no_start.best <= base.to_no_start.best
    assert base.to_half.low <= base.to_half.best <= base.to_half.high


def test_disconnecting_helps_and_winter_hurts() -> None:
    label = BatterySpec(chemistry=Chemistry.AGM, capacity_ah=10.0, cca_a=180.0)
    on = plan_storage(Stored(label=label, drain_ma=5.0))
    off = plan_storage(Stored(label=label, drain_ma=5.0, disconnected=True))
    assert off.to_half.best > 3.0 * on.to_half.best
    assert any("negative lead off" in step for step in on.steps)
    assert on.to_freezing.best == math.inf
    winter = plan_storage(Stored(label=label, drain_ma=5.0, temp_c=0.0, coldest_c=-20.0))
    assert winter.to_freezing.best < 100.0
    assert winter.to_no_start.best < on.to_no_start.best
    lithium = BatterySpec(chemistry=Chemistry.LIFEPO4, capacity_ah=10.0)
    assert plan_storage(Stored(label=lithium)).steps[0].startswith("store it at about half")


def test_a_lithium_label_may_mean_a_third() -> None:
    """A 21 Ah label was 7 Ah true (forum): days count on true ampere-hours."""
    lead, lithium = (
        plan_storage(Stored(label=BatterySpec(chemistry=kind, capacity_ah=21.0), drain_ma=20.0))
        for kind in (Chemistry.AGM, Chemistry.LIFEPO4)
    )
    assert lithium.to_half.low < 0.5 * lead.to_half.best


def test_wrong_values_are_named() -> None:
    with pytest.raises(InputError, match=r"soc = 1\.2"):
        Stored(soc=1.2)
    with pytest.raises(InputError, match="sport-600-1000"):
        plan_storage(Stored(class_id="sport-600"))
    assert np.isfinite(float(lost_per_day(Plate.GEL, -20.0)))
