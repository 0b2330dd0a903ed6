"""The planner and the exact solver against worked decision problems.

Labels K1, K2 (one look per suspect), H2, H4 (repair and one observation), P1, P2 (six-state test
sequencing of Pattipati and Alexandridis 1990), V1 to V6 (value of information: Hay et al. 2012,
Jensen's milk, the used car). Expected values were computed by exhaustive search or by hand,
independently of this package, and are given to the digits shown.
"""

from __future__ import annotations

import heapq
import math
from dataclasses import replace

import numpy as np
import pytest

from chargewright.diagnosis.exact import exact, solve
from chargewright.diagnosis.plan import Branch, Plan
from chargewright.diagnosis.planning import look_ahead
from chargewright.diagnosis.problem import Array, Check, Costs, Problem
from chargewright.diagnosis.screening import information_bits
from chargewright.diagnosis.sequences import ratio_order, repair_minutes
from tests.diagnosis.planning_problems import looks, name_the_world, perfect

P1_PRIOR = np.array([0.70, 0.01, 0.02, 0.10, 0.05, 0.12])
P1_ROWS = ("00000", "01001", "00110", "10011", "11000", "11110")


def roots(plan: Plan) -> list[float]:
    """Cost of each first check, in the order of the checks."""
    return [c.cost_min for c in sorted(plan.candidates, key=lambda c: c.index)]


def chain(plan: Plan, outcome: int = 0) -> list[str]:
    """Names along the branch of one outcome, first step included."""
    names, branches = [plan.step.name], plan.branches
    while branches:
        branch: Branch | None = next((b for b in branches if b.outcome == outcome), None)
        if branch is None or branch.step is None:
            break
        names.append(branch.step.name)
        branches = branch.branches
    return names


def with_last_look_due(chances: Array, minutes: list[float]) -> Problem:
    """K1, first variant: the job ends only when a look has found the fault."""
    loss = np.full((1, len(chances)), 1e4)
    return Problem(loss=loss, checks=tuple(looks(minutes, ends=True)), decisions=("give up",))


def test_k1_every_look_paid() -> None:
    chances = np.array([0.35, 0.25, 0.22, 0.13, 0.05])
    plan = exact(with_last_look_due(chances, [6, 8, 12, 10, 25]), chances)
    assert plan.cost_min == pytest.approx(19.05, abs=1e-9)
    assert chain(plan) == [f"look {i}" for i in (1, 2, 3, 4, 5)]


def test_k2_every_look_paid() -> None:
    chances = np.array([0.6, 0.25, 0.15])
    plan = exact(with_last_look_due(chances, [10, 5, 4]), chances)
    assert plan.cost_min == pytest.approx(12.6, abs=1e-9)
    assert chain(plan) == ["look 1", "look 2", "look 3"]


@pytest.mark.parametrize("planner", ["exact", "look_ahead"])
def test_k2_last_one_by_elimination(planner: str) -> None:
    chances = np.array([0.6, 0.25, 0.15])
    problem = Problem(loss=name_the_world(3), checks=tuple(looks([10, 5, 4], ends=False)))
    plan = exact(problem, chances) if planner == "exact" else look_ahead(problem, chances)
    assert plan.cost_min == pytest.approx(8.0, abs=1e-9)
    assert chain(plan) == ["look 2", "look 3", "decision 0"]


@pytest.mark.parametrize(
    ("call_min", "cost", "names"),
    [
        (100, 100.0, ["call"]),
        (150, 141.0, ["look 3", "look 1", "call"]),
        (200, 151.0, ["look 3", "look 1", "look 2", "call"]),
        (300, 154.0, ["look 3", "look 1", "look 2", "look 4"]),
    ],
)
def test_h2_service_call(call_min: float, cost: float, names: list[str]) -> None:
    chances = np.array([0.4, 0.3, 0.2, 0.1])
    problem = Problem(
        loss=np.full((1, 4), float(call_min)),
        checks=tuple(looks([70, 125, 25, 230], ends=True)),
        decisions=("call",),
    )
    plan = exact(problem, chances)
    assert plan.cost_min == pytest.approx(cost, abs=1e-9)
    assert chain(plan) == names


