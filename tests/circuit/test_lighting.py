"""Lighting coil, AC regulator and headlamp: phasors, limits, energy, what each fault leaves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.circuit import lighting
from chargewright.circuit.observe import signals, under_test
from chargewright.circuit.signals import Probe, TestSource
from chargewright.machine.layout import Layout, Lighting, Regulator, Winding
from chargewright.machine.parameters import INDEX, OPEN_OHM, Array, healthy_row
from chargewright.machine.points import Engine, Point, State

P = Point
LAYOUT = Layout(winding=Winding.HALF_WAVE, regulator=Regulator.NONE, lighting=Lighting.COIL)
LAMP = Probe(P.LAMP, P.FRAME)
LIT = Probe(P.LIGHT_REG, P.FRAME)
BODY = Probe(P.REG_BODY, P.FRAME)
COIL_A = Probe(P.LIGHT_COIL, P.LIGHT_REG)
LAMP_A = Probe(P.LIGHT_REG, P.LAMP)
OHMS = TestSource(open_v=0.6, short_a=1e-3)


def machine(**changed: float) -> Array:
    row = healthy_row()
    for name, value in changed.items():
        row[INDEX[name]] = value
    return row[None, :]


def state(rpm: float = 5000.0, *, lights: bool = True, plug_in: bool = True) -> State:
    return State(
        engine=Engine.RUNNING, rpm=rpm, rpm_rel_u=0.0, key_on=True, lights_on=lights,
        plug_in=plug_in,
    )  # fmt: skip


def lamp_v(params: Array, at: State | None = None) -> float:
    volts, _ = signals(LAYOUT, params, at or state(), volts=[LAMP])
    assert volts.converged.all()
    return float(volts.ac_true_rms[0, 0])


@pytest.mark.parametrize("rpm", [900.0, 2500.0, 8000.0])
def test_without_its_regulator_the_lamp_is_a_phasor(rpm: float) -> None:
    """E / |R + j w L| times the lamp's ohms (phasor), within 0.1 %."""
    params = machine(light_clamp_open=1.0, magnet_per_k=0.0)
    ohms = 0.4 + 0.01 + 0.08 + 4.2 + 0.03
    z = math.hypot(ohms, 2.0 * math.pi * 6.0 * rpm / 60.0 * 1.2e-3)
    expected = 8.0 * rpm / 1000.0 / z * (4.2 + 0.03)
    assert lamp_v(params, state(rpm)) == pytest.approx(expected, rel=1e-3)


def test_bulbs_blow_without_the_regulator() -> None:
    """With it the lamp stays near its clamping volts; without it half as much again and more."""
    assert lamp_v(machine()) < 13.5
    assert lamp_v(machine(light_clamp_open=1.0)) > 20.0


def test_held_lamp_is_nearly_square_and_meters_disagree() -> None:
    """A clamped wave reads up to 1.11 times as much on an average-responding meter (square)."""
    params = machine(light_clamp_ohm=1e-3, light_emf_v_per_krpm=40.0)
    volts, _ = signals(LAYOUT, params, state(8000.0), volts=[LIT])
    assert volts.ac_true_rms[0, 0] == pytest.approx(13.0, rel=0.02)
    ratio = volts.ac_average[0, 0] / volts.ac_true_rms[0, 0]
    assert 1.08 < ratio <= 1.1108


@pytest.mark.parametrize(
    ("fault", "most"),
    [
        ({"light_short_s": 100.0}, 0.5),
        ({"light_ohm": OPEN_OHM}, 0.01),
        ({"light_plug_ohm": OPEN_OHM}, 0.01),
        ({"light_leak_s": 1e3}, 0.5),
        ({"lamp_lead_ohm": 20.0}, 3.0),
    ],
)
def test_faults_that_darken_the_lamp(fault: dict[str, float], most: float) -> None:
    assert lamp_v(machine(**fault)) < most < 11.0 < lamp_v(machine())


def test_open_bulb_leaves_its_terminal_alive_and_no_current() -> None:
    volts, amps = signals(LAYOUT, machine(lamp_ohm=1e8), state(), volts=[LAMP], amps=[LAMP_A])
    assert volts.ac_true_rms[0, 0] > 11.0
    assert amps.ac_true_rms[0, 0] < 1e-3


def test_poor_lamp_ground_keeps_volts_and_takes_current() -> None:
    """What fools: the terminal reads full volts to frame while the lamp is dim."""
    sound, bad = (
        signals(LAYOUT, machine(lamp_ground_ohm=ohm), state(), volts=[LAMP], amps=[LAMP_A])
        for ohm in (0.03, 5.0)
    )
    assert bad[0].ac_true_rms[0, 0] > 0.98 * sound[0].ac_true_rms[0, 0]
    assert bad[1].ac_true_rms[0, 0] < 0.55 * sound[1].ac_true_rms[0, 0]


