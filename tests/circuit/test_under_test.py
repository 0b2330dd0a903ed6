"""Ohms and diode checks against closed forms, published readings and Kirchhoff's laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargewright.circuit.nodal import probe, solve
from chargewright.circuit.signals import Probe, TestSource
from chargewright.circuit.still_network import node
from chargewright.circuit.under_test import meter_network, respond
from chargewright.errors import InputError
from chargewright.machine.layout import Layout, Regulator, Winding
from chargewright.machine.parameters import OPEN_OHM, Array
from chargewright.machine.points import Engine, Point, State, Warmth
from tests.circuit.stands import (
    DIODE,
    LAYOUTS,
    OHMS,
    ON_BENCH,
    all_probes,
    junction_a,
    machine,
    machines,
    surplus_a,
)

P = Point
AB, BC, CA = Probe(P.ALT_A, P.ALT_B), Probe(P.ALT_B, P.ALT_C), Probe(P.ALT_C, P.ALT_A)
LEADS = (P.REG_A, P.REG_B, P.REG_C)


def ohms(
    params: Array, *probes: Probe, layout: Layout | None = None, state: State = ON_BENCH
) -> Array:
    """Return volts over amps of a meter's ohms range, shape (probes,)."""
    result = respond(layout or Layout(), params, state, probes, OHMS)
    return np.asarray((result.volts / result.amps)[0])


def diode_v(
    params: Array, *probes: Probe, layout: Layout | None = None, state: State = ON_BENCH
) -> Array:
    """Return what stands across the tips on the diode range, shape (probes,)."""
    result = respond(layout or Layout(), params, state, probes, DIODE)
    return np.asarray(result.volts[0])


def test_star_reads_twice_the_phase() -> None:
    """Star: lead to lead is 2 R of a phase."""
    assert ohms(machine(), AB, BC, CA) == pytest.approx([0.30, 0.30, 0.30], abs=1e-5)


def test_delta_reads_two_thirds_of_a_winding() -> None:
    """Delta: lead to lead is 2/3 R of a winding."""
    delta = Layout(winding=Winding.DELTA)
    assert ohms(machine(), AB, BC, CA, layout=delta) == pytest.approx([0.1] * 3, abs=1e-5)


def test_single_coil_reads_itself() -> None:
    single = Layout(winding=Winding.SINGLE)
    assert ohms(machine(), AB, layout=single)[0] == pytest.approx(0.15, abs=1e-5)


def test_shorted_turns_lower_two_pairs_by_half() -> None:
    """One sixth of phase A's turns gone: 0.30 ohm becomes 0.275, 0.30, 0.275."""
    params = machine(winding_ohm_a=0.15 * 5 / 6)
    assert ohms(params, AB, BC, CA) == pytest.approx([0.275, 0.30, 0.275], abs=1e-5)


def test_open_phase_leaves_one_pair() -> None:
    """Open phase: two pairs read OL (here, over a megohm), the third is whole."""
    ab, bc, ca = ohms(machine(winding_ohm_a=OPEN_OHM), AB, BC, CA)
    assert min(ab, ca) > 1e6
    assert bc == pytest.approx(0.30, abs=1e-5)


@pytest.mark.parametrize("at", [0.0, 0.4, 1.0])
def test_ground_fault_reads_its_resistance(at: float) -> None:
    """Lead A to frame: the fault plus the winding up to it; B adds its own and A's rest."""
    params = machine(stator_leak_s=1 / 20.0, stator_leak_at=at)
    read = ohms(params, Probe(P.ALT_A, P.FRAME), Probe(P.ALT_B, P.FRAME))
    assert read == pytest.approx([20 + 0.15 * (1 - at), 20 + 0.15 * (1 + at)], abs=1e-3)


def test_sound_winding_is_clear_of_frame() -> None:
    assert ohms(machine(), Probe(P.ALT_A, P.FRAME))[0] > 1e7


def test_phase_short_bridges_two_leads() -> None:
    """0.30 ohm with 0.1 ohm across it: 0.075."""
    assert ohms(machine(phase_short_s=10.0), AB)[0] == pytest.approx(0.075, abs=1e-5)