def test_h3_three_steps_pay_where_one_and_two_do_not() -> None:
    chances = np.array([0.4, 0.35, 0.25])
    problem = Problem(loss=np.full((1, 3), 2.0), checks=tuple(looks([1, 1, 1], ends=True)))
    assert exact(problem, chances).cost_min == pytest.approx(1.85, abs=1e-9)
    by_depth = [look_ahead(problem, chances, depth=k) for k in (1, 2, 3)]
    assert [p.cost_min for p in by_depth] == pytest.approx([2.0, 2.0, 1.85], abs=1e-9)
    # calling after exactly one look costs 2.2
    assert roots(by_depth[0])[0] == pytest.approx(2.2, abs=1e-9)


def h4_problem(observation_min: float) -> Problem:
    fails = np.array([0.9, 0.05, 0.1, 0.5])
    observation = Check(
        name="observe", outcomes=np.column_stack([1 - fails, fails]), minutes=observation_min
    )
    return Problem(
        loss=np.full((1, 4), 1e4),
        checks=(*looks([20, 5, 15, 30], ends=True, repair=[50, 120, 10, 200]), observation),
    )


def test_h4_one_observation() -> None:
    chances, fails = np.array([0.4, 0.3, 0.2, 0.1]), np.array([0.9, 0.05, 0.1, 0.5])
    observe, repair = (20, 5, 15, 30), (50, 120, 10, 200)
    assert float(chances @ fails) == pytest.approx(0.445, abs=1e-12)
    for law, order, cost in (
        (fails, (0, 1, 3, 2), 93.76404494),
        (1 - fails, (1, 2, 0, 3), 104.72972973),
    ):
        belief = chances * law / (chances @ law)
        assert ratio_order(belief.tolist(), observe) == order
        found = repair_minutes(order, belief.tolist(), observe=observe, repair=repair)
        assert found == pytest.approx(cost, abs=5e-9)
    plan = exact(h4_problem(0.0), chances)
    assert roots(plan)[4] == pytest.approx(99.85, abs=1e-9)
    branches = {b.outcome: b for b in plan.branches}
    assert plan.step.name == "observe"
    assert branches[1].cost_min == pytest.approx(93.76404494, abs=5e-9)
    assert branches[0].cost_min == pytest.approx(104.72972973, abs=5e-9)
    # worth buying at the start while it costs less than 104.5 - 99.85 = 4.65
    without = replace(h4_problem(0.0), checks=h4_problem(0.0).checks[:4])
    assert exact(without, chances).cost_min == pytest.approx(104.5, abs=1e-9)
    assert roots(exact(h4_problem(4.65), chances))[4] == pytest.approx(104.5, abs=1e-9)


def p_problem(minutes: tuple[float, ...]) -> Problem:
    checks = [
        Check(
            name=f"t{j + 1}",
            outcomes=perfect([[int(row[j]) for row in P1_ROWS]]),
            minutes=minutes[j],
            labels=("pass", "fail"),
        )
        for j in range(5)
    ]
    return Problem(loss=name_the_world(6), checks=tuple(checks))


def greedy_cost(problem: Problem, belief: Array, used: frozenset[int] = frozenset()) -> float:
    """Expected minutes of always making the check of most information per minute."""
    if np.count_nonzero(belief) == 1:
        return 0.0
    minutes = np.array([check.minutes for check in problem.checks])
    rate = information_bits(problem, belief) / minutes
    rate[list(used)] = -1.0
    best = int(np.argmax(rate))
    law = problem.checks[best].outcomes
    below = [belief * law[:, o] for o in range(law.shape[1])]
    return float(minutes[best]) + sum(
        float(b.sum()) * greedy_cost(problem, b / b.sum(), used | {best})
        for b in below
        if b.sum() > 0
    )


def huffman(chances: Array) -> float:
    heap = [float(p) for p in chances]
    heapq.heapify(heap)
    total = 0.0
    while len(heap) > 1:
        joined = heapq.heappop(heap) + heapq.heappop(heap)
        total += joined
        heapq.heappush(heap, joined)
    return total


