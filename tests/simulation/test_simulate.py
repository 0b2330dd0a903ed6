"""The simulation as a library call: faults as asked for, readings as the trade knows them."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from chargewright import simulate
from chargewright.errors import InputError
from chargewright.machine.cause_file import catalogue
from chargewright.machine.classes import class_ids
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.parameters import column
from chargewright.meters.load import load_meter
from chargewright.pictures.simulated import PERIODS, repeated, simulation_picture
from chargewright.simulation.faults import faults_of, put_faults
from chargewright.simulation.readings import CheckReading
from chargewright.simulation.run import Simulation

SPORT = "sport-600-1000"
UNITS = 60


@cache
def simulated(*causes: str, machine: str = SPORT, meter: str = "trms-6000") -> Simulation:
    return simulate(machine, causes, units=UNITS, meter=meter)


def reading(found: Simulation, check_id: str) -> CheckReading:
    return next(one for one in found.readings if one.check.id == check_id)


def middle(found: Simulation, check_id: str) -> float:
    shows = reading(found, check_id).shows
    assert shows is not None
    assert shows.middle is not None
    return shows.middle


# --- faults as asked for


@pytest.mark.parametrize(
    ("text", "parameter", "value"),
    [
        ("drain=50mA", "drain_a", 0.050),
        ("drain=50", "drain_a", 0.050),
        ("plug_resistance=0.2 ohm", "plug_ohm_a", 0.2),
        ("stator_ground_fault=2", "stator_leak_s", 0.5),  # told in ohms, kept in siemens
        ("battery_discharged=30%", "soc", 0.30),
        ("regulator_low=-1.2", "setpoint_v", -1.2),
        ("magnets_weak=70", "emf_v_per_krpm_b", 0.70),
        ("battery_dead_cell=2,1", "lost_cell_v", 2.1),
    ],
)
def test_a_severity_means_what_it_says(text: str, parameter: str, value: float) -> None:
    machine = load_class(SPORT)
    faults = faults_of(machine, [text])
    z = np.zeros((1, LATENTS))
    causes = tuple(fault.cause for fault in faults)
    got = column(draw(machine, causes, put_faults(z, machine, faults)), parameter)[0]
    sound = column(draw(machine, (), z), parameter)[0]
    change = faults[0].cause.changes[0].op.value
    if change == "add":
        got -= sound
    if change == "multiply":
        got /= sound
    assert got == pytest.approx(value, rel=1e-3)


@pytest.mark.parametrize("class_id", class_ids())
def test_every_cause_a_machine_can_have_can_be_simulated(class_id: str) -> None:
    machine = load_class(class_id)
    for cause in catalogue().possible(machine):
        faults = faults_of(machine, [cause.id])
        z = put_faults(np.zeros((3, LATENTS)), machine, faults)
        assert np.isfinite(draw(machine, (cause,), z)).all()


@pytest.mark.parametrize(
    ("causes", "said"),
    [
        (["plug_resistanc"], "did you mean 'plug_resistance'"),
        (["plug_resistance=50"], "severity 50 ohm of 'plug_resistance': expected"),
        (["plug_resistance=0.2 V"], "expected a number, in ohm"),
        (["plug_resistance="], "expected a number, in ohm"),
        (["fuse_open=1"], "has no severity"),
        (["sense_lead_resistance"], "cannot occur on 'sport-600-1000'"),
        (["drain", "drain"], "given twice"),
        (["drain", "fuse_open", "plug_open"], "at most 2"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(causes: list[str], said: str) -> None:
    with pytest.raises(InputError, match=said) as refused:
        simulate(SPORT, causes, units=10)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("how", [{"rpm": 10.0}, {"rpm": 1e6}, {"units": 1}, {"meter": "none"}])
def test_states_out_of_range_are_refused(how: dict[str, object]) -> None:
    with pytest.raises(InputError):
        simulate(SPORT, **how)  # type: ignore[arg-type]


# --- readings


def test_a_sound_machine_reads_as_the_trade_expects() -> None:
    """Common practice, no source: rested 12.3 to 13.0 V, 13.5 to 15.0 V running."""
    found = simulated()
    assert 12.3 < middle(found, "rest_v") < 13.0
    assert 13.5 < middle(found, "high_lights_v") < 15.0
    assert 0.1 < middle(found, "pair_ohm_ab") < 1.0
    frame = reading(found, "lead_frame_ohm").shows
    assert frame is not None
    assert frame.overload == 1.0
    assert not any(one.told or one.leans for one in found.readings)


def test_a_burnt_contact_is_found_by_its_drop_and_by_little_else() -> None:
    found = simulated("plug_resistance=0.2")
    told = {one.check.id for one in found.readings if one.told}
    assert told == {"drop_plug_mid_v_a"}
    drop = middle(found, "drop_plug_mid_v_a")
    current = float(np.sqrt((found.traces.weight * found.traces.phase_a_a**2).sum()))
    assert drop == pytest.approx(0.205 * current, rel=0.15)  # Ohm's law, at the same speed
    assert reading(found, "drop_fuse_mid_v").leans


def test_a_second_opinion_for_each_fault_the_trade_has_one_test_for() -> None:
    """Common practice, no source: which single test shows which fault."""
    for cause, check in (
        ("drain=200mA", "drain_a"),
        ("stator_phase_open", "pair_ohm_ab"),
        ("stator_ground_fault=1", "lead_frame_ohm"),
        ("charge_lead_open", "high_lights_v"),
        ("battery_dead_cell", "rest_charged_v"),
        ("leg_open", "diode_up_a"),
        ("fuse_open", "fuse_out_v"),
    ):
        assert reading(simulated(cause), check).told, cause


def test_a_meter_that_lacks_a_function_says_nothing_there() -> None:
    found = simulated(meter="average-2000")
    assert "clamp_a" not in load_meter("average-2000").functions
    assert reading(found, "charge_high_a").shows is None
    assert reading(simulated(), "charge_high_a").shows is not None


def test_the_same_seed_gives_the_same_readings_and_another_others() -> None:
    one, same = (simulate(SPORT, ["drain"], units=20) for _ in range(2))
    other = simulate(SPORT, ["drain"], units=20, seed=2)
    assert one.readings == same.readings
    assert one.readings != other.readings


def test_a_state_given_holds_for_every_running_check() -> None:
    found = simulate(SPORT, rpm=4000.0, lights=True, plug_out=True, hot=True, units=10)
    running = [one for one in found.readings if one.question.state.rpm is not None]
    assert running
    for one in running:
        state = one.question.state
        assert (state.rpm, state.lights_on, state.plug_in, state.warmth.value) == (
            4000.0, True, False, "hot",
        )  # fmt: skip
    questions = [one.question for one in found.readings]
    assert len(questions) == len(set(questions))  # idle and high would now be the same


# --- waveforms


def test_means_of_the_arrays_are_what_the_meter_reads() -> None:
    found = simulated()
    traces = found.traces
    assert traces.weight.sum() == pytest.approx(1.0)
    volts = float((traces.weight * traces.battery_v).sum())
    # one typical unit beside the middle of drawn ones, both with lamps burning at mid speed
    assert volts == pytest.approx(middle(found, "mid_v"), abs=0.25)
    assert (traces.weight * traces.cutting).sum() == pytest.approx(traces.cut_share)


def test_arrays_have_their_units_in_their_names_and_equal_lengths() -> None:
    for machine, legs in ((SPORT, 3), ("outboard-small-single", 2)):
        traces = simulated(machine=machine).traces
        arrays = traces.arrays()
        assert {values.shape for values in arrays.values()} == {traces.time_ms.shape}
        assert all(name.endswith(("_v", "_a")) for name in arrays)
        assert sum(name.startswith("phase_") for name in arrays) == legs
        assert (np.diff(traces.time_ms) > 0.0).all()


@pytest.mark.parametrize("how", [{}, {"plug_out": True}, {"rpm": 6000.0}])
def test_the_picture_shows_whole_periods(how: dict[str, object]) -> None:
    found = simulate(SPORT, ["drain"], units=10, **how)  # type: ignore[arg-type]
    time_ms, order = repeated(found.traces)
    modes = 2 if 0.0 < found.traces.cut_share < 1.0 else 1
    assert time_ms[-1] < modes * PERIODS * found.traces.period_ms
    assert (np.diff(time_ms) > 0.0).all()
    assert order.size == PERIODS * found.traces.time_ms.size
    svg = simulation_picture(found)
    assert ("Between leads" in svg) == ("plug_out" in how)
    assert svg.count('data-role="cut"') == modes - 1


def test_a_kind_that_cannot_be_sampled_still_reads(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chargewright.simulation.oscilloscope.can_sample", lambda layout: False)
    found = simulate(SPORT, ["drain"], units=10)
    assert not found.has_traces
    assert reading(found, "drain_a").told
    with pytest.raises(InputError, match="no waveforms of 'sport-600-1000'"):
        simulation_picture(found)