def test_hot_copper_follows_its_law() -> None:
    """0.300 ohm at 20 C is 0.4179 at 120 C and 0.4532 at 150 C (234.5 K, annealed copper)."""
    for temp_c, expected in ((120.0, 0.4179), (150.0, 0.4532)):
        hot = State(plug_in=False, battery_in=False, warmth=Warmth.HOT)
        read = ohms(machine(stator_hot_c=temp_c), AB, state=hot)[0]
        assert read == pytest.approx(expected, abs=1e-4)


def test_plug_contact_adds_to_a_lead() -> None:
    """Across the closed plug one reads its contact, here 0.8 ohm."""
    state = State(battery_in=False)
    read = ohms(machine(plug_ohm_a=0.8), Probe(P.ALT_A, P.REG_A), state=state)[0]
    assert read == pytest.approx(0.8, rel=1e-3)


def test_six_junctions_one_way() -> None:
    """AC to plus and minus to AC read a diode near 0.46 V at the meter's own current."""
    up = [Probe(lead, P.REG_OUT) for lead in LEADS]
    dn = [Probe(P.REG_BODY, lead) for lead in LEADS]
    read = diode_v(machine(ambient_c=25.0, charge_lead_ohm=OPEN_OHM), *up, *dn)
    at_meter_a = (3.0 - 0.466) / 2000.0
    expected = 0.46 + 0.025693 * np.log(at_meter_a / 1e-3) + 0.006 * at_meter_a
    assert read == pytest.approx([expected] * 6, abs=2e-4)


def test_junctions_block_the_other_way() -> None:
    """Swapped leads read open: within 2 % of the meter's open-circuit volts."""
    up = [Probe(P.REG_OUT, lead) for lead in LEADS]
    dn = [Probe(lead, P.REG_BODY) for lead in LEADS]
    read = diode_v(machine(charge_lead_ohm=OPEN_OHM), *up, *dn)
    assert (read > 0.98 * DIODE.open_v).all()


def test_forward_law_from_meter_to_full_current() -> None:
    """0.528 V at 1 mA, n 1, 5 mohm, 300 K: 0.884 V at 20 A (0.528 + 0.256 + 0.100)."""
    at_300_k = 300.0 - 273.15
    v_25 = 0.528 + 0.0024 * (at_300_k - 25.0)
    params = machine(up_v_a=v_25, junction_ohm=0.005, ambient_c=at_300_k)
    heavy = TestSource(open_v=2000.0, short_a=20.0)
    result = respond(Layout(), params, ON_BENCH, [Probe(P.REG_A, P.REG_OUT)], heavy)
    assert result.amps[0, 0] == pytest.approx(20.0, rel=1e-3)
    assert result.volts[0, 0] == pytest.approx(0.884, abs=0.002)


def test_junction_falls_with_heat() -> None:
    """About -2.4 mV/K at fixed current (0.528 V at 300 K)."""
    pair = Probe(P.REG_A, P.REG_OUT)
    cold, hot = (diode_v(machine(up_v_a=0.528, ambient_c=t), pair)[0] for t in (25.0, 45.0))
    assert (hot - cold) / 20.0 == pytest.approx(-2.4e-3, abs=0.1e-3)


def test_two_junctions_in_series() -> None:
    """Minus to plus: two junctions, 0.5-1.2 V in a published regulator table."""
    read = diode_v(machine(), Probe(P.REG_BODY, P.REG_OUT))[0]
    assert 0.5 <= read <= 1.2
    assert read == pytest.approx(2 * 0.45, abs=0.05)


def test_shorted_and_open_junctions() -> None:
    """Shorted reads about 0 both ways; open reads open both ways."""
    there, back = Probe(P.REG_A, P.REG_OUT), Probe(P.REG_OUT, P.REG_A)
    shorted = diode_v(machine(up_leak_s_a=100.0), there, back)
    assert np.abs(shorted).max() < 1e-3
    opened = diode_v(machine(up_open_a=1.0, charge_lead_ohm=OPEN_OHM), there, back)
    assert opened.min() > 0.98 * DIODE.open_v


def test_leaky_junction_reads_both_ways() -> None:
    """1 kohm across the junction: reverse is the divider 3 V * 1/(1 + 2)."""
    params = machine(up_leak_s_a=1e-3, charge_lead_ohm=OPEN_OHM)
    assert diode_v(params, Probe(P.REG_OUT, P.REG_A))[0] == pytest.approx(1.0, abs=0.02)


