"""Field-excited machines: the regulator's share, build-up, and what each fault leaves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.circuit import field_excited, running
from chargewright.circuit.compiled import HAVE_NUMBA
from chargewright.circuit.field_coil import excited, field_coil
from chargewright.circuit.observe import signals, under_test
from chargewright.circuit.running import RATED_LOAD_V
from chargewright.circuit.signals import Probe, TestSource
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Cause
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense, Winding
from chargewright.machine.parameters import INDEX, OPEN_OHM, Array, healthy_row
from chargewright.machine.points import Engine, Point, State, Warmth

P = Point
LAYOUT = Layout(regulator=Regulator.FIELD, sense=Sense.OUTPUT, charge_to=ChargeTo.BATTERY)
BATTERY = Probe(P.BATTERY_POS, P.BATTERY_NEG)
SENSED = Probe(P.REG_OUT, P.REG_BODY)
FED = Probe(P.REG_FIELD, P.FRAME)
FIELD_A = Probe(P.REG_FIELD, P.FIELD_POS)
OHMS = TestSource(open_v=0.6, short_a=1e-3)
CLASS = load_class("tourer-field-excited")


def machine(**changed: float) -> Array:
    row = healthy_row()
    row[INDEX["magnet_per_k"]] = row[INDEX["setpoint_v_per_k"]] = 0.0
    for name, value in changed.items():
        row[INDEX[name]] = value
    return row[None, :]


def state(rpm: float = 3000.0, *, plug_in: bool = True, full: bool = False) -> State:
    return State(
        engine=Engine.RUNNING, rpm=rpm, rpm_rel_u=0.0, key_on=True, plug_in=plug_in,
        full_field=full,
    )  # fmt: skip


def read(params: Array, at: State, *probes: Probe) -> Array:
    volts, _ = signals(LAYOUT, params, at, volts=probes)
    assert volts.converged.all()
    return volts.dc[0]


@pytest.mark.parametrize("rpm", [1500.0, 3000.0, 6000.0])
def test_set_point_is_held_at_any_speed(rpm: float) -> None:
    assert read(machine(), state(rpm), SENSED)[0] == pytest.approx(14.5, abs=0.005)


def test_field_is_taken_back_as_the_speed_rises() -> None:
    """Twice the speed needs less than the same flux: field volts and current fall."""
    found = [read(machine(), state(rpm), FED)[0] for rpm in (1500.0, 3000.0, 6000.0)]
    assert found[0] > found[1] > found[2] > 1.0


def test_field_current_is_ohms_law() -> None:
    """Mean volts at the field's terminal over all that follows it."""
    volts, amps = signals(LAYOUT, machine(), state(), volts=[FED], amps=[FIELD_A])
    assert amps.dc[0, 0] == pytest.approx(volts.dc[0, 0] / (0.01 + 0.15 + 4.0 + 0.01), rel=1e-6)


def test_flux_is_proportional_to_the_field_current() -> None:
    """At full field, open leads: residual and the current's share of ``field_full_a``."""
    at = state(2000.0, plug_in=False, full=True)
    probe = [Probe(P.ALT_A, P.ALT_B)]
    volts, _ = signals(LAYOUT, machine(), at, volts=probe)
    residual, _ = signals(LAYOUT, machine(), state(2000.0, plug_in=False), volts=probe)
    rest = signals(
        LAYOUT, machine(), replace(at, engine=Engine.OFF, rpm=None),
        volts=[Probe(P.BATTERY_POS, P.FRAME)],
    )[0]  # fmt: skip
    amps = rest.dc[0, 0] / (0.05 + 0.15 + 4.0 + 0.05)
    full = 8.66 * np.sqrt(3.0) * 2.0
    assert residual.ac_true_rms[0, 0] == pytest.approx(0.03 * full, rel=1e-3)
    assert volts.ac_true_rms[0, 0] == pytest.approx(full * (0.03 + 0.97 * amps / 3.3), rel=1e-3)