def test_p1_six_states_unit_costs() -> None:
    problem = p_problem((1, 1, 1, 1, 1))
    plan = exact(problem, P1_PRIOR)
    assert plan.cost_min == pytest.approx(2.18, abs=1e-9)
    assert roots(plan) == pytest.approx([2.86, 2.18, 2.82, 2.18, 2.89], abs=1e-9)
    assert plan.step.name == "t2"  # ties with t4; the lower index is the rule
    after = {b.label: b for b in plan.branches}
    assert after["fail"].step is not None
    assert after["fail"].step.name == "t3"
    assert after["pass"].step is not None
    assert after["pass"].step.name == "t4"
    assert greedy_cost(problem, P1_PRIOR) == pytest.approx(2.86, abs=1e-9)
    assert int(np.argmax(information_bits(problem, P1_PRIOR))) == 0


def test_p1_bounds_i6() -> None:
    entropy = -sum(p * math.log2(p) for p in P1_PRIOR)
    assert entropy == pytest.approx(1.454873, abs=5e-7)
    assert huffman(P1_PRIOR) == pytest.approx(1.59, abs=1e-9)
    assert entropy <= huffman(P1_PRIOR) <= exact(p_problem((1, 1, 1, 1, 1)), P1_PRIOR).cost_min


def test_p2_six_states_unequal_costs() -> None:
    problem = p_problem((1, 2, 3, 1, 1))
    plan = exact(problem, P1_PRIOR)
    assert plan.cost_min == pytest.approx(2.85, abs=1e-9)
    assert roots(plan) == pytest.approx([2.88, 3.18, 4.86, 2.85, 2.89], abs=1e-9)
    assert plan.step.name == "t4"
    assert greedy_cost(problem, P1_PRIOR) == pytest.approx(2.88, abs=1e-9)


@pytest.mark.parametrize("minutes", [(1, 1, 1, 1, 1), (1, 2, 3, 1, 1)])
def test_p_three_steps_find_the_optimum(minutes: tuple[float, ...]) -> None:
    # the optimal tree is three checks deep, so three steps see all of it
    plan = look_ahead(p_problem(minutes), P1_PRIOR, depth=3)
    assert plan.cost_min == pytest.approx(exact(p_problem(minutes), P1_PRIOR).cost_min, abs=1e-9)


@pytest.mark.parametrize(
    ("known", "name", "value"),
    [
        (0.0, "look 1", 1.05),
        (0.6, "look 2", 1.10),
        (1.0, "look 2", 1.20),
        (1.3, "look 2", 1.325),
        (1.5, "take 3", 1.5),
    ],
)
def test_v1_three_items(known: float, name: str, value: float) -> None:
    first = np.array([-1.5, -1.5, 1.5, 1.5])
    second = np.array([0.25, 1.75, 0.25, 1.75])
    problem = Problem(
        loss=-np.vstack([first, second, np.full(4, known)]),
        checks=(
            Check(name="look 1", outcomes=perfect([[0, 0, 1, 1]]), minutes=0.2),
            Check(name="look 2", outcomes=perfect([[0, 1, 0, 1]]), minutes=0.2),
        ),
        decisions=("take 1", "take 2", "take 3"),
    )
    for plan in (exact(problem, np.full(4, 0.25)), look_ahead(problem, np.full(4, 0.25))):
        assert plan.step.name == name
        assert -plan.cost_min == pytest.approx(value, abs=1e-9)
    if known == 0.6:
        one_step = look_ahead(problem, np.full(4, 0.25), depth=1)
        assert one_step.step.name == "look 1"
        assert -one_step.cost_min == pytest.approx(1.05, abs=1e-9)


