"""One coil, one diode, frame return: closed forms, limits, and what each fault leaves."""

from __future__ import annotations

import math

import numpy as np
import pytest

from chargewright.circuit.observe import signals, under_test
from chargewright.circuit.signals import Probe, TestSource
from chargewright.energy.output import unregulated
from chargewright.errors import InputError
from chargewright.machine.conditioning import load_class
from chargewright.machine.layout import Layout, Lighting, Regulator, Winding
from chargewright.machine.parameters import INDEX, OPEN_OHM, Array, healthy_row
from chargewright.machine.points import Engine, Point, State
from chargewright.machine.winding import half_wave_share

P = Point
PLAIN = Layout(winding=Winding.HALF_WAVE, regulator=Regulator.NONE)
OHMS = TestSource(open_v=0.6, short_a=1e-3)
OUTPUT = Probe(P.REG_OUT, P.FUSE_OUT)
LEAD = Probe(P.ALT_A, P.REG_A)
BATTERY = Probe(P.BATTERY_POS, P.BATTERY_NEG)


def machine(**changed: float) -> Array:
    """Return one healthy half-wave machine, 12 V rms and 1 mH per coil, six pole pairs."""
    row = healthy_row()
    for name, value in ({"emf_v_per_krpm_a": 12.0, "winding_h_a": 1e-3} | changed).items():
        row[INDEX[name]] = value
    return row[None, :]


def running(rpm: float, *, plug_in: bool = True) -> State:
    return State(engine=Engine.RUNNING, rpm=rpm, rpm_rel_u=0.0, key_on=True, plug_in=plug_in)


def stiff(volts: float, **changed: float) -> Array:
    """Return a machine on a stiff battery [V] with next to no resistance and sharp junctions."""
    params = unregulated(machine(winding_ohm_a=1e-3, **changed), volts)
    for name in ("charge_lead_ohm", "plug_ohm_a", "junction_ohm", "reg_ground_ohm"):
        params[:, INDEX[name]] = 0.0
    return params


def marched_share(u: float, steps: int = 20000) -> float:
    """Return mean current over E/X of L di/dt = E sin - V, i >= 0, by plain small steps."""
    t = np.linspace(0.0, 2.0 * math.pi, steps + 1)
    i, total = 0.0, 0.0
    for _ in range(3):
        total = 0.0
        for angle in t[:-1]:
            i = max(i + (math.sin(angle + math.pi / steps) - u) * 2.0 * math.pi / steps, 0.0)
            total += i / steps
    return total


@pytest.mark.parametrize("u", [0.1, 0.4, 0.8])
def test_closed_form_of_one_diode(u: float) -> None:
    """The integrated law against small steps of the same equation: within 0.2 %."""
    assert half_wave_share(u) == pytest.approx(marched_share(u), rel=0.002, abs=1e-4)


@pytest.mark.parametrize("rpm", [2500.0, 4000.0, 7000.0])
def test_output_follows_the_closed_form(rpm: float) -> None:
    """R to 0: E/X times the share at (battery + junction)/E, within 2 %.

    The junction's line is 0.84 V at 4 A here, with its slope left in the machine.
    """
    params = stiff(14.4)
    _, amps = signals(PLAIN, params, running(rpm), amps=[OUTPUT], steps=241)
    peak = math.sqrt(2.0) * 12.0 * rpm / 1000.0
    x_ohm = 2.0 * math.pi * 6.0 * rpm / 60.0 * 1e-3
    expected = peak / x_ohm * half_wave_share((14.4 + 0.84) / peak)
    assert amps.dc[0, 0] == pytest.approx(expected, rel=0.02)


def test_open_diode_and_open_coil_give_nothing() -> None:
    for fault in ({"up_open_a": 1.0}, {"winding_ohm_a": OPEN_OHM}, {"plug_ohm_a": OPEN_OHM}):
        _, amps = signals(PLAIN, machine(**fault), running(5000.0), amps=[OUTPUT, LEAD])
        assert amps.dc[0] == pytest.approx([0.0, 0.0], abs=1e-5)


def test_no_current_below_where_the_peak_reaches_the_battery() -> None:
    params = stiff(14.4)
    begins = 1000.0 * (14.4 + 0.5) / (math.sqrt(2.0) * 12.0)
    _, amps = signals(PLAIN, params, running(0.9 * begins), amps=[OUTPUT])
    assert amps.dc[0, 0] == pytest.approx(0.0, abs=1e-3)


