"""Drawing machines: pure, finite, within limits, symmetric in the phases."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from machine.helpers import latents

from chargewright.errors import InputError
from chargewright.machine.cause_file import catalogue
from chargewright.machine.classes import class_ids
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENT_NAMES, LATENTS, SLOTS, draw, placement, severity
from chargewright.machine.parameters import COUNT, INDEX, PARAMETERS, column
from chargewright.machine.prior import prior
from chargewright.machine.scatter import leg_families
from chargewright.machine.severity import severity_words

SPORT = load_class("sport-600-1000")
LOW = np.array([p.low for p in PARAMETERS])
HIGH = np.array([p.high for p in PARAMETERS])


@given(st.sampled_from(class_ids()), st.data(), st.integers(0, 2**32 - 1), st.floats(0.1, 6.0))
def test_draws_are_finite_and_within_limits(
    class_id: str, data: st.DataObject, seed: int, stretch: float
) -> None:
    machine = load_class(class_id)
    hypothesis = data.draw(st.sampled_from(prior(machine)))
    params = draw(machine, hypothesis.causes, stretch * latents(20, seed))
    assert params.shape == (20, COUNT)
    assert np.isfinite(params).all()
    assert (params >= LOW).all()
    assert (params <= HIGH).all()


@pytest.mark.parametrize("class_id", class_ids())
def test_healthy_draws_seldom_touch_a_limit(class_id: str) -> None:
    params = draw(load_class(class_id), (), latents(2000))
    moving = np.ptp(params, axis=0) > 0.0
    moving[INDEX["chemistry"]] = False  # a kind, not a quantity: 0 is flooded
    touching = ((params == LOW) | (params == HIGH)).mean(axis=0)
    assert touching[moving].max() < 0.01


def test_draw_is_pure() -> None:
    z = latents(50)
    before = z.copy()
    cause = catalogue().get("plug_resistance")
    assert np.array_equal(draw(SPORT, (cause,), z), draw(SPORT, (cause,), z))
    assert np.array_equal(z, before)


@given(st.integers(0, 49), st.sampled_from(prior(SPORT)))
def test_rows_do_not_see_each_other(row: int, hypothesis: object) -> None:
    z = latents(50)
    causes = hypothesis.causes  # type: ignore[attr-defined]
    alone = draw(SPORT, causes, z[row : row + 1])
    assert draw(SPORT, causes, z)[row] == pytest.approx(alone[0], rel=1e-12)


@pytest.mark.parametrize("class_id", class_ids())
@pytest.mark.parametrize("order", ["bca", "bac"])
def test_phases_are_permutable(class_id: str, order: str) -> None:
    machine = load_class(class_id)
    z = latents(100)
    moved = z.copy()
    columns = []
    for group in leg_families().values():
        for place, leg in enumerate(order):
            source = group["abc".index(leg)]
            moved[:, INDEX[group[place]]] = z[:, INDEX[source]]
            columns.append((group[place], source))
    first, second = draw(machine, (), z), draw(machine, (), moved)
    for target, source in columns:
        assert np.array_equal(column(second, target), column(first, source))


@pytest.mark.parametrize("cause_id", ["stator_phase_open", "junction_open", "plug_resistance"])
def test_every_place_is_equally_likely(cause_id: str) -> None:
    cause = catalogue().get(cause_id)
    n = 12000
    spots = placement(SPORT, cause, latents(n))
    count = len(cause.placement.spots(SPORT.layout))
    shares = np.bincount(spots.astype(int), minlength=count) / n
    # four standard errors of a share
    assert shares == pytest.approx(1.0 / count, abs=4.0 * np.sqrt((1 / count) / n))


def test_severity_is_what_is_added() -> None:
    cause = catalogue().get("charge_lead_resistance")
    z = latents(200)
    added = column(draw(SPORT, (cause,), z), "charge_lead_ohm") - column(
        draw(SPORT, (), z), "charge_lead_ohm"
    )
    assert added == pytest.approx(severity(SPORT, cause, z))
    # 0.6 to 8 V at full output is the range written in the file
    volts = severity(SPORT, cause, z) * SPORT.output_a
    assert volts.min() >= 0.6
    assert volts.max() <= 8.0


def test_two_faults_both_show_and_the_lower_charge_counts() -> None:
    one, two = (catalogue().get(name) for name in ("regulator_high", "battery_worn"))
    z = latents(500)
    both = draw(SPORT, (one, two), z)
    alone = draw(SPORT, (one,), z)
    assert np.array_equal(column(both, "setpoint_v"), column(alone, "setpoint_v"))
    assert (column(both, "battery_ohm") > column(alone, "battery_ohm")).all()
    assert (column(both, "soc") <= column(alone, "soc")).all()
    assert (column(alone, "soc") >= 0.6).all()


def test_slots_are_independent() -> None:
    cause = catalogue().get("drain")
    z = latents(300)
    first, second = (severity(SPORT, cause, z, slot=slot) for slot in range(SLOTS))
    assert abs(np.corrcoef(np.log(first), np.log(second))[0, 1]) < 0.2
    assert not np.array_equal(first, second)


def test_healthy_battery_comes_in_charged() -> None:
    soc = column(draw(SPORT, (), latents(2000)), "soc")
    assert soc.min() >= 0.75
    assert soc.max() <= 1.0


def test_every_latent_has_a_name() -> None:
    assert len(LATENT_NAMES) == len(set(LATENT_NAMES)) == LATENTS


def test_what_cannot_be_drawn_is_refused() -> None:
    drain, sense = catalogue().get("drain"), catalogue().get("sense_lead_resistance")
    with pytest.raises(InputError, match=r"latents of shape \(5, 3\)"):
        draw(SPORT, (), np.zeros((5, 3)))
    with pytest.raises(InputError, match="3 causes at once"):
        draw(SPORT, (drain, drain, drain), latents(2))
    with pytest.raises(InputError, match="'sense_lead_resistance' cannot occur"):
        draw(SPORT, (sense,), latents(2))


@pytest.mark.parametrize(
    ("cause_id", "value", "words"),
    [
        ("plug_resistance", 0.2134, "0.21 ohm in one contact of the alternator plug"),
        ("drain", 0.0853, "85 mA key-off drain"),
        ("stator_turns_shorted", 0.83, "17 % of one winding's turns shorted"),
        ("stator_ground_fault", 0.5, "2.0 ohm from winding to core"),
        ("junction_leaky", 0.0005, "one junction leaks, 2.0 kohm"),
        ("regulator_high", 1.23, "regulator set +1.2 V off"),
        ("regulator_low", -1.23, "regulator set -1.2 V off"),
        ("battery_dead_cell", 2.04, "battery missing 2.0 V"),
        ("terminal_loose", 0.004, "4.0 mohm at the positive terminal"),
        ("battery_open_inside", 2e6, "an open circuit inside the battery"),
        ("no_fault", float("nan"), "nothing wrong"),
        ("plug_resistance", float("nan"), "burnt contact in the alternator plug"),
    ],
)
def test_words(cause_id: str, value: float, words: str) -> None:
    assert severity_words(catalogue().get(cause_id), value) == words
