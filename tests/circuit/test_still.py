"""Volts and currents with the engine off or cranking."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargewright.circuit import still
from chargewright.circuit.battery import battery_of, open_circuit_v
from chargewright.circuit.signals import Probe
from chargewright.errors import InputError, UnsafeCheckError
from chargewright.machine.layout import ChargeTo, Layout, Sense, Winding
from chargewright.machine.parameters import OPEN_OHM, Array
from chargewright.machine.points import Engine, Load, Point, State
from tests.circuit.stands import LAYOUTS, machine, machines, points_of

P = Point
POSTS = Probe(P.BATTERY_POS, P.BATTERY_NEG)
KEY_OFF = Probe(P.FRAME, P.BATTERY_NEG)
CRANK = State(engine=Engine.CRANKING)
LIGHTS = State(key_on=True, lights_on=True)
TESTER = State(load=Load.LOAD_TESTER)
SENSING = Layout(sense=Sense.LEAD)


def volts(params: Array, state: State, *probes: Probe, layout: Layout | None = None) -> Array:
    """Return DC volts of one machine, shape (probes,)."""
    return np.asarray(still.volts(layout or Layout(), params, state, probes).dc[0])


def amps(params: Array, state: State, *probes: Probe, layout: Layout | None = None) -> Array:
    """Return currents of one machine, shape (probes,)."""
    return np.asarray(still.amps(layout or Layout(), params, state, probes).dc[0])


def test_rest_reads_the_rest_curve() -> None:
    """A full flooded battery at 26.7 C, nothing drawn: 12.65 V (published table)."""
    params = machine(chemistry=0.0, soc=1.0, drain_a=0.0, ambient_c=26.7)
    assert volts(params, State(), POSTS)[0] == pytest.approx(12.65, abs=0.017)


def test_key_off_current_is_the_drain() -> None:
    """1.5 mA at 12.6 V, a service manual's limit, scales with the volts there."""
    params = machine(drain_a=0.0015)
    rest = volts(params, State(), POSTS)[0]
    drawn = amps(params, State(), KEY_OFF)[0]
    assert drawn == pytest.approx(0.0015 * rest / 12.6, abs=1e-6)


def test_a_leaky_rectifier_drains_through_its_leg() -> None:
    """Two leaks of 1 kohm in one leg add rest volts over 2 kohm to the key-off current."""
    params = machine(drain_a=0.0, up_leak_s_a=1e-3, dn_leak_s_a=1e-3)
    rest = volts(params, State(plug_in=False), POSTS)[0]
    drawn = amps(params, State(plug_in=False), KEY_OFF)[0]
    assert drawn == pytest.approx(rest / 2000.0, rel=1e-3)


def test_a_leak_finds_its_way_through_the_windings() -> None:
    """Upper leak in A, lower leak in B: a path only while the plug joins them in the stator."""
    params = machine(drain_a=0.0, up_leak_s_a=1e-3, dn_leak_s_b=1e-3)
    joined, apart = (amps(params, State(plug_in=plug), KEY_OFF)[0] for plug in (True, False))
    assert joined == pytest.approx(volts(params, State(), POSTS)[0] / 2000.3, rel=1e-3)
    assert apart < 1e-6


def test_shorted_upper_diode_puts_battery_volts_on_its_lead() -> None:
    """Engine off, plug open: that lead reads the battery, its neighbours nothing."""
    params = machine(up_leak_s_a=100.0)
    state = State(plug_in=False)
    a, b = volts(params, state, Probe(P.REG_A, P.FRAME), Probe(P.REG_B, P.FRAME))
    assert a == pytest.approx(volts(params, state, POSTS)[0], abs=0.01)
    assert abs(b) < 0.01


def test_alternator_leads_of_a_sound_machine_read_nothing() -> None:
    probes = [Probe(p, P.BATTERY_NEG) for p in (P.ALT_A, P.ALT_B, P.REG_C)]
    for plug_in in (True, False):
        assert np.abs(volts(machine(), State(plug_in=plug_in), *probes)).max() < 0.01


def test_loads_draw_by_ohms_law() -> None:
    """5 A and 6 A at 13.5 V: the harness is a resistance, so current follows its volts."""
    across = volts(machine(), LIGHTS, Probe(P.FUSE_OUT, P.FRAME))[0]
    drawn = amps(machine(), LIGHTS, KEY_OFF)[0]
    assert drawn == pytest.approx(11.0 * across / 13.5 + 0.001 * across / 12.6, rel=1e-4)