def test_shorted_diode_lets_the_battery_drain_through_the_coil() -> None:
    """Engine off: 12.8 V across 0.15 ohm of coil and 10 mohm of short is tens of amperes."""
    _, sound = signals(PLAIN, machine(), State(), amps=[Probe(P.FRAME, P.BATTERY_NEG)])
    params = machine(up_leak_s_a=100.0)
    _, found = signals(PLAIN, params, State(), amps=[Probe(P.FRAME, P.BATTERY_NEG)])
    assert abs(sound.dc[0, 0]) < 0.002
    assert abs(found.dc[0, 0]) > 20.0


def test_lead_dead_to_frame_takes_the_output_away() -> None:
    """Short-circuit current E/|Z| in the coil, none in the battery."""
    params = machine(harness_leak_s=1e3)
    _, amps = signals(PLAIN, params, running(5000.0), amps=[OUTPUT, LEAD])
    z = math.hypot(0.15 + 0.005 + 1e-3, 2.0 * math.pi * 500.0 * 1e-3)
    assert amps.dc[0, 0] == pytest.approx(0.0, abs=0.01)
    assert amps.ac_true_rms[0, 1] == pytest.approx(60.0 / z, rel=0.005)


def test_open_coil_volts_stand_against_frame() -> None:
    """Unplugged: 12 V rms per 1000 rpm to frame, to whatever on the frame's side."""
    probes = [Probe(P.ALT_A, P.FRAME), Probe(P.BATTERY_POS, P.ALT_A)]
    volts, _ = signals(PLAIN, machine(), running(5000.0, plug_in=False), volts=probes)
    assert volts.ac_true_rms[0] == pytest.approx([60.0, 60.0], rel=1e-3)


def test_turns_short_shows_in_open_volts() -> None:
    """A third of the turns gone: two thirds of the volts."""
    params = machine(emf_v_per_krpm_a=8.0, winding_ohm_a=0.1, winding_h_a=1e-3 * 2 / 3)
    volts, _ = signals(
        PLAIN, params, running(5000.0, plug_in=False), volts=[Probe(P.ALT_A, P.FRAME)]
    )
    assert volts.ac_true_rms[0, 0] == pytest.approx(40.0, rel=1e-3)


def test_ohms_of_a_coil_on_the_frame() -> None:
    """0.15 ohm lead to frame; a fault to frame at three quarters leaves that quarter's ohms."""
    bench = State(plug_in=False, battery_in=False)
    probe = [Probe(P.ALT_A, P.FRAME)]
    faulty = machine(stator_leak_s=1e3, stator_leak_at=0.25)
    params = np.concatenate([machine(), faulty])
    found = under_test(PLAIN, params, bench, probe, OHMS)
    ohms = (found.volts / found.amps)[:, 0]
    # at counts from the far end to the lead's: 0.25 of the way from the lead in series here
    assert ohms[0] == pytest.approx(0.15, rel=1e-3)
    assert ohms[1] == pytest.approx(0.15 * 0.75 + 1e-3, rel=0.02)


def test_thyristor_charger_holds_its_set_point() -> None:
    layout = Layout(winding=Winding.HALF_WAVE, regulator=Regulator.SERIES)
    params = machine(running_load_a=0.5, setpoint_v_per_k=0.0, charge_lead_ohm=0.05)
    volts, amps = signals(
        layout, params, running(5000.0), volts=[Probe(P.REG_OUT, P.REG_BODY)], amps=[OUTPUT]
    )
    assert volts.dc[0, 0] == pytest.approx(14.5, abs=0.003)
    assert 0.5 < amps.dc[0, 0] < 3.0


def test_what_cannot_be_a_machine_is_refused() -> None:
    with pytest.raises(InputError, match=r"half_wave.*shunt.*series"):
        Layout(winding=Winding.HALF_WAVE, regulator=Regulator.SHUNT)
    with pytest.raises(InputError, match=r"field.*lamps on the battery"):
        Layout(regulator=Regulator.FIELD, lighting=Lighting.COIL)
    with pytest.raises(InputError, match=r"probe on alt_b.*its other end on the frame"):
        signals(PLAIN, machine(), running(3000.0), volts=[Probe(P.ALT_B, P.FRAME)])


def test_the_class_charges_about_what_type_specifications_ask() -> None:
    """At least 1.2-2.0 A at 6000 rpm into the battery: service-manual type specifications,
    class 50-125 scooter; the typical unit on a 13.5 V battery, loads off."""
    kind = load_class("scooter-50-half-wave")
    row = np.array([list(kind.typical().values())])
    row = row[:, [list(kind.typical()).index(name) for name in INDEX]]
    _, amps = signals(kind.layout, unregulated(row, 13.5), running(6000.0), amps=[OUTPUT])
    assert amps.dc[0, 0] > 1.2
