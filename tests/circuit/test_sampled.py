"""Sampled waveforms against the means and rms of the compiled solver, and against the laws."""

from __future__ import annotations

import numpy as np
import pytest

from chargewright.circuit import observe
from chargewright.circuit.sampled import Waves, can_sample, waves
from chargewright.circuit.signals import Probe
from chargewright.errors import InputError
from chargewright.machine.cause_file import catalogue
from chargewright.machine.classes import class_ids
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.parameters import column
from chargewright.machine.points import Engine, Point, State

P = Point
CLASSES = [name for name in class_ids() if can_sample(load_class(name).layout)]
VOLTS = (
    Probe(P.BATTERY_POS, P.BATTERY_NEG),
    Probe(P.REG_OUT, P.REG_BODY),
    Probe(P.ALT_A, P.ALT_B),
    Probe(P.REG_A, P.FRAME),
    Probe(P.BATTERY_NEG, P.REG_BODY),
)
AMPS = (Probe(P.ALT_A, P.REG_A), Probe(P.BATTERY_NEG, P.FRAME))
CAUSES = (
    (), ("plug_resistance",), ("stator_turns_shorted",), ("junction_open",), ("plug_open",),
    ("stator_ground_fault",), ("charge_lead_resistance",), ("magnets_weak", "battery_worn"),
)  # fmt: skip


def mixed(found: Waves, kind: str, row: int) -> tuple[float, float]:
    """Return mean and rms about it over both modes of the regulator."""
    shares = (1.0 - found.cut_share, found.cut_share)
    modes = [(s, m) for s, m in zip(shares, (found.charging, found.cutting), strict=True) if m]
    mean = sum(s * float((m.weight * getattr(m, kind)[row]).sum()) for s, m in modes)
    square = sum(
        s * float((m.weight * (getattr(m, kind)[row] - mean) ** 2).sum()) for s, m in modes
    )
    return mean, float(np.sqrt(square))


@pytest.mark.parametrize("causes", CAUSES, ids="+".join)
@pytest.mark.parametrize("class_id", CLASSES)
def test_means_and_rms_are_those_of_the_compiled_solver(
    class_id: str, causes: tuple[str, ...]
) -> None:
    machine = load_class(class_id)
    seed = len(class_id) + 100 * len(causes)
    z = np.random.default_rng(seed).standard_normal((1, LATENTS))
    params = draw(machine, tuple(catalogue().get(c) for c in causes), z)
    for word, lights in (("idle", False), ("high", True)):
        state = State(
            engine=Engine.RUNNING, rpm=machine.speeds.rpm(word), key_on=True, lights_on=lights
        )
        found = waves(machine.layout, params, state, volts=VOLTS, amps=AMPS, steps=97)
        volts, amps = observe.signals(
            machine.layout, params, state, volts=VOLTS, amps=AMPS, steps=97
        )
        assert found.converged == volts.converged[0]
        for kind, signals in (("volts", volts), ("amps", amps)):
            for row in range(signals.dc.shape[1]):
                mean, rms = mixed(found, kind, row)
                assert mean == pytest.approx(signals.dc[0, row], abs=2e-3, rel=2e-3)
                assert rms == pytest.approx(signals.ac_true_rms[0, row], abs=2e-3, rel=2e-3)


@pytest.mark.parametrize("class_id", CLASSES)
def test_open_leads_show_what_the_phasors_give(class_id: str) -> None:
    """The open plug is solved in time here and by phasors in ``unplugged``: two ways, one rms."""
    machine = load_class(class_id)
    params = draw(machine, (), np.zeros((1, LATENTS)))
    state = State(engine=Engine.RUNNING, rpm=3000.0, key_on=True, plug_in=False)
    pair = [Probe(P.ALT_A, P.ALT_B)]
    found = waves(machine.layout, params, state, volts=pair)
    want = observe.signals(machine.layout, params, state, volts=pair)[0]
    assert found.cutting is None
    assert mixed(found, "volts", 0)[1] == pytest.approx(want.ac_true_rms[0, 0], rel=1e-3)


@pytest.mark.parametrize("class_id", CLASSES)
def test_currents_of_the_leads_add_up_to_nothing(class_id: str) -> None:
    """Kirchhoff's current law at the alternator of a sound machine, at every instant."""
    machine = load_class(class_id)
    layout = machine.layout
    params = draw(machine, (), np.zeros((1, LATENTS)))
    state = State(engine=Engine.RUNNING, rpm=machine.speeds.rpm("high"), key_on=True)
    leads = ((P.ALT_A, P.REG_A), (P.ALT_B, P.REG_B), (P.ALT_C, P.REG_C))[: layout.phases]
    found = waves(layout, params, state, amps=[Probe(*lead) for lead in leads])
    for mode in (found.charging, found.cutting):
        if mode is not None:
            assert np.abs(mode.amps.sum(axis=0)).max() < 1e-3 * np.abs(mode.amps).max() + 1e-3
            assert mode.weight.sum() == pytest.approx(1.0)
            assert (np.diff(mode.at) > 0.0).all()


def test_the_drop_along_a_lead_is_ohms_law() -> None:
    machine = load_class("sport-600-1000")
    z = np.zeros((1, LATENTS))
    params = draw(machine, (catalogue().get("plug_resistance"),), z)
    state = State(engine=Engine.RUNNING, rpm=3000.0, key_on=True, lights_on=True)
    found = waves(
        machine.layout,
        params,
        state,
        volts=[Probe(alt, reg) for alt, reg in ((P.ALT_A, P.REG_A), (P.ALT_B, P.REG_B))],
        amps=[Probe(alt, reg) for alt, reg in ((P.ALT_A, P.REG_A), (P.ALT_B, P.REG_B))],
    )
    assert found.charging is not None
    for row, leg in enumerate("ab"):
        ohm = float(column(params, f"plug_ohm_{leg}")[0])
        drop, current = found.charging.volts[row], found.charging.amps[row]
        assert drop == pytest.approx(ohm * current, abs=1e-6 + 1e-6 * np.abs(drop).max())


def test_only_one_running_machine_at_a_time() -> None:
    machine = load_class("atv")
    params = draw(machine, (), np.zeros((2, LATENTS)))
    running = State(engine=Engine.RUNNING, rpm=3000.0, key_on=True)
    with pytest.raises(InputError, match="2 machines"):
        waves(machine.layout, params, running)
    with pytest.raises(InputError, match="engine off"):
        waves(machine.layout, params[:1], State())


def test_most_classes_have_waveforms() -> None:
    assert len(CLASSES) >= 12