def test_drops_lie_where_the_resistance_is() -> None:
    """0.2 V at 20 A is 10 mohm (voltage-drop rule): here 100 mohm in the fuse."""
    params = machine(fuse_ohm=0.1)
    drop = volts(params, LIGHTS, Probe(P.BATTERY_POS, P.FUSE_OUT))[0]
    drawn = amps(params, LIGHTS, Probe(P.BATTERY_POS, P.FUSE_OUT))[0]
    assert drop == pytest.approx(drawn * 0.101, rel=1e-6)
    assert drop > 0.8


def test_headlamp_load_settles_on_the_batterys_own_law() -> None:
    """What the network finds satisfies the battery's settled curve."""
    params = machine(soc=0.4)
    state = State(load=Load.HEADLAMP)
    drawn = amps(params, state, KEY_OFF)[0]
    expected = battery_of(params, state).settled_v(-drawn)[0]
    assert volts(params, state, POSTS)[0] == pytest.approx(expected, abs=1e-5)


def test_load_tester_takes_half_the_rating() -> None:
    """170 CCA: 85 A; the drop over the short-time resistance, and 9.6 V passed at 21 C."""
    params = machine(ambient_c=21.0, drain_a=0.0)
    battery = battery_of(params, TESTER)
    read = volts(params, TESTER, POSTS)[0]
    taken = (battery.short_emf_v[0] - read) / battery.short_ohm[0]
    assert taken == pytest.approx(85.0, rel=1e-3)
    assert read > 9.6


def test_load_tester_fails_a_battery_past_the_pass_line() -> None:
    """Half of 200 CCA from 12.65 V: 30.5 mohm in all is 9.6 V, more is a fail."""
    short = 1.4  # warm ohmic and fast part over the ohmic part
    for total, passes in ((0.030, True), (0.0315, False)):
        params = machine(
            chemistry=0.0, soc=1.0, ambient_c=25.0, rated_cca_a=200.0, battery_ohm=total / short
        )
        assert bool(volts(params, TESTER, POSTS)[0] >= 9.6) is passes


def test_cranking_takes_what_the_engine_asks() -> None:
    """A strong battery at 25 C gives nearly ``crank_a``; practice wants 9.6-10 V or more."""
    params = machine(ambient_c=25.0)
    taken = amps(params, CRANK, Probe(P.BATTERY_POS, P.STARTER_POS))[0]
    assert taken == pytest.approx(120.0, rel=0.02)
    assert volts(params, CRANK, POSTS)[0] > 9.6


def test_cold_doubles_the_demand_and_sags_more() -> None:
    """Engine demand about doubles from 25 to -18 C; hot it is about half (workshop figures)."""
    demand = [still.crank_demand_a(machine(ambient_c=t), CRANK)[0] / 120.0 for t in (25.0, -18.0)]
    assert demand == pytest.approx([1.0, 2.0], rel=1e-9)
    warm, cold = (volts(machine(ambient_c=t), CRANK, POSTS)[0] for t in (25.0, -18.0))
    assert cold < warm - 1.0


def test_cranking_discriminator() -> None:
    """Low volts with low current: battery. High volts with low current: starter circuit."""
    pair = Probe(P.BATTERY_POS, P.STARTER_POS)
    good_v, good_a = volts(machine(), CRANK, POSTS)[0], amps(machine(), CRANK, pair)[0]
    weak, cable = machine(battery_ohm=0.08), machine(starter_cable_ohm=0.1)
    assert volts(weak, CRANK, POSTS)[0] < good_v - 1.5
    assert amps(weak, CRANK, pair)[0] < 0.9 * good_a
    assert volts(cable, CRANK, POSTS)[0] > good_v
    assert amps(cable, CRANK, pair)[0] < 0.9 * good_a


def test_battery_off_leaves_the_machine_dead() -> None:
    state = State(battery_in=False)
    read = volts(machine(), state, POSTS, Probe(P.FUSE_OUT, P.FRAME))
    assert read == pytest.approx([float(open_circuit_v(1.0, 0.9, 20.0)), 0.0], abs=1e-3)
    assert amps(machine(), state, KEY_OFF)[0] == 0.0


