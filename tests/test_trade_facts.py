"""Facts of the trade, common practice with no source, on sound and failed 600-1000 sport machines.

A few hundred units are drawn; a fact must hold for nearly all of them.
"""

from __future__ import annotations

import numpy as np
import pytest

from chargewright.circuit import observe
from chargewright.circuit.signals import Probe, TestSource
from chargewright.machine.cause_file import catalogue
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, Load, Point, State

SPORT = load_class("sport-600-1000")
POSTS = Probe(Point.BATTERY_POS, Point.BATTERY_NEG)
LEADS = [
    Probe(Point.ALT_A, Point.ALT_B),
    Probe(Point.ALT_B, Point.ALT_C),
    Probe(Point.ALT_C, Point.ALT_A),
]
UPPER = [Probe(Point.REG_A, Point.REG_OUT), Probe(Point.REG_B, Point.REG_OUT),
         Probe(Point.REG_C, Point.REG_OUT)]  # fmt: skip
METER = TestSource(open_v=2.7, short_a=1.0e-3)
OHMS = TestSource(open_v=2.0, short_a=0.35e-3)
HIGH = State(engine=Engine.RUNNING, rpm=5000, key_on=True, lights_on=True)
IDLE_OPEN = State(engine=Engine.RUNNING, rpm=1200, key_on=True, lights_on=True, plug_in=False)
APART = State(plug_in=False, battery_in=False)


def units(*causes: str, count: int = 300, seed: int = 5) -> Array:
    """Return units of the class with the named causes."""
    z = np.random.default_rng(seed).standard_normal((count, LATENTS))
    return draw(SPORT, tuple(catalogue().get(name) for name in causes), z)


def dc(params: Array, state: State, probe: Probe = POSTS) -> Array:
    """Return DC volts of one probe."""
    return observe.signals(SPORT.layout, params, state, volts=[probe])[0].dc[:, 0]


def test_rested_battery() -> None:
    """A sound battery, rested: 12.3-13.0 V; a new one near 13.0 charged; 12.0-12.1 is doubtful."""
    volts = dc(units("no_fault"), State())
    assert np.mean((volts > 12.25) & (volts < 13.1)) > 0.95
    charged = dc(units("no_fault"), State(battery_charged=True, rest_h=1.0))
    assert np.median(charged) == pytest.approx(12.95, abs=0.15)
    assert np.mean(volts < 12.1) < 0.02


def test_running_volts_and_no_rise_without_charging() -> None:
    """About 14 V with the engine running; unchanged or lower than at rest when nothing charges."""
    sound = dc(units("no_fault"), HIGH)
    assert np.mean((sound > 13.7) & (sound < 15.0)) > 0.95
    for cause in ("magnets_lost", "rectifier_no_output", "charge_lead_open"):
        params = units(cause, count=150)
        assert np.mean(dc(params, HIGH) <= dc(params, State()) + 0.1) > 0.9, cause


def test_junctions_on_the_diode_range() -> None:
    """Each near 0.46 V, three alike within a few millivolts; open or near zero when failed."""
    result = observe.under_test(SPORT.layout, units("no_fault"), APART, UPPER, METER)
    assert np.median(result.volts) == pytest.approx(0.46, abs=0.02)
    assert np.median(np.ptp(result.volts, axis=1)) < 0.010
    opened = observe.under_test(SPORT.layout, units("rectifier_no_output"), APART, UPPER, METER)
    assert np.median(opened.volts) > 2.0
    shorted = observe.under_test(SPORT.layout, units("junction_shorted"), APART, UPPER, METER)
    assert np.median(shorted.volts.min(axis=1)) < 0.47
    assert np.mean(shorted.volts.min(axis=1) < 0.05) > 0.4  # an upper one in half the cases


def test_winding_pairs() -> None:
    """Between 0.1 and 1 ohm; open when burnt through."""
    result = observe.under_test(SPORT.layout, units("no_fault"), APART, LEADS, OHMS)
    ohm = result.volts / result.amps
    assert np.mean((ohm > 0.1) & (ohm < 1.0)) > 0.98
    broken = observe.under_test(SPORT.layout, units("stator_phase_open"), APART, LEADS, OHMS)
    opened = (broken.volts / np.maximum(broken.amps, 1e-15)) > 1e6
    assert np.all(opened.sum(axis=1) == 2)


def test_open_leads_at_idle() -> None:
    """About 15 V AC between open leads at idle; near zero when the magnets are gone."""
    sound = observe.signals(SPORT.layout, units("no_fault"), IDLE_OPEN, volts=LEADS)[0]
    assert np.median(sound.ac_true_rms) == pytest.approx(15.0, abs=3.0)
    lost = observe.signals(SPORT.layout, units("magnets_lost"), IDLE_OPEN, volts=LEADS)[0]
    assert np.median(lost.ac_true_rms) < 5.0
    broken = observe.signals(SPORT.layout, units("stator_phase_open"), IDLE_OPEN, volts=LEADS)[0]
    assert np.median(np.sort(broken.ac_true_rms, axis=1)[:, 1]) < 1.0


def test_a_fair_voltage_can_hide_a_worn_battery() -> None:
    """A worn battery can show a fair voltage at rest; the check that tells is a loaded one."""
    worn, sound = units("battery_worn"), units("no_fault")
    rested_w, rested_s = dc(worn, State()), dc(sound, State())
    loaded = State(load=Load.LOAD_TESTER)
    loaded_w, loaded_s = dc(worn, loaded), dc(sound, loaded)
    assert np.mean(rested_w > 12.3) > 0.3
    gap_rest = (np.median(rested_s) - np.median(rested_w)) / np.std(rested_s)
    gap_load = (np.median(loaded_s) - np.median(loaded_w)) / np.std(loaded_s)
    assert gap_load > 3.0
    assert gap_load > 2.0 * gap_rest
    crank = State(engine=Engine.CRANKING, key_on=True)
    assert np.mean(dc(worn, crank) > 7.0) > 0.1  # some still start the engine
