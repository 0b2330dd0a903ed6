"""Load budget and heat: machine M's computed reference, and what must hold of any balance."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargewright.energy.budget import break_even_rpm, load_budget
from chargewright.energy.heating import heat_of, heating
from chargewright.energy.loads import Load, loads_from_dicts, mean_amps, read_loads, usual_loads
from chargewright.energy.output import Measured, OutputTable, output_table
from chargewright.errors import InputError
from chargewright.machine.classes import class_ids
from chargewright.machine.conditioning import load_class
from chargewright.machine.layout import Layout
from chargewright.machine.parameters import INDEX, Array, healthy_row
from chargewright.machine.points import Warmth

SPORT = load_class("sport-600-1000")
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def machine_m() -> Array:
    """Return the reference machine: 15 V lead to lead per 1000 rpm, 0.15 ohm, 0.65 mH, 20 C."""
    row = healthy_row()
    row[INDEX["ambient_c"]] = 20.0
    # its junctions drop 0.90 V at any current
    row[INDEX["junction_n"]], row[INDEX["junction_ohm"]] = 1e-3, 1e-4
    for leg in "abc":
        row[INDEX[f"up_v_{leg}"]] = row[INDEX[f"dn_v_{leg}"]] = 0.89
        row[INDEX[f"plug_ohm_{leg}"]] = 0.0
    return row[None, :]


def test_heat_of_machine_m() -> None:
    """Computed reference (27-state implicit bridge solver), 5000 rpm, 20 C.

    Copper: full output 189 W, all phases shorted 201 W; a series regulator passing 10 of 27.7 A
    keeps 68 W. Regulator: fully shunted 57 W, full output through six diodes 50 W.
    """
    idle = heating(Layout(), machine_m(), rpm=5000.0, load_a=0.0, warmth=Warmth.COLD)
    ten = heating(Layout(), machine_m(), rpm=5000.0, load_a=10.0, warmth=Warmth.COLD)
    full = heating(Layout(), machine_m(), rpm=5000.0, load_a=40.0, warmth=Warmth.COLD)
    assert ten.stator_full_w[0] == pytest.approx(189.0, rel=0.02)
    assert idle.stator_shunt_w[0] == pytest.approx(201.0, rel=0.02)
    assert ten.stator_series_w[0] == pytest.approx(68.0, rel=0.02)
    assert idle.regulator_shunt_w[0] == pytest.approx(57.0, rel=0.04)
    assert full.regulator_shunt_w[0] == pytest.approx(50.0, rel=0.04)


@settings(max_examples=6)
@given(st.floats(0.0, 25.0))
def test_a_shunt_regulator_heats_the_stator_at_any_load(load_a: float) -> None:
    """189 to 201 W whatever the load, as the reference says; the series one heats with it."""
    found = heating(Layout(), machine_m(), rpm=5000.0, load_a=load_a, warmth=Warmth.COLD)
    assert 185.0 <= found.stator_shunt_w[0] <= 204.0
    assert found.stator_series_w[0] == pytest.approx(189.0 * load_a / 27.7, rel=0.05, abs=0.1)


def test_break_even_of_machine_m() -> None:
    """Its table on 14.4 V: 6.49 A at 1000, 12.72 at 1200, 18.49 A at 1500 rpm (reference)."""
    row = machine_m()
    for name in ("charge_lead_ohm", "fuse_ohm", "pos_clamp_ohm", "neg_cable_ohm", "reg_ground_ohm"):
        row[:, INDEX[name]] = 0.0
    rpm = np.array([800.0, 1000.0, 1200.0, 1500.0, 2000.0])
    table = output_table(Layout(), row, rpm, warmth=Warmth.COLD, volts=(14.3, 14.4, 14.5))
    assert table.amps[0, 1:, 1] == pytest.approx([6.49, 12.72, 18.49, 22.91], rel=0.03)
    flat = OutputTable(rpm=table.rpm, volts=np.array([13.0, 14.0]), amps=table.amps[:, :, 1:])
    assert break_even_rpm(flat, 12.72)[0] == pytest.approx(1200.0, rel=0.03)
    assert np.isinf(break_even_rpm(flat, 40.0)[0])


def test_series_regulators_run_cooler() -> None:
    heat = heat_of(SPORT, rpm=5000.0, load_a=8.0, units=20)
    assert heat.stator_series_w.best < 0.5 * heat.stator_shunt_w.best
    assert heat.regulator_series_w.best < heat.regulator_shunt_w.best


@pytest.mark.parametrize("class_id", class_ids())
def test_every_class_carries_its_own_loads_at_speed(class_id: str) -> None:
    machine = load_class(class_id)
    found = load_budget(machine, usual_loads(machine), units=30)
    assert found.cruise.negative < 0.1
    assert found.cruise.available_a.best > found.idle.available_a.best
    assert found.break_even_rpm.best < machine.speeds.high_rpm


def test_an_accessory_moves_everything_one_way() -> None:
    base = usual_loads(SPORT)
    heated = (*base, Load(name="heated jacket", amps=6.0))
    before, after = (load_budget(SPORT, loads, units=60) for loads in (base, heated))
    assert after.headroom_a.best == pytest.approx(before.headroom_a.best - 1.15 * 6.0)
    assert after.break_even_rpm.best > before.break_even_rpm.best
    assert after.idle.negative >= before.idle.negative
    assert after.idle_share_limit.best <= before.idle_share_limit.best


def test_too_much_load_never_breaks_even() -> None:
    found = load_budget(SPORT, (Load(name="winch", amps=80.0),), units=30)
    assert np.isinf(found.break_even_rpm.low)
    assert found.cruise.negative == pytest.approx(1.0)
    assert "shed" in found.notes[0]


def test_a_measurement_at_idle_decides_the_idle_balance() -> None:
    loads = usual_loads(SPORT)
    free = load_budget(SPORT, loads, units=120)
    idle = SPORT.speeds.idle_rpm
    weak = load_budget(SPORT, loads, units=120, measured=[Measured(rpm=idle, amps=5.0, volts=12.8)])
    assert weak.idle.negative > free.idle.negative
    assert weak.idle.available_a.width < free.idle.available_a.width


def test_loads_from_a_file() -> None:
    loads = read_loads(EXAMPLES / "touring-loads.toml")
    assert len(loads) >= 5
    assert mean_amps(loads) == pytest.approx(sum(one.amps * one.duty for one in loads))


def test_watts_become_amperes_at_13_5_v() -> None:
    """A 55 W lamp at 13.5 V takes 4.07 A; two fog lamps half of the time as much."""
    lamp, fog = loads_from_dicts(
        [{"name": "low beam", "watts": 55}, {"name": "fog", "watts": 55, "count": 2, "duty": 0.5}]
    )
    assert lamp.mean_a == pytest.approx(55.0 / 13.5)
    assert fog.mean_a == pytest.approx(55.0 / 13.5)


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ({"name": "lamp", "watts": 55, "amps": 4}, "just one of them"),
        ({"name": "lamp"}, "just one of them"),
        ({"name": "lamp", "watts": 55, "duty": 50}, "'duty' = 50"),
        ({"name": "lamp", "wats": 55}, "did you mean 'watts'"),
    ],
)
def test_wrong_loads_are_named(row: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        loads_from_dicts([row])
    with pytest.raises(InputError, match="below cruise"):
        load_budget(SPORT, (), cruise_rpm=1000.0)