@pytest.mark.parametrize(
    "fault",
    [{"field_ohm": OPEN_OHM}, {"brush_ohm": 1e6}, {"cut_min": 1.0}, {"field_feed_ohm": 1e6}],
)
def test_no_field_no_charge(fault: dict[str, float]) -> None:
    """Residual magnetism alone stays below the battery."""
    volts, amps = signals(
        LAYOUT, machine(**fault), state(4000.0), volts=[BATTERY],
        amps=[Probe(P.REG_OUT, P.BATTERY_POS)],
    )  # fmt: skip
    assert volts.dc[0, 0] < 13.0
    assert amps.dc[0, 0] == pytest.approx(0.0, abs=1e-3)


def test_always_fed_runs_away() -> None:
    """Above its set point by more than a sound regulator's scatter, battery held or not."""
    assert read(machine(cut_max=0.0), state(5000.0), BATTERY)[0] > 14.5 + 0.3


def test_full_field_lifts_volts_that_a_dead_regulator_leaves_low() -> None:
    params = machine(cut_min=1.0, cut_min_hot=1.0)
    assert read(params, state(3000.0), BATTERY)[0] < 13.0
    assert read(params, state(3000.0, full=True), BATTERY)[0] > 14.0


def test_worn_brushes_cost_output_at_low_speed_first() -> None:
    """Three ohms more: less at 1100 rpm, nothing to see at 5000."""
    sound, worn = machine(), machine(brush_ohm=3.0)
    assert read(sound, state(1300.0), BATTERY)[0] > read(worn, state(1300.0), BATTERY)[0] + 0.3
    assert read(worn, state(6000.0), BATTERY)[0] == pytest.approx(
        read(sound, state(6000.0), BATTERY)[0], abs=0.02
    )


def test_shorted_field_turns_draw_current_and_keep_flux() -> None:
    """Half the turns: nearly twice the current, nearly the same ampere-turns (Ohm's law)."""
    _, amps = signals(LAYOUT, machine(), State(key_on=True), amps=[FIELD_A])
    _, half = signals(LAYOUT, machine(field_turns=0.5), State(key_on=True), amps=[FIELD_A])
    assert 1.7 < half.dc[0, 0] / amps.dc[0, 0] < 2.0
    whole, short = (field_coil(machine(field_turns=turns), state()) for turns in (1.0, 0.5))
    flux = [float(coil.excitation(np.ones(1), np.full(1, 13.0))[0]) for coil in (whole, short)]
    # 4 ohm and 2 ohm of coil behind 0.43 ohm of feed, brushes and contacts
    assert flux[1] / flux[0] == pytest.approx(4.43 / (2.0 * 2.43), abs=0.01)


def test_grounded_field_takes_the_field_away() -> None:
    assert read(machine(field_leak_s=50.0), state(4000.0), BATTERY)[0] < 13.2


def test_fuse_open_builds_up_or_not() -> None:
    """Cut off from its battery it has residual magnetism only: 6 % starts, 0.1 % does not."""
    layout = Layout(regulator=Regulator.FIELD, charge_to=ChargeTo.HARNESS)
    harness = Probe(P.FUSE_OUT, P.FRAME)
    found = [
        signals(layout, machine(fuse_ohm=1e8, field_residual=share), state(5000.0), volts=[harness])
        for share in (0.06, 0.001)
    ]
    assert found[0][0].dc[0, 0] > 12.0
    assert found[1][0].dc[0, 0] < 2.0


def test_hot_field_gives_less_at_full_field() -> None:
    """Copper at 110 C has 1.354 times its ohms: less flux where all of it is needed."""
    params = machine(stator_hot_c=110.0)
    cold = read(params, state(1200.0), BATTERY)[0]
    hot = read(params, replace(state(1200.0), warmth=Warmth.HOT), BATTERY)[0]
    assert hot < cold - 0.1