def test_open_fuse_and_sense_lead() -> None:
    """Key on with an open fuse: nothing behind it. A bad sense lead reads low by I*R."""
    assert abs(volts(machine(fuse_ohm=OPEN_OHM), LIGHTS, Probe(P.FUSE_OUT, P.FRAME))[0]) < 0.01
    params = machine(sense_ohm=50.0, sense_a=0.01)
    state = State(key_on=True)
    drop = volts(params, state, Probe(P.FUSE_OUT, P.REG_SENSE), layout=SENSING)[0]
    drawn = amps(params, state, Probe(P.FUSE_OUT, P.REG_SENSE), layout=SENSING)[0]
    assert drop == pytest.approx(50.0 * drawn, rel=1e-6)
    assert drawn == pytest.approx(0.01 * 12.5 / 13.5, rel=0.05)


def test_meter_burden_lowers_what_it_measures() -> None:
    """1.8 ohm of a 400 mA range in the lead of a 1.2 ohm lamp circuit."""
    probes = [KEY_OFF]
    bare = still.amps(Layout(), machine(), LIGHTS, probes).dc[0, 0]
    burdened = still.amps(Layout(), machine(), LIGHTS, probes, burden_ohm=1.8).dc[0, 0]
    assert burdened == pytest.approx(bare * 1.25 / (1.25 + 1.8), rel=0.05)


def test_charge_lead_to_the_battery_bypasses_the_fuse() -> None:
    """With an open fuse the output still reads the battery when its lead ends there."""
    read = volts(
        machine(fuse_ohm=OPEN_OHM),
        State(),
        Probe(P.REG_OUT, P.BATTERY_NEG),
        layout=Layout(charge_to=ChargeTo.BATTERY),
    )[0]
    assert read == pytest.approx(12.8, abs=0.1)


def test_refusals_name_what_was_wrong() -> None:
    with pytest.raises(InputError, match="no single wire joins"):
        amps(machine(), State(), Probe(P.FUSE_OUT, P.FRAME))
    with pytest.raises(InputError, match="engine given is running"):
        volts(machine(), State(engine=Engine.RUNNING, rpm=3000.0), POSTS)
    with pytest.raises(UnsafeCheckError, match="battery off"):
        volts(machine(), State(engine=Engine.CRANKING, battery_in=False), POSTS)
    with pytest.raises(InputError, match="reg_c"):
        volts(machine(), State(), Probe(P.REG_C, P.FRAME), layout=Layout(winding=Winding.SINGLE))


STATES = st.sampled_from(
    [
        State(),
        State(plug_in=False, battery_charged=True),
        State(key_on=True),
        LIGHTS,
        State(load=Load.HEADLAMP),
        TESTER,
        CRANK,
        State(battery_in=False),
    ]
)


@settings(max_examples=150, deadline=None)
@given(machines(), st.sampled_from(LAYOUTS), STATES)
def test_any_machine_has_sane_volts(params: Array, layout: Layout, state: State) -> None:
    """Finite, converged, inside the battery's own EMF, and the same by both solvers."""
    probes = [Probe(p, P.BATTERY_NEG) for p in points_of(layout)]
    answer = still.volts(layout, params, state, probes, plain=False)
    plain = still.volts(layout, params, state, probes, plain=True)
    emf = battery_of(params, state).emf_v[0]
    assert answer.converged.all()
    assert np.isfinite(answer.dc).all()
    assert (answer.dc >= -1e-6).all()
    assert (answer.dc <= emf + 1e-6).all()
    assert answer.dc == pytest.approx(plain.dc, abs=1e-7)
    assert not answer.ac_true_rms.any()


@settings(max_examples=100, deadline=None)
@given(machines(), st.sampled_from([State(key_on=True), LIGHTS, State()]))
def test_post_volts_obey_the_battery(params: Array, state: State) -> None:
    """Post volts and battery current lie on the settled curve, junctions or not."""
    read = still.volts(Layout(), params, state, [POSTS]).dc[0, 0]
    drawn = still.amps(Layout(), params, state, [KEY_OFF]).dc[0, 0]
    battery = battery_of(params, state)
    slope = battery.settled_slope_ohm(-drawn)[0]
    assert read == pytest.approx(battery.settled_v(-drawn)[0], abs=1e-5 + 1e-6 * slope)
