"""Battery labels: conversions between cold-cranking standards, and what the label implies."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from machine.helpers import latents

from chargewright.errors import InputError
from chargewright.machine.battery_spec import BatterySpec, CcaStandard, sae_cca_a, worn_factor
from chargewright.machine.conditioning import load_class, machine_of
from chargewright.machine.draw import draw
from chargewright.machine.layout import Chemistry
from chargewright.machine.parameters import column


def test_marine_cranking_amperes() -> None:
    # Workshop conversion pages: 650 MCA is 500 to 520 CCA.
    low, usual, high = sae_cca_a(650.0, CcaStandard.MCA)
    assert 499.0 < low < usual < high < 521.0


def test_din() -> None:
    # Workshop conversion pages: DIN 200 is SAE 340, to be flagged with 10 % either way.
    assert sae_cca_a(200.0, CcaStandard.DIN) == pytest.approx((306.0, 340.0, 374.0))


def test_en_is_not_the_din_factor_misapplied() -> None:
    # SAE -> EN x0.92; one page family misprints SAE = 1.7 EN.
    assert sae_cca_a(92.0, CcaStandard.EN)[1] == pytest.approx(100.0)


@given(st.sampled_from(CcaStandard), st.floats(10, 1500))
def test_intervals_are_in_order(standard: CcaStandard, value: float) -> None:
    low, usual, high = sae_cca_a(value, standard)
    assert low <= usual <= high


def test_resistance_of_a_180_cca_battery() -> None:
    # Computed from SAE J537's criterion: 16.7 mohm at 25 C is 180 CCA, between 150 and 210.
    battery = BatterySpec(chemistry=Chemistry.AGM, cca_a=180.0)
    params = draw(machine_of("sport-600-1000", battery=battery), (), latents(4000))
    ohm = column(params, "battery_ohm")
    assert float(np.median(ohm)) == pytest.approx(0.0167, rel=0.02)
    implied = 3.0 / ohm
    assert float(np.mean((implied > 120.0) & (implied < 270.0))) > 0.95


def test_cca_is_guessed_from_the_capacity() -> None:
    # Catalogue level, from memory: 13-22 A per Ah of power-sport AGM.
    battery = BatterySpec(chemistry=Chemistry.AGM, capacity_ah=10.0)
    params = draw(machine_of("sport-600-1000", battery=battery), (), latents(4000))
    cca = column(params, "rated_cca_a")
    assert float(np.mean((cca > 130.0) & (cca < 220.0))) > 0.88


def test_lithium_is_told_apart() -> None:
    # A forum's label of 21 Ah was 7 Ah true: within the scatter of true capacities.
    battery = BatterySpec(chemistry=Chemistry.LIFEPO4, capacity_ah=21.0, cca_a=280.0)
    machine = machine_of("sport-600-1000", battery=battery)
    params = draw(machine, (), latents(4000))
    assert machine.chemistries == (Chemistry.LIFEPO4,)
    assert float(np.quantile(column(params, "capacity_ah"), 0.02)) < 7.0
    lead = BatterySpec(chemistry=Chemistry.AGM, cca_a=280.0)
    other = draw(machine_of("sport-600-1000", battery=lead), (), latents(4000))
    assert np.median(column(params, "battery_ohm")) < np.median(column(other, "battery_ohm"))


def test_unknown_chemistry_is_lead() -> None:
    assert Chemistry.LIFEPO4 not in load_class("atv").chemistries


def test_age_raises_resistance_and_lowers_capacity() -> None:
    z = latents(500)
    young, old = (
        draw(machine_of("atv", battery=BatterySpec(age_years=years)), (), z) for years in (0.5, 6.0)
    )
    assert (column(old, "battery_ohm") > column(young, "battery_ohm")).all()
    assert (column(old, "capacity_ah") < column(young, "capacity_ah")).all()


@given(st.floats(0, 30), st.floats(0, 30))
def test_older_is_never_less_worn(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert worn_factor(low) <= worn_factor(high)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({"cca": 180}, "battery: unknown field 'cca'"),
        ({"cca_a": 5000}, "'cca_a' = 5000; expected a number from 10 to 1500 A"),
        ({"chemistry": "agn"}, "'chemistry' = 'agn'; .*'agm'"),
        ({"cca_standard": "cold"}, "'cca_standard' = 'cold'"),
        ({"age_years": -1}, "'age_years' = -1; .*years"),
    ],
)
def test_messages(data: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        BatterySpec.from_dict(data)


def test_a_full_label_is_read() -> None:
    data = {
        "chemistry": "gel",
        "capacity_ah": 12,
        "cca_a": 200,
        "cca_standard": "en",
        "age_years": 2,
    }
    battery = BatterySpec.from_dict(data)
    assert battery == BatterySpec(
        chemistry=Chemistry.GEL,
        capacity_ah=12.0,
        cca_a=200.0,
        cca_standard=CcaStandard.EN,
        age_years=2.0,
    )
