"""What holds for every running machine, whatever it is made of and whatever is wrong with it.

Laws of circuits (conservation of energy and charge, symmetry, limits), not tables: any machine
of any class with any cause drawn by hypothesis must obey them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.circuit import half_wave, running, turning
from chargewright.circuit import network as nw
from chargewright.circuit.battery import BatteryArrays, Polarisation, battery_of, overvoltage_v
from chargewright.circuit.compiled import HAVE_NUMBA
from chargewright.circuit.operate import CONVERGED, E_V, RESULTS
from chargewright.circuit.signals import Probe
from chargewright.circuit.waveforms import BATTERY_WIRE, LEADS, LOADS, OUTPUT
from chargewright.machine.cause_file import catalogue
from chargewright.machine.classes import class_ids
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense, Winding
from chargewright.machine.parameters import INDEX, Array
from chargewright.machine.points import Engine, Point, State, Warmth
from tests.circuit.machine_m import Change, machine_m, set_column, solve
from tests.circuit.power import power_w
from tests.circuit.stands import LAYOUTS, machines, points_of

AMPS = [(OUTPUT, 1), (BATTERY_WIRE, 1), (LOADS, 1)]


def polarisation(cell: BatteryArrays) -> Polarisation:
    """Return a battery's over-voltage law."""
    return Polarisation(
        charge_scale_v=cell.charge_scale_v,
        charge_knee_a=cell.charge_knee_a,
        stored_most_a=cell.stored_most_a,
        gas_scale_v=cell.gas_scale_v,
        gas_knee_a=cell.gas_knee_a,
        draw_scale_v=cell.draw_scale_v,
        draw_knee_a=cell.draw_knee_a,
        empty_v=cell.empty_v,
        empty_a=cell.empty_a,
    )


def solve_columns(
    layout: Layout, op: Array, *, steps: int = running.STEPS, plain: bool | None = None
) -> tuple[Array, Array]:
    """Return answers (n, 6, 4) of output, battery, loads and the three leads, and results."""
    rows = [*AMPS, (LEADS, 1), (LEADS + 1, 1), (LEADS + 2, 1)]
    answers, results = np.zeros((len(op), len(rows), 4)), np.zeros((len(op), RESULTS))
    running.solve_all(
        np.ascontiguousarray(op),
        running.KIND[layout.winding],
        layout.regulator is Regulator.SERIES,
        layout.charge_to is ChargeTo.BATTERY,
        layout.sense is Sense.LEAD,
        nw.emf_table(steps),
        np.array([running.WIRE + wire for wire, _ in rows]),
        np.array([sign for _, sign in rows]),
        answers,
        results,
        plain=not HAVE_NUMBA if plain is None else plain,
    )
    return answers, results


@st.composite
def faulty(draw_: st.DrawFn) -> tuple[Layout, Array, State, float]:
    """Draw a class, a cause (or none), a unit, a warmth, lights and a speed.

    A half-wave charger comes as the bridge it is solved as, a field-excited machine fully fed.
    """
    machine = load_class(draw_(st.sampled_from(class_ids())))
    cause = draw_(st.sampled_from(catalogue().possible(machine)))
    rng = np.random.default_rng(draw_(st.integers(0, 2**32 - 1)))
    params = draw(machine, (cause,), rng.standard_normal((1, LATENTS)))
    state = State(
        engine=Engine.RUNNING,
        warmth=draw_(st.sampled_from(Warmth)),
        lights_on=draw_(st.booleans()),
    )
    low, high = machine.speeds.idle_rpm, machine.speeds.high_rpm
    layout = machine.layout
    if layout.half_wave:
        layout, params = half_wave.bridge_layout(layout), half_wave.bridge_params(params)
    if layout.field:
        layout = replace(layout, regulator=Regulator.NONE)
    return layout, params, state, draw_(st.floats(low, high))


@given(faulty())
def test_energy_balance(case: tuple[Layout, Array, State, float]) -> None:
    """What the EMFs give is what batteries take and parts heat, within 0.5 %."""
    layout, params, state, rpm = case
    op = running.operating_points(layout, params, state, np.array([rpm]))
    found = power_w(layout, op)
    if found is not None:
        given_w, taken_w = found
        assert taken_w == pytest.approx(given_w, rel=0.005, abs=0.02)


@given(faulty())
def test_charge_balance(case: tuple[Layout, Array, State, float]) -> None:
    """What leaves the regulator goes into loads and battery; the battery has settled on it."""
    layout, params, state, rpm = case
    op = running.operating_points(layout, params, state, np.array([rpm]))
    answers, results = solve_columns(layout, op)
    output, battery, loads = answers[0, :3, 0]
    assert battery == pytest.approx(output - loads, rel=1e-6, abs=1e-6)
    if results[0, CONVERGED]:
        cell = battery_of(params, state)
        law_v = cell.emf_v + overvoltage_v(polarisation(cell), battery)
        assert results[0, E_V] == pytest.approx(law_v[0], abs=0.0025)


