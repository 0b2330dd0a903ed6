"""Repairs tried as actions of the planner: by hand on two faults, and against exact search."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.diagnosis import problem as plain
from chargewright.diagnosis.decisions import endings, load_prices, losses
from chargewright.diagnosis.exact import exact
from chargewright.diagnosis.planning import look_ahead
from chargewright.diagnosis.population import name_of
from chargewright.diagnosis.repairs import FIT, Seeing, repair_actions
from chargewright.machine.conditioning import load_class
from chargewright.machine.prior import Hypothesis, prior

PRICES = load_prices()
BY_NAME = {name_of(one): one for one in prior(load_class("atv"))}
SURE = Seeing(minutes=6.0, cured=1.0, missed=0.0)


def tried(
    names: list[str],
    weights: np.ndarray,
    *,
    seeing: Seeing = SURE,
    checks: tuple[plain.Check, ...] = (),
) -> plain.Problem:
    """Return the problem of these causes, one world each, with every repair as an action."""
    hypotheses: list[Hypothesis] = [BY_NAME[name] for name in names]
    ways = endings(hypotheses, weights)
    member = np.arange(len(names))
    actions = repair_actions(ways, hypotheses, member, weights, prices=PRICES, seeing=seeing)
    return plain.Problem(
        loss=losses(ways, hypotheses, PRICES),
        checks=(*checks, *actions),
        decisions=tuple(way.id for way in ways),
    )


def wasted(name: str) -> float:
    return PRICES.in_vain_min(BY_NAME[name].causes[0].repair)


def test_clean_first_then_fit_by_hand() -> None:
    """Plug leaking 0.6, regulator dead 0.4, nothing to measure; a result is seen surely.

    Ending with the cheap repair leaves 0.4 comebacks and its waste; trying it first costs the
    look, and in 0.4 its waste, after which the regulator is certain.
    """
    weights = np.array([0.6, 0.4])
    names = ["plug_leak", "regulator_never"]
    problem = tried(names, weights)
    plan = exact(problem, weights)
    end_now = 0.4 * (wasted("plug_leak") + PRICES.comeback_min)
    clean_first = SURE.minutes + 0.4 * wasted("plug_leak")
    fit_first = SURE.minutes + 0.6 * wasted("regulator_never")
    assert clean_first < min(end_now, fit_first)
    assert plan.act_now_min == pytest.approx(end_now)
    assert plan.cost_min == pytest.approx(clean_first)
    assert plan.step.name == FIT + BY_NAME["plug_leak"].causes[0].repair.id
    assert look_ahead(problem, weights, depth=2).cost_min == pytest.approx(clean_first)
    costs = {one.name: one.cost_min for one in plan.candidates}
    assert costs[FIT + BY_NAME["regulator_never"].causes[0].repair.id] == pytest.approx(fit_first)


def test_a_result_seen_wrongly_costs_a_comeback() -> None:
    """One fault in 20 passes for mended: 0.05 of the comeback in the world that is not cured."""
    weights = np.array([0.6, 0.4])
    names = ["plug_leak", "regulator_never"]
    seeing = Seeing(minutes=6.0, cured=1.0, missed=0.05)
    plan = exact(tried(names, weights, seeing=seeing), weights)
    by_hand = 6.0 + 0.4 * (wasted("plug_leak") + 0.05 * PRICES.comeback_min)
    assert plan.cost_min == pytest.approx(by_hand)


def test_charging_and_rare_repairs_are_no_actions() -> None:
    weights = np.array([0.5, 0.495, 0.005])
    problem = tried(["battery_discharged", "plug_leak", "regulator_never"], weights)
    assert [check.name for check in problem.checks] == [
        FIT + BY_NAME["plug_leak"].causes[0].repair.id
    ]


SINGLES = ["plug_leak", "plug_open", "regulator_never", "magnets_weak", "no_fault"]


@given(
    st.lists(st.floats(0.05, 1.0), min_size=5, max_size=5),
    st.lists(st.floats(0.05, 0.95), min_size=5, max_size=5),
    st.floats(1.0, 20.0),
    st.floats(0.0, 0.2),
)
def test_looking_ahead_agrees_with_exact_search(
    raw: list[float], seen: list[float], minutes: float, missed: float
) -> None:
    """Five worlds, one noisy check, a repair for each: the same cost, from above."""
    weights = np.array(raw) / sum(raw)
    law = np.stack([np.array(seen), 1.0 - np.array(seen)], axis=1)
    look = plain.Check(name="look", outcomes=law, minutes=minutes)
    seeing = Seeing(minutes=6.0, cured=0.97, missed=missed)
    problem = tried(SINGLES, weights, seeing=seeing, checks=(look,))
    best = exact(problem, weights).cost_min
    costs = [look_ahead(problem, weights, depth=depth).cost_min for depth in (1, 2, 5)]
    assert costs[0] >= costs[1] >= costs[2] - 1e-9
    assert costs[2] == pytest.approx(best, rel=1e-9)


def test_an_action_more_never_makes_a_job_dearer() -> None:
    """Repairs may be tried or not: with them the optimum is at most what it is without."""
    rng = np.random.default_rng(12)
    for _ in range(20):
        weights = rng.dirichlet(np.ones(5))
        law = rng.dirichlet(np.ones(3), size=5)
        look = plain.Check(name="look", outcomes=law, minutes=5.0)
        with_them = tried(SINGLES, weights, seeing=Seeing(), checks=(look,))
        without = plain.Problem(loss=with_them.loss, checks=(look,), decisions=with_them.decisions)
        assert exact(with_them, weights).cost_min <= exact(without, weights).cost_min + 1e-9


def test_charging_alone_ends_nothing() -> None:
    """Charged and tested again, another fault is found on: dearer than none, less than a comeback.

    By hand from the prices: nothing where the battery was only flat; where another part is at
    fault, the charging in vain and the search that goes on.
    """
    hypotheses = [BY_NAME[name] for name in ("battery_discharged", "plug_leak")]
    ways = endings(hypotheses, np.array([0.5, 0.5]))
    charge = next(way for way in ways if way.id == "charge_battery")
    table = losses(ways, hypotheses, PRICES)[ways.index(charge)]
    in_vain = PRICES.in_vain_min(charge.repairs[0])
    assert table == pytest.approx([0.0, in_vain + PRICES.test_again_min])
    assert PRICES.test_again_min < PRICES.comeback_min


def test_nobody_pays_for_the_same_repair_twice() -> None:
    """By hand: a repair made before costs its minutes and parts again, needed or not."""
    hypotheses = [BY_NAME[name] for name in ("no_fault", "terminal_loose")]
    ways = endings(hypotheses, np.array([0.5, 0.5]))
    (clean,) = (way for way in ways if way.id == "clean_terminals")
    price = PRICES.in_vain_min(clean.repairs[0])
    row = ways.index(clean)
    assert losses(ways, hypotheses, PRICES)[row] == pytest.approx([price, 0.0])
    again = losses(ways, hypotheses, PRICES, again={"clean_terminals"})[row]
    assert again == pytest.approx([price, price])


def test_a_part_in_vain_costs_trust_and_charging_does_not() -> None:
    """By hand: 20 min and 90 money units at 70 an hour, twice; 15 min on a charger, once."""
    battery, charge = (
        BY_NAME[one].causes[0].repair for one in ("battery_worn", "battery_discharged")
    )
    assert PRICES.in_vain_min(battery) == pytest.approx(2.0 * (20.0 + 90.0 / 70.0 * 60.0))
    assert PRICES.in_vain_min(charge) == pytest.approx(15.0)