def test_ohms_on_the_bench() -> None:
    """4.0 ohm and 0.15 ohm of brushes between the field leads, nothing to frame."""
    bench = State(plug_in=False, battery_in=False)
    probes = [Probe(P.FIELD_POS, P.FIELD_NEG), Probe(P.FIELD_POS, P.FRAME)]
    found = under_test(LAYOUT, machine(), bench, probes, OHMS)
    ohms = found.volts[0] / found.amps[0]
    assert ohms[0] == pytest.approx(4.15, rel=1e-3)
    assert ohms[1] > 1e6
    grounded = under_test(LAYOUT, machine(field_leak_s=1.0), bench, probes[1:], OHMS)
    assert (grounded.volts / grounded.amps)[0, 0] == pytest.approx(1.15, rel=1e-3)


def test_key_on_feeds_the_field_fully() -> None:
    """Engine off: battery volts less what feed and leads drop, and Ohm's current."""
    volts, amps = signals(
        LAYOUT, machine(), State(key_on=True), volts=[FED, BATTERY], amps=[FIELD_A]
    )
    fed, battery = volts.dc[0]
    assert 0.3 < battery - fed < 1.2
    assert amps.dc[0, 0] == pytest.approx(fed / 4.17, rel=1e-3)
    off, _ = signals(LAYOUT, machine(), State(), volts=[FED])
    assert abs(off.dc[0, 0]) < 0.1


@given(st.sampled_from(catalogue().possible(CLASS)), st.integers(0, 2**32 - 1),
       st.floats(900.0, 6000.0), st.sampled_from([Winding.STAR, Winding.DELTA]))  # fmt: skip
def test_every_answer_agrees_with_itself(
    cause: Cause, seed: int, rpm: float, winding: Winding
) -> None:
    """Flux is what volts and share make; volts stand at the set point, or the share at a bound."""
    layout = replace(CLASS.layout, winding=winding)
    params = draw(CLASS, (cause,), np.random.default_rng(seed).standard_normal((1, LATENTS)))
    at = state(rpm)
    sensed = field_excited.probe_of_sense(layout)
    volts, _, solved = field_excited.solve(layout, params, at, np.array([rpm]), [sensed], [])
    if not solved.converged.all():
        return
    coil = field_coil(params, at)
    x = coil.excitation(solved.share, solved.feed_v)
    assert solved.excitation == pytest.approx(x, abs=2e-3, rel=2e-3)
    op = running.operating_points(layout, params, at, np.array([rpm]))[0]
    least, most = 1.0 - op[running.nw.CUT_MAX], 1.0 - op[running.nw.CUT_MIN]
    gap = volts.dc[0, 0] - op[running.nw.SETPOINT_V]
    if least + 1e-3 < solved.share[0] < most - 1e-3:
        assert abs(gap) < 0.03
    inner = replace(layout, regulator=Regulator.NONE)
    again, _ = running.signals(
        inner, excited(params, solved.excitation, coil.load_s(solved.share), RATED_LOAD_V),
        at, np.array([rpm]), [sensed], [],
    )  # fmt: skip
    assert again.dc[0, 0] == pytest.approx(volts.dc[0, 0], abs=0.03)


@pytest.mark.skipif(not HAVE_NUMBA, reason="needs the compiled path to compare with")
def test_plain_path_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twelve machines with causes through both paths: volts within 5 mV, field within 0.1 %."""
    rng = np.random.default_rng(3)
    causes = catalogue().possible(CLASS)[::4]
    params = np.concatenate(
        [draw(CLASS, (cause,), rng.standard_normal((1, LATENTS))) for cause in causes]
    )
    rpm = rng.uniform(1200.0, 5000.0, len(params))
    args = (CLASS.layout, params, state(), rpm, [BATTERY], [])
    volts, _, solved = field_excited.solve(*args, steps=49)
    whole = running.solve_all

    def plainly(*a: object, **k: object) -> None:
        whole(*a, **{**k, "plain": True})  # type: ignore[arg-type]

    monkeypatch.setattr(running, "solve_all", plainly)
    plain_v, _, plain = field_excited.solve(*args, steps=49)
    assert (plain.converged == solved.converged).all()
    good = solved.converged
    assert plain_v.dc[good] == pytest.approx(volts.dc[good], abs=0.005)
    assert plain.excitation[good] == pytest.approx(solved.excitation[good], rel=1e-3, abs=1e-4)
