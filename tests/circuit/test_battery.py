"""The battery in a state: resistance, cranking rating, surface charge, dead cells."""

from __future__ import annotations

import numpy as np
import pytest

from chargewright.circuit.battery import (
    battery_of,
    ohmic_ohm,
    open_circuit_v,
    short_ohm,
    surface_charge_v,
)
from chargewright.machine.parameters import INDEX, Array, healthy_row
from chargewright.machine.points import Load, State, Warmth


def machine(**changed: float) -> Array:
    """Return one healthy machine with some parameters changed, shape (1, COUNT)."""
    row = healthy_row()
    for name, value in changed.items():
        row[INDEX[name]] = value
    return row[None, :]


def test_resistance_follows_the_starter_class_prior() -> None:
    """x1/1.05/1.25/1.6 at 100/50/25/10 % charge; +1 %/K below 25 C, x1.8 at -18 C."""
    soc = np.array([1.0, 0.5, 0.25, 0.1])
    assert ohmic_ohm(1.0, soc, 25.0) == pytest.approx([1.0, 1.05, 1.25, 1.6], rel=0.02)
    assert float(ohmic_ohm(1.0, 1.0, -18.0)) == pytest.approx(1.8, rel=0.01)
    assert float(ohmic_ohm(1.0, 1.0, 20.0)) == pytest.approx(1.05, rel=0.01)


def test_resistance_falls_with_warmth_and_never_turns() -> None:
    ohms = ohmic_ohm(0.015, 0.9, np.linspace(-40.0, 55.0, 96))
    assert (np.diff(ohms) <= 0.0).all()


def test_the_reference_battery_meets_its_own_cranking_rating() -> None:
    """SAE J537: at -18 C a new full battery gives its CCA for 30 s at 7.2 V or more."""
    made = battery_of(machine(ambient_c=-18.0, soc=1.0), State())
    volts = made.short_emf_v - 170.0 * made.short_ohm
    assert float(volts[0]) >= 7.2


def test_resistance_to_cold_cranking_rule() -> None:
    """16.7 mohm ohmic at 25 C goes with about 180 CCA (150-210): 7.2 V at -18 C says how many."""
    cold = short_ohm(0.0167, 1.0, -18.0, scale=1.0)
    cca = (open_circuit_v(1.0, 1.0, -18.0) - 7.2) / cold
    assert 150.0 <= float(cca) <= 210.0


def test_pass_line_of_the_load_test() -> None:
    """200 CCA at 12.65 V: 9.6 V under 100 A is 30.5 mohm, the rating's 7.2 V is 27.25 mohm.

    A sound warm battery has about half of it.
    """
    line = (12.65 - 9.6) / 100.0
    assert line == pytest.approx(0.0305, abs=1e-4)
    rating = (12.65 - 7.2) / 200.0
    assert rating == pytest.approx(0.02725, abs=1e-5)
    sound = float(short_ohm(3.0 / 200.0, 1.0, 21.0, scale=1.0))
    assert 0.4 * line <= sound <= 0.75 * line


def test_surface_charge_follows_a_measured_rest() -> None:
    """100 Ah after charging: about +0.25 V at 5 min, +0.08 at 30, +0.05 at 60 over long rest."""
    residual = [float(surface_charge_v(0.05, h)) for h in (5 / 60, 0.5, 1.0)]
    assert residual == pytest.approx([0.25, 0.08, 0.05], abs=0.01)
    assert float(surface_charge_v(0.05, 24.0)) < 0.001


def test_surface_charge_only_after_charging_and_at_rest() -> None:
    made = machine(surface_v=0.1, soc=0.9, charged_soc=0.9)
    came_in = battery_of(made, State()).emf_v[0]
    charged = battery_of(made, State(battery_charged=True)).emf_v[0]
    ridden = battery_of(made, State(warmth=Warmth.HOT)).emf_v[0]
    loaded = battery_of(made, State(battery_charged=True, load=Load.LOAD_TESTER)).emf_v[0]
    assert charged - came_in == pytest.approx(0.1)
    assert came_in < ridden < charged
    assert loaded == pytest.approx(came_in)


def test_the_charger_sets_the_charge() -> None:
    made = machine(soc=0.3, charged_soc=0.97)
    assert battery_of(made, State()).soc[0] == 0.3
    assert battery_of(made, State(battery_charged=True)).soc[0] == 0.97


def test_a_dead_cell_reads_about_10_5_v() -> None:
    """12.65 V less one cell's 2.1 V: 10.4-10.6 V rested, not a state of charge."""
    made = battery_of(machine(chemistry=0.0, soc=1.0, lost_cell_v=2.1, ambient_c=25.0), State())
    assert 10.4 <= float(made.emf_v[0]) <= 10.6


def test_settled_volts_and_slope_belong_together() -> None:
    made = battery_of(machine(), State())
    for amps in (-8.0, -0.3, 0.4, 6.0):
        numeric = (made.settled_v(amps + 1e-5) - made.settled_v(amps - 1e-5)) / 2e-5
        assert made.settled_slope_ohm(amps)[0] == pytest.approx(numeric[0], rel=1e-4)
    assert made.settled_v(0.0)[0] == made.emf_v[0]
