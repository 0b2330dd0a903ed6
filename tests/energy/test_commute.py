"""Riding and standing: the table against the full circuit, charge kept, and what must follow."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargewright.circuit import running
from chargewright.circuit.signals import Probe
from chargewright.energy.commute import Commute, Habit, can_start, go, simulate, stand
from chargewright.energy.output import drawn_machines, table_speeds
from chargewright.energy.plot import commute_svg
from chargewright.energy.riding import Riding, ride_current, rider
from chargewright.energy.storage import days_to_lose
from chargewright.energy.trace import Gearing, RpmShares, read_trace, rpm_shares
from chargewright.errors import InputError
from chargewright.machine.conditioning import load_class
from chargewright.machine.parameters import INDEX, Array, column
from chargewright.machine.points import Engine, Point, State, Warmth

WMTC = Path(__file__).resolve().parents[1] / "data" / "wmtc-two-wheeler.csv"
BATTERY = Probe(Point.BATTERY_NEG, Point.FRAME)  # positive while charging


@pytest.fixture(scope="module")
def town() -> RpmShares:
    time_s, speed, _ = read_trace(WMTC, column="Motorcycle >35kW")
    return rpm_shares(time_s[:600], Gearing().rpm(speed[:600]))


def both_ways(class_id: str, soc: float, rpm: Array) -> tuple[Riding, Array, Array]:
    """Return the table's answer and the circuit's battery current and joint volts, (n, b)."""
    machine = load_class(class_id)
    params = drawn_machines(machine, 25, 5)
    params[:, INDEX["soc"]] = soc
    fixed = rider(machine.layout, params, RpmShares(rpm, np.ones(rpm.size)), table_speeds(machine))
    riding = ride_current(fixed, params)
    amps, volts = np.empty_like(riding.battery_a), np.empty_like(riding.joint_v)
    for i, speed in enumerate(rpm):
        state = State(engine=Engine.RUNNING, rpm=speed, lights_on=True, warmth=Warmth.HOT)
        probes = [Probe(Point.BATTERY_POS, Point.BATTERY_NEG)]
        found_v, found_a = running.signals(
            machine.layout, params, state, np.full(25, speed), probes, [BATTERY]
        )
        amps[:, i], volts[:, i] = found_a.dc[:, 0], found_v.dc[:, 0]
    return riding, amps, volts


@pytest.mark.parametrize(
    ("class_id", "soc"),
    [
        ("sport-600-1000", 0.5),
        ("sport-600-1000", 0.9),
        ("scooter-50-125", 0.6),
        ("tourer-1000-sense", 0.7),
        ("adventure-twin-series", 0.5),
    ],
)
def test_the_table_agrees_with_the_circuit(class_id: str, soc: float) -> None:
    """Battery current and volts at four speeds, against the circuit solved whole.

    Within 2 % of the machine's output, which is what the circuit's time steps are worth.
    """
    idle = load_class(class_id).speeds.idle_rpm
    rpm = idle * np.array([1.0, 1.3, 2.0, 3.5])
    riding, amps, _ = both_ways(class_id, soc, rpm)
    output = load_class(class_id).output_a
    error = riding.battery_a - amps
    assert np.abs(error).max() < 0.02 * output
    assert np.sqrt((error**2).mean()) < 0.006 * output


def test_standing_is_plain_division() -> None:
    """The same days as the storage formula: 10 Ah, 1.5 mA, calcium, 25 C: half in 94.9 days."""
    params = drawn_machines(load_class("sport-600-1000"), 4, 1)
    for name, value in (
        ("chemistry", 1.0),
        ("capacity_ah", 10.0),
        ("drain_a", 0.0015),
        ("soc", 1.0),
        ("ambient_c", 25.0),
    ):
        params[:, INDEX[name]] = value
    days = days_to_lose(0.5, 10.0, drain_ma=1.5, lost_per_day_share=1.0 / 600.0)
    stand(params, 24.0 * days)
    assert days == pytest.approx(94.9, abs=0.05)
    assert column(params, "soc") == pytest.approx(np.full(4, 0.5))


def test_a_start_takes_its_charge() -> None:
    """130 A for 4 s is 520 As, 0.144 Ah: what is gone after a ride of no length."""
    params = drawn_machines(load_class("sport-600-1000"), 1, 1)
    for name, value in (
        ("crank_a", 130.0),
        ("ambient_c", 25.0),
        ("soc", 0.6),
        ("capacity_ah", 10.0),
    ):
        params[:, INDEX[name]] = value
    still = params.copy()
    fixed = rider(
        load_class("sport-600-1000").layout,
        still,
        RpmShares(np.array([5000.0]), np.array([1e-6])),
        table_speeds(load_class("sport-600-1000")),
    )
    gained = go(still, fixed, np.array([True]))
    assert gained[0] == pytest.approx(-520.0 / 3600.0, abs=1e-5)


def test_order_within_a_ride_hardly_matters(town: RpmShares) -> None:
    """Slow half first or fast half first: the day's charge differs by less than a point."""
    machine = load_class("sport-600-1000")
    params = drawn_machines(machine, 30, 2)
    params[:, INDEX["soc"]] = 0.6
    whole = rider(machine.layout, params, town, table_speeds(machine))
    half = town.rpm.size // 2
    ends = []
    for order in ((slice(0, half), slice(half, None)), (slice(half, None), slice(0, half))):
        now = params.copy()
        for part in order:
            piece = replace(
                whole,
                available_a=whole.available_a[:, part, :],
                seconds=np.repeat(whole.seconds[part], 1),
            )
            riding = ride_current(piece, now)
            ah = riding.stored_a @ piece.seconds / 3600.0
            now[:, INDEX["soc"]] += ah / column(now, "capacity_ah")
        ends.append(column(now, "soc").copy())
    assert np.abs(ends[0] - ends[1]).max() < 0.01