def test_v2_two_looks_worth_nothing_apart() -> None:
    # the fault is A xor B; either look alone leaves even odds
    xor = np.array([0, 1, 1, 0])
    problem = Problem(
        loss=100.0 * (np.array([[0], [1]]) != xor),
        checks=(
            Check(name="A", outcomes=perfect([[0, 0, 1, 1]]), minutes=5),
            Check(name="B", outcomes=perfect([[0, 1, 0, 1]]), minutes=5),
        ),
    )
    even = np.full(4, 0.25)
    one_step = look_ahead(problem, even, depth=1)
    assert one_step.step.kind == "decide"
    assert one_step.cost_min == pytest.approx(50.0, abs=1e-9)
    assert roots(one_step) == pytest.approx([55.0, 55.0], abs=1e-9)
    assert look_ahead(problem, even, depth=2).cost_min == pytest.approx(10.0, abs=1e-9)
    assert exact(problem, even).cost_min == pytest.approx(10.0, abs=1e-9)


def v3_problem(copies: int, minutes: float) -> Problem:
    law = np.array([[0.8, 0.2], [0.2, 0.8]])
    checks = [Check(name=f"test {i}", outcomes=law, minutes=minutes) for i in range(copies)]
    return Problem(loss=100.0 * (1 - np.eye(2)), checks=tuple(checks))


def test_v3_second_test_only_after_a_contradiction() -> None:
    prior = np.array([0.85, 0.15])
    assert look_ahead(v3_problem(1, 2.0), prior, depth=1).cost_min == pytest.approx(15.0)
    plan = exact(v3_problem(2, 2.0), prior)
    assert plan.cost_min == pytest.approx(11.38, abs=1e-9)
    assert look_ahead(v3_problem(2, 2.0), prior).cost_min == pytest.approx(11.38, abs=1e-9)
    second = {b.outcome: b.step for b in plan.branches}
    assert second[0] is not None
    assert second[0].kind == "decide"
    assert second[1] is not None
    assert second[1].kind == "check"
    free = [15.0 - exact(v3_problem(k, 0.0), prior).cost_min for k in (1, 2, 3)]
    assert free == pytest.approx([0.0, 6.2, 7.0], abs=1e-9)


def test_v3_persistent_noise_makes_repeats_worthless() -> None:
    # the reading is part of the world: (part, what the test shows), so repeats agree
    prior = np.array([0.85 * 0.8, 0.85 * 0.2, 0.15 * 0.2, 0.15 * 0.8])
    shows = perfect([[0, 1, 0, 1]])
    loss = 100.0 * np.array([[0, 0, 1, 1], [1, 1, 0, 0]])
    checks = tuple(Check(name=f"test {i}", outcomes=shows, minutes=0.0) for i in range(3))
    assert exact(Problem(loss=loss, checks=checks), prior).worth_min == pytest.approx(0.0, abs=1e-9)


def test_v4_equal_information_unequal_value() -> None:
    # four equal faults, repair A cures 1 and 2, repair B cures 3 and 4
    loss = 100.0 * np.array([[0, 0, 1, 1], [1, 1, 0, 0]])
    problem = Problem(
        loss=loss,
        checks=(
            Check(name="a", outcomes=perfect([[0, 1, 0, 1]]), minutes=1),
            Check(name="b", outcomes=perfect([[0, 0, 1, 1]]), minutes=1),
        ),
    )
    even = np.full(4, 0.25)
    assert information_bits(problem, even) == pytest.approx([1.0, 1.0], abs=1e-12)
    assert roots(look_ahead(problem, even, depth=1)) == pytest.approx([51.0, 1.0], abs=1e-9)
    assert look_ahead(problem, even).step.name == "b"


@pytest.mark.parametrize(("test_cost", "net"), [(0.0, 0.0665328), (0.06, 0.0065328)])
def test_v5_infected_milk(test_cost: float, net: float) -> None:
    prior = np.array([0.0007, 0.9993])
    law = np.array([[0.999, 0.001], [0.001, 0.999]])  # positive, negative
    problem = Problem(
        loss=-np.array([[0.0, 100.0], [98.0, 98.0]]),
        checks=(Check(name="test", outcomes=law, minutes=test_cost),),
        decisions=("pour", "discard"),
    )
    plan = look_ahead(problem, prior)
    assert -plan.act_now_min == pytest.approx(99.93, abs=1e-9)
    assert plan.worth_min == pytest.approx(net, abs=5e-8)
    assert -plan.cost_min + test_cost == pytest.approx(99.9965328, abs=5e-8)
    assert plan.branches[0].probability == pytest.approx(0.0016986, abs=5e-9)
    below = prior * law.T
    infected = below[:, 0] / below.sum(axis=1)
    assert infected == pytest.approx([0.411692, 7.0119e-7], rel=2e-6)