def test_poor_regulator_ground_brightens_the_lamp_and_shows_on_the_body() -> None:
    sound, bad = (
        signals(LAYOUT, machine(reg_ground_ohm=ohm), state(), volts=[LAMP, BODY])[0].ac_true_rms[0]
        for ohm in (0.006, 1.0)
    )
    assert bad[0] > sound[0] + 0.5
    assert bad[1] > 1.0 > 0.1 > sound[1]


def test_the_battery_side_does_not_feel_the_lamp() -> None:
    dark, lit = (
        signals(LAYOUT, machine(light_load_a=0.0), state(lights=on),
                volts=[Probe(P.BATTERY_POS, P.BATTERY_NEG)])[0].dc[0, 0]
        for on in (False, True)
    )  # fmt: skip
    assert lit == pytest.approx(dark, abs=1e-9)


def test_unplugged_lead_shows_the_coil_and_the_harness_nothing() -> None:
    probes = [Probe(P.LIGHT_COIL, P.FRAME), Probe(P.LIGHT_COIL, P.BATTERY_POS), LIT, LAMP]
    volts, _ = signals(LAYOUT, machine(magnet_per_k=0.0), state(plug_in=False), volts=probes)
    assert volts.ac_true_rms[0] == pytest.approx([40.0, 40.0, 0.0, 0.0], rel=1e-3, abs=1e-9)
    assert volts.dc[0, 1] < -12.0


def test_ohms_on_the_bench() -> None:
    """Coil 0.4 ohm, cold filament about a tenth of its 4.2 ohm, sound AC regulator open."""
    bench = State(plug_in=False, battery_in=False)
    probes = [Probe(P.LIGHT_COIL, P.FRAME), LAMP, Probe(P.LIGHT_REG, P.REG_BODY)]
    found = under_test(LAYOUT, machine(), bench, probes, OHMS)
    ohms = found.volts[0] / found.amps[0]
    assert ohms[0] == pytest.approx(0.4, rel=0.01)
    assert 0.3 < ohms[1] < 0.5
    assert ohms[2] > 1e6


@given(
    st.floats(500.0, 9000.0),
    st.floats(0.05, 2.0),
    st.floats(1e-4, 5e-3),
    st.floats(8.0, 20.0),
    st.sampled_from([0.0, 1.0, 30.0]),
    st.booleans(),
)
def test_energy_balance(
    rpm: float, ohm: float, henry: float, clamp_v: float, short_s: float, lights: bool
) -> None:
    """EMF times current is the heat of coil, plug, regulator, ground and lamp, within 0.5 %."""
    params = machine(
        light_ohm=ohm, light_h=henry, light_clamp_v=clamp_v, light_short_s=short_s,
        reg_ground_ohm=0.2, emf_third=0.05,
    )  # fmt: skip
    at = state(rpm, lights=lights)
    coil = lighting.coil_of(params, at, np.array([rpm]))
    load = lighting.downstream_of(params, at)
    steps = 1024
    found = lighting.solve(coil, load, steps)
    assert found.converged.all()
    angle = np.pi * (np.arange(steps) + 1.0) / steps
    emf = sum(coil.emf_v[0, k] * np.cos(n * angle) for k, n in enumerate((1, 3, 5)))
    current = found.plug_a[:, 0] + load.leak_s[0] * found.light_coil[:, 0]
    given_w = float((emf * current).mean())
    body, behind, lead = found.body[:, 0], found.light_reg[:, 0], found.light_coil[:, 0]
    regulator_a = found.plug_a[:, 0] - found.lamp_a[:, 0]
    taken = coil.ohm[0] * current**2 + load.leak_s[0] * lead**2
    taken += (lead - behind) * found.plug_a[:, 0] + behind * found.lamp_a[:, 0]
    taken += (behind - body) * regulator_a + body * regulator_a
    assert float(taken.mean()) == pytest.approx(given_w, rel=0.005, abs=1e-3)


def test_steps_are_enough() -> None:
    """The steps in use against sixteen times as many: every reading within 0.1 %."""
    params, at = machine(), state(6000.0)
    coil = lighting.coil_of(params, at, np.array([6000.0]))
    load = lighting.downstream_of(params, at)
    few, many = (lighting.solve(coil, load, n) for n in (lighting.STEPS, 16 * lighting.STEPS))
    for name in ("light_reg", "plug_a"):
        rms = [float(np.sqrt((getattr(w, name) ** 2).mean())) for w in (few, many)]
        assert rms[0] == pytest.approx(rms[1], rel=1e-3)


def test_current_of_both_wires_and_the_body() -> None:
    """Coil current is lamp plus what the body returns: never less than either."""
    _, amps = signals(LAYOUT, machine(), state(), amps=[COIL_A, LAMP_A, Probe(P.REG_BODY, P.FRAME)])
    coil, lamp, body = amps.ac_true_rms[0]
    assert max(lamp, body) < coil < lamp + body + 1e-9