def outcome(town: RpmShares, **habit: float) -> Commute:
    return simulate(
        load_class("sport-600-1000"),
        town,
        Habit(days=12, **habit),  # type: ignore[arg-type]
        units=60,
        seed=4,
    )


def test_drain_load_and_cold_each_make_it_worse(town: RpmShares) -> None:
    base = outcome(town)
    drained = outcome(town, drain_ma=40.0)
    loaded = outcome(town, extra_a=8.0)
    cold = outcome(town, mean_c=-6.0)
    assert np.median(drained.soc[-1]) < np.median(base.soc[-1]) - 0.05
    assert np.median(loaded.soc[-1]) < np.median(base.soc[-1])
    assert np.median(loaded.ride_ah) < np.median(base.ride_ah)
    assert cold.chance_of_start(11) < base.chance_of_start(11)
    assert cold.unfit >= base.unfit
    assert base.chance_of_start(4) > 0.95


def test_charge_stays_within_its_bounds(town: RpmShares) -> None:
    done = outcome(town, extra_a=4.0, drain_ma=10.0)
    assert ((done.soc >= 0.0) & (done.soc <= 1.0)).all()
    assert done.soc.shape == (13, done.started.shape[1])
    assert 0.0 <= done.chance_of_start(11) <= 1.0
    interval = done.soc_on(11)
    assert interval.low <= interval.best <= interval.high


def test_a_machine_that_did_not_start_stays_where_it_is(town: RpmShares) -> None:
    done = outcome(town, mean_c=-8.0, drain_ma=30.0)
    lost = ~done.started[4]
    assert lost.any()
    # Once it has failed on a riding day it neither rides nor gains charge.
    assert (np.diff(done.soc[5:, lost], axis=0) <= 1e-12).all()


@settings(max_examples=15)
@given(st.floats(0.05, 0.95), st.floats(-15.0, 30.0))
def test_fuller_and_warmer_starts_better(soc: float, temp_c: float) -> None:
    params = drawn_machines(load_class("twin-250-400"), 80, 6)
    line = np.full(80, 7.2)

    def share(charge: float, temp: float) -> float:
        params[:, INDEX["soc"]] = charge
        params[:, INDEX["ambient_c"]] = temp
        return float(can_start(params, line).mean())

    assert share(soc + 0.05, temp_c) >= share(soc, temp_c)
    assert share(soc, temp_c + 5.0) >= share(soc, temp_c)


def test_the_same_seed_gives_the_same_days(town: RpmShares) -> None:
    assert (outcome(town).soc == outcome(town).soc).all()


def test_plot_is_well_formed(town: RpmShares) -> None:
    text = commute_svg(outcome(town), title="Town & <winter>")
    root = ElementTree.fromstring(text)
    kinds = [child.tag.split("}")[1] for child in root]
    assert kinds.count("polygon") == 2
    assert kinds.count("polyline") == 2
    points = root.findall(".//{*}polyline")[0].get("points")
    assert points is not None
    assert len(points.split()) == 13


def test_impossible_habits_are_named(town: RpmShares) -> None:
    with pytest.raises(InputError, match="0 days"):
        Habit(days=0)
    with pytest.raises(InputError, match="-60 C"):
        outcome(town, mean_c=-60.0)
    with pytest.raises(InputError, match="day 99"):
        outcome(town).chance_of_start(99)
    long = RpmShares(town.rpm, town.seconds * 100.0)
    with pytest.raises(InputError, match="do not fit in a day"):
        simulate(load_class("sport-600-1000"), long, Habit(), units=10)