def test_ungated_series_thyristors_block_both_ways() -> None:
    """A thyristor without gate current is open on a diode range in both directions."""
    series = Layout(regulator=Regulator.SERIES)
    probes = Probe(P.REG_A, P.REG_OUT), Probe(P.REG_OUT, P.REG_A)
    read = diode_v(machine(charge_lead_ohm=OPEN_OHM), *probes, layout=series)
    assert read.min() > 0.98 * DIODE.open_v


def test_battery_left_in_shows_on_the_ohms_range() -> None:
    """With its battery on, regulator output to frame carries the battery's volts, not ohms."""
    result = respond(Layout(), machine(), State(), [Probe(P.REG_OUT, P.FRAME)], OHMS)
    assert result.volts[0, 0] == pytest.approx(12.8, abs=0.1)
    assert result.amps[0, 0] < 0.0


def test_refusals_name_what_was_wrong() -> None:
    with pytest.raises(InputError, match="expected engine off"):
        respond(Layout(), machine(), State(engine=Engine.CRANKING), [AB], OHMS)
    single = Layout(winding=Winding.SINGLE)
    with pytest.raises(InputError, match=r"alt_c.*two leads"):
        respond(single, machine(), ON_BENCH, [BC], OHMS)
    with pytest.raises(InputError, match="no sense lead"):
        respond(Layout(), machine(), ON_BENCH, [Probe(P.REG_SENSE, P.FRAME)], OHMS)


# A part that floats on 1e-8 S lies some 1e4 V off per meter current before its two tips cancel;
# double precision leaves this much of it at a node.
NODE_ERROR_V = 1e-10

STATES = st.sampled_from(
    [ON_BENCH, State(), State(battery_in=False), State(warmth=Warmth.HOT), State(key_on=True)]
)


@settings(max_examples=60, deadline=None)
@given(machines(), st.sampled_from(LAYOUTS), STATES, st.data())
def test_both_solvers_agree(
    params: Array, layout: Layout, state: State, data: st.DataObject
) -> None:
    pairs = st.sampled_from(all_probes(layout))
    probes = data.draw(st.lists(pairs, min_size=1, max_size=12))
    fast = respond(layout, params, state, probes, DIODE, plain=False)
    plain = respond(layout, params, state, probes, DIODE, plain=True)
    tips = np.array([[node(p.plus), node(p.minus)] for p in probes], dtype=np.int64)
    _, good = probe(meter_network(layout, params, state).net, tips[:, 0], tips[:, 1], DIODE)
    assert good.all()
    assert np.isfinite(fast.volts).all()
    assert fast.volts == pytest.approx(plain.volts, abs=1e-8)
    assert fast.amps == pytest.approx(plain.amps, abs=1e-11)


@settings(max_examples=100, deadline=None)
@given(machines(), st.sampled_from(LAYOUTS), STATES, st.data())
def test_kirchhoff_and_energy(
    params: Array, layout: Layout, state: State, data: st.DataObject
) -> None:
    """Currents sum to zero at every node, and all that sources give is turned to heat."""
    pair = data.draw(st.sampled_from(all_probes(layout)))
    ends = (node(pair.plus), node(pair.minus))
    meter = (np.array([DIODE.open_v]), np.array([DIODE.series_ohm]))
    net = meter_network(layout, params, state).with_source(ends, *meter).net
    nodes, _, good = solve(net)
    assert good.all()
    left, siemens = surplus_a(net, nodes[0])
    assert (np.abs(left) <= 1e-9 + NODE_ERROR_V * siemens).all()
    drops = nodes[0][net.ends[:, 0]] - nodes[0][net.ends[:, 1]]
    across = nodes[0][net.anode] - nodes[0][net.cathode]
    heat = (net.siemens[0] * drops**2).sum() + (across * junction_a(net, nodes[0])).sum()
    given_w = (net.inject_a[0] * nodes[0]).sum()
    assert heat == pytest.approx(given_w, rel=1e-6, abs=1e-9)
    answer = respond(layout, params, state, [pair], DIODE)
    assert answer.volts[0, 0] == pytest.approx(nodes[0][ends[0]] - nodes[0][ends[1]], abs=1e-6)
