"""Orders of looking against worked examples, each checked against every permutation.

K1, K2: Kalagnanam and Henrion's rule; H1 to H3: expected cost of repair (Heckerman, Breese and
Rommelse 1995); C1 to C3: covers. Inputs and results of the examples were computed by exhaustive
permutation, independently of this package.
"""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargewright.diagnosis.sequences import (
    Access,
    access_minutes,
    access_order,
    eliminating_order,
    expected_minutes,
    ratio_order,
    repair_minutes,
    service_call,
)
from chargewright.errors import InputError

K1 = ((0.35, 0.25, 0.22, 0.13, 0.05), (6.0, 8.0, 12.0, 10.0, 25.0))
K2 = ((0.6, 0.25, 0.15), (10.0, 5.0, 4.0))
H2 = ((0.4, 0.3, 0.2, 0.1), (70.0, 125.0, 25.0, 230.0))


def test_k1_order_and_all_120_costs() -> None:
    assert ratio_order(*K1) == (0, 1, 2, 3, 4)
    costs = [expected_minutes(order, *K1) for order in permutations(range(5))]
    assert min(costs) == pytest.approx(19.05, abs=1e-9)
    assert max(costs) == pytest.approx(51.24, abs=1e-9)
    assert sum(costs) / 120 == pytest.approx(35.145, abs=1e-9)
    cheapest_first = sorted(range(5), key=lambda i: K1[1][i])
    assert expected_minutes(cheapest_first, *K1) == pytest.approx(19.69, abs=1e-9)


def test_k1_partial_sums() -> None:
    # the partial sums of the weighted minutes: 6, 11.2, 16.0, 17.8, 19.05
    sums = [expected_minutes(range(k), *K1) for k in range(1, 6)]
    # expected_minutes counts what is left of all chances, so prefixes give partial sums
    assert sums == pytest.approx([6.0, 11.2, 16.0, 17.8, 19.05], abs=1e-9)


def test_k2_all_looked_at_and_by_elimination() -> None:
    assert ratio_order(*K2) == (0, 1, 2)
    assert expected_minutes((0, 1, 2), *K2) == pytest.approx(12.6, abs=1e-9)
    assert expected_minutes((0, 1), *K2) == pytest.approx(12.0, abs=1e-9)
    order, cost = eliminating_order(*K2)
    assert order == (1, 2, 0)
    assert cost == pytest.approx(8.0, abs=1e-9)


def test_h1_repair_cost_does_not_enter_the_order() -> None:
    chances, observe, repair = (0.4, 0.3, 0.2, 0.1), (20, 5, 15, 30), (50, 120, 10, 200)

    def cost(order: tuple[int, ...]) -> float:
        return repair_minutes(order, chances, observe=observe, repair=repair)

    assert ratio_order(chances, observe) == (1, 0, 2, 3)
    ranked = sorted(permutations(range(4)), key=cost)
    assert ranked[0] == (1, 0, 2, 3)
    assert cost(ranked[0]) == pytest.approx(104.5, abs=1e-9)
    assert ranked[1] == (1, 2, 0, 3)
    assert cost(ranked[1]) == pytest.approx(106.5, abs=1e-9)
    wrong = ratio_order(chances, [o + r for o, r in zip(observe, repair, strict=True)])
    assert wrong == (2, 0, 1, 3)
    assert cost(wrong) == pytest.approx(114.0, abs=1e-9)
    skipped = repair_minutes(
        (1, 0, 2, 3), chances, observe=observe, repair=repair, last_inferred=True
    )
    assert skipped == pytest.approx(101.5, abs=1e-9)


def test_h2_ratio_order_against_most_likely_first() -> None:
    costs = [expected_minutes(order, *H2) for order in permutations(range(4))]
    assert ratio_order(*H2) == (2, 0, 1, 3)
    assert expected_minutes(ratio_order(*H2), *H2) == pytest.approx(154.0, abs=1e-9)
    assert expected_minutes((0, 1, 2, 3), *H2) == pytest.approx(175.5, abs=1e-9)
    assert min(costs) == pytest.approx(154.0, abs=1e-9)
    assert max(costs) == pytest.approx(389.5, abs=1e-9)
    assert sum(costs) / 24 == pytest.approx(271.75, abs=1e-9)


@pytest.mark.parametrize(
    ("call_min", "tried", "cost"),
    [
        (100, (), 100.0),
        (150, (2, 0), 141.0),
        (200, (2, 0, 1), 151.0),
        (300, (2, 0, 1, 3), 154.0),
        (1000, (2, 0, 1, 3), 154.0),
    ],
)
def test_h2_service_call(call_min: float, tried: tuple[int, ...], cost: float) -> None:
    order, found = service_call(*H2, call_min=call_min)
    assert order == tried
    assert found == pytest.approx(cost, abs=1e-9)


def test_h3_cost_rises_before_it_falls() -> None:
    # calling after 0, 1, 2, 3 actions costs 2, 2.2, 2.1, 1.85
    order, cost = service_call((0.4, 0.35, 0.25), (1, 1, 1), call_min=2)
    assert order == (0, 1, 2)
    assert cost == pytest.approx(1.85, abs=1e-9)