def test_v6_used_car_test_never_changes_the_choice() -> None:
    prior = np.array([0.7, 0.3])
    law = np.array([[0.8, 0.2], [0.35, 0.65]])  # pass, fail

    def car(test_cost: float) -> Problem:
        return Problem(
            loss=-np.array([[500.0, -200.0], [0.0, 0.0]]),
            checks=(Check(name="test", outcomes=law, minutes=test_cost),),
            decisions=("buy", "leave"),
        )

    plan = look_ahead(car(50.0), prior)
    assert plan.step.name == "buy"
    assert -plan.cost_min == pytest.approx(290.0, abs=1e-9)
    assert -roots(plan)[0] == pytest.approx(240.0, abs=1e-9)
    free = exact(car(0.0), prior)
    assert free.worth_min == pytest.approx(0.0, abs=1e-12)
    assert free.step.kind == "decide"  # a tie ends the job
    table = solve(car(0.0), prior)
    passed, failed = (table.child(table.root, 0, o) for o in (0, 1))
    mass = table.belief.sum(axis=1)
    assert mass[passed] == pytest.approx(0.665, abs=1e-9)
    assert -table.act[passed] / mass[passed] == pytest.approx(389.4737, abs=5e-5)
    assert -table.act[failed] / mass[failed] == pytest.approx(92.5373, abs=5e-5)
    good = int(np.flatnonzero(table.stacked.worlds == 0)[0])
    assert table.belief[passed, good] / mass[passed] == pytest.approx(0.842105, abs=5e-7)
    assert table.belief[failed, good] / mass[failed] == pytest.approx(0.417910, abs=5e-7)


def access_problem() -> tuple[Problem, Array]:
    """C1 as a planning problem: swap-and-see of f1, f2 (free) and k1, k2 (behind a cover)."""
    chances = np.array([0.25, 0.35, 0.2, 0.2])
    plain = looks([10, 30, 1, 1], ends=True)
    behind = [replace(check, access=frozenset({0})) for check in plain[2:]]
    problem = Problem(
        loss=np.full((1, 4), 1e4),
        checks=(*plain[:2], *behind),
        costs=Costs(access_minutes=(10.0,), access_parent=(-1,)),
    )
    return problem, chances


def test_c1_planner_pays_the_cover_once() -> None:
    problem, chances = access_problem()
    plan = exact(problem, chances)
    assert plan.cost_min == pytest.approx(28.3, abs=1e-9)
    assert chain(plan) == ["look 3", "look 4", "look 1", "look 2"]
    by_search = look_ahead(problem, chances, depth=4)
    assert by_search.cost_min == pytest.approx(28.3, abs=1e-9)


def test_c3_planner_follows_the_access_tree() -> None:
    chances = np.array([0.06, 0.28, 0.08, 0.16, 0.18, 0.12, 0.09, 0.03])
    place = (None, None, 0, 1, 1, 2, 2, 3)
    plain = looks([2, 8, 4, 3, 12, 3, 6, 20], ends=True)
    checks = tuple(
        replace(check, access=frozenset() if at is None else frozenset({at}))
        for check, at in zip(plain, place, strict=True)
    )
    costs = Costs(access_minutes=(3.0, 10.0, 5.0, 45.0), access_parent=(-1, -1, 1, -1))
    plan = exact(Problem(loss=np.full((1, 8), 1e4), checks=checks, costs=costs), chances)
    assert plan.cost_min == pytest.approx(30.50, abs=0.005)
    assert chain(plan)[:3] == ["look 2", "look 1", "look 4"]
