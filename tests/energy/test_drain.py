"""Key-off drain: circuit algebra for the burden, Huffman and Shannon for the search."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargewright.energy.drain import (
    Branch,
    Colour,
    Split,
    after_pull,
    drain_limit,
    expected_pulls,
    judge_drain,
    search_plan,
    true_drain_ma,
)
from chargewright.errors import InputError
from chargewright.machine.conditioning import load_class, machine_of
from chargewright.machine.spec import SpecSheet


def fuses(*shares: float) -> tuple[Branch, ...]:
    return tuple(Branch(name=f"fuse {i}", share=share) for i, share in enumerate(shares))


def leaves(split: Split | None, here: tuple[str, ...]) -> list[tuple[str, ...]]:
    if split is None:
        return [here]
    return leaves(split.if_falls, split.pull) + leaves(split.if_stays, split.leave)


def test_limit_from_the_spec_sheet_before_the_class() -> None:
    """Makers print 0.5 to 1.5 mA for street machines and 20 mA for side-by-sides."""
    assert drain_limit(load_class("sport-600-1000"))[0] == pytest.approx(1.5)
    assert drain_limit(load_class("side-by-side"))[0] == pytest.approx(20.0)
    told = machine_of("sport-600-1000", SpecSheet(drain_limit_ma=1.2))
    limit_ma, source = drain_limit(told)
    assert limit_ma == pytest.approx(1.2)
    assert "job card" in source


def test_burden_is_taken_out() -> None:
    """12.6 V over 610 ohm is 20.66 mA; through a 10 ohm shunt it reads 12.6/620 = 20.32 mA."""
    found = true_drain_ma(1000.0 * 12.6 / 620.0, burden_ohm=10.0)
    assert found.high == pytest.approx(1000.0 * 12.6 / 610.0, rel=1e-9)
    assert found.low == pytest.approx(20.32, abs=0.01)
    assert true_drain_ma(5.0, burden_ohm=0.0).width == 0.0


def test_zero_on_the_milliampere_jack_is_suspect() -> None:
    found = judge_drain(0.0, meter_u_ma=0.02, burden_ohm=5.0, limit_ma=1.5)
    assert any("blown fuse" in caution for caution in found.cautions)
    assert any("never switch the ignition on" in caution for caution in found.cautions)


@pytest.mark.parametrize(
    ("shown_ma", "limit_ma", "colour"),
    [
        (0.8, 1.5, Colour.GREEN),
        (1.5, 1.5, Colour.AMBER),
        (4.0, 1.5, Colour.RED),
        (2.0, None, Colour.GREEN),
        (9.0, None, Colour.AMBER),
        (35.0, None, Colour.RED),
    ],
)
def test_colours(shown_ma: float, limit_ma: float | None, colour: Colour) -> None:
    found = judge_drain(shown_ma, meter_u_ma=0.05, burden_ohm=2.0, limit_ma=limit_ma)
    assert found.colour is colour


def test_a_meter_that_is_too_coarse_cannot_say() -> None:
    """10 mA steps of a 10 A jack against a 1.5 mA limit: neither green nor red."""
    found = judge_drain(0.0, meter_u_ma=6.0, burden_ohm=0.03, limit_ma=1.5)
    assert found.colour is Colour.AMBER


def test_a_large_burden_is_named() -> None:
    found = judge_drain(80.0, meter_u_ma=0.5, burden_ohm=5.0)
    assert any("0.40 V" in caution for caution in found.cautions)


def test_even_shares_are_halved() -> None:
    """Eight equal suspects take three pulls of four, two and one fuse (binary search)."""
    plan = search_plan(fuses(*[1.0] * 8))
    assert plan is not None
    assert len(plan.pull) == 4
    assert plan.fall_share == pytest.approx(0.5)
    assert expected_pulls(plan) == pytest.approx(3.0)


def test_textbook_tree() -> None:
    """Shares 0.4, 0.3, 0.1, 0.1, 0.06, 0.04: mean depth 2.2 (Abramson's Huffman example)."""
    assert expected_pulls(search_plan(fuses(0.4, 0.3, 0.1, 0.1, 0.06, 0.04))) == pytest.approx(2.2)


@given(st.lists(st.floats(0.01, 1.0), min_size=1, max_size=12))
def test_every_fuse_is_found_within_shannons_bound(shares: list[float]) -> None:
    """Entropy <= mean pulls < entropy + 1, and every fuse ends alone exactly once."""
    branches = fuses(*shares)
    plan = search_plan(branches)
    total = sum(shares)
    entropy = -sum(s / total * math.log2(s / total) for s in shares)
    assert entropy - 1e-9 <= expected_pulls(plan) < entropy + 1.0
    ends = leaves(plan, (branches[0].name,))
    assert sorted(ends) == sorted((branch.name,) for branch in branches)


def test_two_drains_at_once_stay_suspects() -> None:
    left = after_pull(
        fuses(1.0, 1.0, 1.0, 1.0), ("fuse 0", "fuse 1"), before_ma=40.0, after_ma=10.0
    )
    shares = {branch.name: branch.share for branch in left}
    assert shares["fuse 0"] == pytest.approx(0.375)
    assert shares["fuse 3"] == pytest.approx(0.125)
    alone = after_pull(fuses(1.0, 1.0), ("fuse 0",), before_ma=40.0, after_ma=0.0)
    assert [branch.name for branch in alone] == ["fuse 0"]


def test_wrong_input_is_named() -> None:
    with pytest.raises(InputError, match="fuse 9"):
        after_pull(fuses(1.0), ("fuse 9",), before_ma=4.0, after_ma=1.0)
    with pytest.raises(InputError, match="not to rise"):
        after_pull(fuses(1.0), ("fuse 0",), before_ma=4.0, after_ma=5.0)
    with pytest.raises(InputError, match="swap the leads"):
        true_drain_ma(-3.0, burden_ohm=1.0)
    with pytest.raises(InputError, match="each name once"):
        search_plan((Branch(name="a", share=1.0), Branch(name="a", share=1.0)))