@given(st.sampled_from(LAYOUTS), machines(), st.floats(300, 12000), st.booleans())
def test_no_nan_anywhere(layout: Layout, params: Array, rpm: float, lights: bool) -> None:
    """Up to eight parameters anywhere in their limits: every answer is a number."""
    state = State(engine=Engine.RUNNING, lights_on=lights)
    points = points_of(layout)
    probes = [Probe(a, Point.FRAME) for a in points]
    wires = [Probe(Point.BATTERY_NEG, Point.FRAME), Probe(Point.ALT_A, Point.REG_A)]
    for answer in turning.plugged(layout, params, state, np.array([rpm]), probes, wires, steps=49):
        for name in ("dc", "ac_true_rms", "ac_average", "frequency_hz"):
            assert np.isfinite(getattr(answer, name)).all(), name
        assert (answer.ac_true_rms >= 0.0).all()


@given(faulty(), st.sampled_from([(1, 2, 0), (2, 0, 1)]))
def test_phase_permutation(
    case: tuple[Layout, Array, State, float], order: tuple[int, int, int]
) -> None:
    """Leads renamed in turn: the same output, the same lead currents under their new names.

    Within 2 %: a step grid's own error differs between phases.
    """
    layout, params, state, rpm = case
    leak = params[0, [INDEX["phase_short_s"], INDEX["harness_leak_s"]]].any()
    tapped = params[0, [INDEX["stator_leak_s"], INDEX["stator_leak_hot_s"]]].any()
    if layout.winding is not Winding.STAR or leak or tapped:
        return  # these are tied to lead A by definition
    turned = params.copy()
    for name in INDEX:
        if name.endswith("_a") and name[:-2] + "_c" in INDEX:
            columns = [INDEX[name[:-1] + leg] for leg in "abc"]
            turned[:, columns] = params[:, [columns[k] for k in order]]
    columns = np.concatenate(
        [running.operating_points(layout, p, state, np.array([rpm])) for p in (params, turned)]
    )
    answers, results = solve_columns(layout, columns, steps=241)
    if results[:, CONVERGED].all():
        scale = max(1.0, answers[0, 3:, 1].max())
        assert answers[1, 0, 0] == pytest.approx(answers[0, 0, 0], rel=0.02, abs=0.01 * scale)
        expected = answers[0, 3 + np.array(order), 1]
        assert answers[1, 3:, 1] == pytest.approx(expected, abs=0.02 * scale)


@given(faulty())
def test_more_speed_more_current(case: tuple[Layout, Array, State, float]) -> None:
    """With the battery's voltage held and no regulation, the output rises with the speed.

    Up to 1 % or 0.05 A of the steps' own error; the causes' bypasses (leaks, shorts) load the
    reactance, so that only machines without them are asked.
    """
    layout, params, state, rpm = case
    for name in ("stator_leak_s", "stator_leak_hot_s", "phase_short_s", "harness_leak_s"):
        if params[0, INDEX[name]] != half_wave.TIED_S:
            params[:, INDEX[name]] = 0.0
    for side in ("up", "dn"):
        for leg in "abc":
            params[:, INDEX[f"{side}_leak_s_{leg}"]] = 0.0
    speeds = rpm * np.array([1.0, 1.2, 1.5])
    op = running.operating_points(layout, np.repeat(params, 3, axis=0), state, speeds)
    hold_battery(op)
    answers, results = solve_columns(layout, op, steps=241)
    output = answers[:, 0, 0]
    assert results[:, CONVERGED].all()
    assert (np.diff(output) > -0.01 * np.abs(output[1:]) - 0.05).all()


def hold_battery(op: Array) -> None:
    """Take over-voltage and regulation away."""
    op[:, [nw.CHARGE_V, nw.DRAW_V, nw.EMPTY_V]] = 1e-9
    op[:, [nw.CHARGE_A, nw.DRAW_A, nw.EMPTY_A]] = 1.0
    op[:, [nw.GAS_A, nw.CUT_MIN, nw.CUT_MAX]] = 0.0


def open_all(op: Array) -> None:
    """Open the plug's three contacts."""
    op[nw.PLUG_A : nw.PLUG_A + 3] = 1e9


@pytest.mark.parametrize("rpm", [900, 3000, 8000])
def test_open_circuit_limit(rpm: float) -> None:
    """No current; each winding stands at its EMF: 15 V rms lead to lead per 1000 rpm."""
    amps, _ = solve([machine_m(rpm, open_all)], [(OUTPUT, 1), (LEADS, 1)], current=True)
    volts, _ = solve([machine_m(rpm, open_all)], [(Point.ALT_A, Point.ALT_B)])
    assert amps[0, :, :2] == pytest.approx(0.0, abs=1e-5)
    assert volts[0, 0, 1] == pytest.approx(15.0 * rpm / 1000.0, rel=0.002)


def lead_broken(op: Array) -> None:
    """Break the charge lead: only the regulator is left to hold the output down."""
    op[nw.CHARGE_OHM] = 1e8
    op[nw.SETPOINT_V] = 14.4
    op[nw.CUT_MAX] = 1.0
    op[nw.BATTERY_OHM], op[nw.LOAD_S] = 0.02, 0.8
    op[nw.CHARGE_V], op[nw.CHARGE_A] = 0.05, 0.5
    op[nw.DRAW_V], op[nw.DRAW_A] = 0.03, 0.3
    op[nw.EMPTY_V], op[nw.EMPTY_A] = 0.2, 30.0