def test_c1_cover_paid_once() -> None:
    # f1, f2 free; k1, k2 behind one cover of 10 minutes
    chances, minutes = (0.25, 0.35, 0.2, 0.2), (10.0, 30.0, 1.0, 1.0)
    access = Access(open_minutes=(10.0,), parent=(-1,), place=(-1, -1, 0, 0))
    order = access_order(chances, minutes, access=access)
    assert order == (2, 3, 0, 1)
    assert access_minutes(order, chances, minutes, access=access) == pytest.approx(28.3, abs=1e-9)
    greedy = access_minutes((0, 2, 3, 1), chances, minutes, access=access)
    assert greedy == pytest.approx(29.3, abs=1e-9)


def test_c2_cover_closed_before_each_proof() -> None:
    # k1 and k2 done together behind the cover (open 7, close 3), then one proof, then f1, f2
    together = expected_minutes((0, 1, 2), (0.4, 0.25, 0.35), (7 + 1 + 1 + 3, 10, 30))
    assert together == pytest.approx(28.5, abs=1e-9)
    apart = expected_minutes((0, 1, 2, 3), (0.2, 0.2, 0.25, 0.35), (11, 11, 10, 30))
    assert apart > together


def test_c3_access_tree() -> None:
    # seat 3, side panel 10, boot inside the panel 5, engine cover 45
    chances = (0.06, 0.28, 0.08, 0.16, 0.18, 0.12, 0.09, 0.03)
    minutes = (2.0, 8.0, 4.0, 3.0, 12.0, 3.0, 6.0, 20.0)
    access = Access(
        open_minutes=(3.0, 10.0, 5.0, 45.0),
        parent=(-1, -1, 1, -1),
        place=(-1, -1, 0, 1, 1, 2, 2, 3),
    )
    order = access_order(chances, minutes, access=access)
    assert access_minutes(order, chances, minutes, access=access) == pytest.approx(30.50, abs=0.005)
    # order named in the example; rr (4) may as well stand after statconn (5)
    named = access_minutes((1, 0, 3, 4, 5, 6, 2, 7), chances, minutes, access=access)
    assert access_minutes(order, chances, minutes, access=access) == pytest.approx(named, abs=1e-9)
    blind = access_minutes(ratio_order(chances, minutes), chances, minutes, access=access)
    assert blind == pytest.approx(35.29, abs=0.005)


@st.composite
def jobs_behind_covers(
    draw: st.DrawFn,
) -> tuple[tuple[float, ...], tuple[float, ...], Access]:
    size = draw(st.integers(2, 6))
    chances = tuple(draw(st.integers(1, 50)) / 100 for _ in range(size))
    minutes = tuple(float(draw(st.integers(1, 40))) for _ in range(size))
    covers = draw(st.integers(0, 3))
    parent = tuple(draw(st.integers(-1, i - 1)) for i in range(covers))
    opening = tuple(float(draw(st.integers(0, 30))) for _ in range(covers))
    place = tuple(draw(st.integers(-1, covers - 1)) for _ in range(size))
    return chances, minutes, Access(open_minutes=opening, parent=parent, place=place)


@settings(max_examples=150, deadline=None)
@given(jobs_behind_covers())
def test_access_order_beats_every_permutation(
    jobs: tuple[tuple[float, ...], tuple[float, ...], Access],
) -> None:
    chances, minutes, access = jobs
    ours = access_minutes(
        access_order(chances, minutes, access=access), chances, minutes, access=access
    )
    best = min(
        access_minutes(order, chances, minutes, access=access)
        for order in permutations(range(len(chances)))
    )
    assert ours == pytest.approx(best, rel=1e-12)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 60), st.integers(1, 60)), min_size=2, max_size=5),
    st.integers(1, 200),
)
def test_service_call_beats_every_subset_and_order(
    pairs: list[tuple[int, int]], call_min: int
) -> None:
    total = sum(p for p, _ in pairs)
    chances = [p / total for p, _ in pairs]
    minutes = [float(c) for _, c in pairs]
    best = float("inf")
    for size in range(len(pairs) + 1):
        for tried in permutations(range(len(pairs)), size):
            left = 1.0 - sum(chances[i] for i in tried)
            cost, rest = 0.0, 1.0
            for i in tried:
                cost += minutes[i] * rest
                rest -= chances[i]
            cost += call_min * left if size < len(pairs) else 0.0
            best = min(best, cost)
    assert service_call(chances, minutes, call_min=call_min)[1] == pytest.approx(best, rel=1e-9)


def test_ties_go_to_the_lowest_index() -> None:
    assert ratio_order([0.25] * 4, [5.0] * 4) == (0, 1, 2, 3)


def test_unequal_lengths_are_refused() -> None:
    with pytest.raises(InputError, match="2 chances for 1 times"):
        ratio_order([0.5, 0.5], [1.0])