def test_regulator_holds_its_output_where_the_charge_lead_is_broken() -> None:
    """Over all speeds at which the EMF would pass the set point, slow ones not left out."""
    machines = [machine_m(rpm, lead_broken, battery_v=12.7) for rpm in range(720, 1400, 10)]
    volts, results = solve(machines, [(Point.REG_OUT, Point.REG_BODY)])
    assert (results[:, CONVERGED] > 0.5).all()
    assert volts[:, 0, 0].max() <= 14.4 + 0.02


def dead_short(op: Array) -> None:
    """Lay all three leads to the body behind the plug."""
    op[nw.DN_LEAK_A : nw.DN_LEAK_A + 3] = 1e6


@pytest.mark.parametrize("rpm", [900, 3000, 8000])
def test_dead_short_limit(rpm: float) -> None:
    """Short-circuit current: E / sqrt(R^2 + (omega L)^2) per phase (phasor)."""
    amps, _ = solve([machine_m(rpm, dead_short)], [(LEADS, 1)], current=True)
    x_ohm = 2 * np.pi * 6 * rpm / 60 * 0.65e-3
    expected = 15.0 / np.sqrt(3) * rpm / 1000 / np.hypot(0.15, x_ohm)
    assert amps[0, 0, 1] == pytest.approx(expected, rel=0.002)


def test_limit_without_inductance() -> None:
    """L to 0: at each angle a static bridge behind 2 ohm per phase, by bisection, averaged."""

    def small(op: Array) -> None:
        op[nw.L_A : nw.L_A + 3] = 1e-6
        op[nw.R_A : nw.R_A + 3] = 2.0

    amps, _ = solve([machine_m(1500, small)], [(OUTPUT, 1)], current=True, steps=961)
    angle = np.linspace(0.0, 2.0 * np.pi, 5000, endpoint=False)[:, None]
    emf_v = np.sqrt(2) * 15.0 / np.sqrt(3) * 1.5 * np.cos(angle - 2 * np.pi / 3 * np.arange(3))
    low, high = np.full((5000, 1), -50.0), np.full((5000, 1), 50.0)
    for _ in range(60):
        neutral = 0.5 * (low + high)
        up = np.maximum(emf_v + neutral - 15.3, 0.0)
        down = np.maximum(-0.9 - emf_v - neutral, 0.0)
        too_high = (up - down).sum(axis=1, keepdims=True) > 0.0
        low, high = np.where(too_high, low, neutral), np.where(too_high, neutral, high)
    assert amps[0, 0, 0] == pytest.approx(up.sum(axis=1).mean() / 2.0, rel=0.005)


@pytest.mark.parametrize("change", [None, set_column(nw.PLUG_A, 0.5), set_column(nw.UP_S_A, 0.0)])
def test_limit_without_resistance(change: Change | None) -> None:
    """R to 0 changes nothing suddenly: 1 milliohm and 0.1 milliohm agree within 1 %."""

    def with_ohm(ohm: float) -> Array:
        op = machine_m(3000, change)
        op[nw.R_A : nw.R_A + 3] = ohm
        return op

    amps, results = solve([with_ohm(1e-3), with_ohm(1e-4)], [(OUTPUT, 1)], current=True)
    assert amps[1, 0, 0] == pytest.approx(amps[0, 0, 0], rel=0.01)
    assert results[:, CONVERGED].all()


@given(faulty())
def test_plain_path_is_the_same(case: tuple[Layout, Array, State, float]) -> None:
    """The path without a compiler answers the same within a millionth, and says so alike."""
    layout, params, state, rpm = case
    op = running.operating_points(layout, params, state, np.array([rpm]))
    compiled, results = solve_columns(layout, op, steps=49)
    plain, plain_results = solve_columns(layout, op, steps=49, plain=True)
    assert plain_results[0, CONVERGED] == results[0, CONVERGED]
    if results[0, CONVERGED]:
        # an open charge lead leaves nanoamperes of difference to decide between
        loose = 1e-5 if op[0, nw.CHARGE_OHM] > 1e5 else 1e-6
        assert plain[..., :3] == pytest.approx(compiled[..., :3], rel=loose, abs=loose)


@pytest.mark.parametrize("index", [nw.LOAD_S, nw.L_A, nw.EMF_B, nw.BATTERY_E_V])
def test_nothing_left_behind(index: int) -> None:
    """A machine without sensible numbers says it has not settled, and leaves the next one alone."""
    rows = [(OUTPUT, 1), (LEADS, 1), (LOADS, 1)]
    columns = [machine_m(3000, set_column(index, np.nan)), machine_m(3000)]
    answers, results = solve(columns, rows, current=True)
    alone, _ = solve(columns[1:], rows, current=True)
    assert list(results[:, CONVERGED]) == [0.0, 1.0]
    assert (answers[1] == alone[0]).all()
