"""Access paid once, changes of mode, and worked sequences whose cost is known.

C1 and C3: repair sequences with shared access, expected cost sum C_k (1 - sum_{j<k} p_j), found
by exhaustive permutation and by Horn's ratio merge for out-trees (W. A. Horn, SIAM J. Appl. Math.
23, 1972; cost clusters: Langseth and Jensen, RESS 80, 2003). Figures illustrative.
"""

from __future__ import annotations

import math
from functools import cache
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargewright.checks.access import AccessTree, Opening
from chargewright.checks.catalogue import Catalogue, Check
from chargewright.checks.cost import Cost, Effort, Situation, after, minutes, state_in
from chargewright.checks.load import Book, load_book
from chargewright.checks.modes import Mode, SwitchMinutes
from chargewright.errors import InputError
from chargewright.machine.layout import Layout
from chargewright.machine.points import Engine, Function, Warmth
from chargewright.machine.speeds import Speeds

FREE = SwitchMinutes(start=0, crank=0, warm_up=0, cool_down=0, plug=0, battery_lead=0)
CHARGE = Check(id="charge", title="charge", function=None, minutes=8.0, charged=True)


def _opening(name: str, total_min: float, parent: str | None = None) -> Opening:
    return Opening(id=name, title=name, open_min=total_min, close_min=0.0, parent=parent)


def _effort(*openings: Opening) -> Effort:
    return Effort(access=AccessTree(openings), switches=FREE, charge=CHARGE)


def _look(name: str, cost_min: float, *needs: str) -> Check:
    return Check(
        id=name, title=name, function=Function.LOOK, minutes=cost_min, needs=frozenset(needs)
    )


def _expected(order: list[tuple[float, Check]], effort: Effort) -> float:
    situation, left, total = Situation(), 1.0, 0.0
    for chance, check in order:
        total += left * minutes(check, situation, effort).total
        situation = after(check, situation, effort)
        left -= chance
    return total


C1 = _effort(_opening("cover", 10.0))
C1_ACTIONS = {
    "f1": (0.25, _look("f1", 10.0)),
    "f2": (0.35, _look("f2", 30.0)),
    "k1": (0.20, _look("k1", 1.0, "cover")),
    "k2": (0.20, _look("k2", 1.0, "cover")),
}
C3 = _effort(
    _opening("seat", 3.0),
    _opening("panel", 10.0),
    _opening("boot", 5.0, "panel"),
    _opening("engine", 45.0),
)
C3_ACTIONS = {
    "batt": (0.28, _look("batt", 8.0)),
    "fuse": (0.06, _look("fuse", 2.0)),
    "rrconn": (0.16, _look("rrconn", 3.0, "panel")),
    "rr": (0.18, _look("rr", 12.0, "panel")),
    "statconn": (0.12, _look("statconn", 3.0, "boot")),
    "stator": (0.09, _look("stator", 6.0, "boot")),
    "ground": (0.08, _look("ground", 4.0, "seat")),
    "rotor": (0.03, _look("rotor", 20.0, "engine")),
}


def test_c1_orders_cost_what_was_worked_out() -> None:
    def cost(*names: str) -> float:
        return _expected([C1_ACTIONS[name] for name in names], C1)

    assert cost("k1", "k2", "f1", "f2") == pytest.approx(28.3)  # 11 + .8*1 + .6*10 + .35*30
    assert cost("f1", "k1", "k2", "f2") == pytest.approx(29.3)  # opening charged to k1 alone
    best = min(permutations(C1_ACTIONS), key=lambda order: cost(*order))
    assert cost(*best) == pytest.approx(28.3)


def test_c3_tree_costs_30_50_and_nothing_is_cheaper() -> None:
    assert _expected(list(C3_ACTIONS.values()), C3) == pytest.approx(30.50)
    names = frozenset(C3_ACTIONS)

    @cache
    def best(done: frozenset[str]) -> float:
        situation = Situation()
        for name in sorted(done):
            situation = after(C3_ACTIONS[name][1], situation, C3)
        left = 1.0 - sum(C3_ACTIONS[name][0] for name in done)
        return min(
            (
                left * minutes(C3_ACTIONS[name][1], situation, C3).total + best(done | {name})
                for name in names - done
            ),
            default=0.0,
        )

    assert best(frozenset()) == pytest.approx(30.50)


def test_boot_behind_the_panel_is_reached_through_it_once() -> None:
    tree = C3.access
    assert tree.ancestors("boot") == ("panel",)
    assert tree.minutes({"boot"}) == 15.0
    assert tree.minutes({"boot"}, frozenset({"panel"})) == 5.0
    assert tree.minutes({"boot", "panel"}, frozenset({"panel", "boot"})) == 0.0
    assert [opening.id for opening in tree.to_open({"boot"}, frozenset())] == ["panel", "boot"]


def test_impossible_trees_are_refused() -> None:
    with pytest.raises(InputError, match=r"'b', field parent: 'seet' is no opening.*'seat'"):
        AccessTree((_opening("seat", 1.0), _opening("b", 1.0, "seet")))
    with pytest.raises(InputError, match="closes a ring"):
        AccessTree((_opening("a", 1.0, "b"), _opening("b", 1.0, "a")))
    with pytest.raises(InputError, match="'a' is given twice"):
        AccessTree((_opening("a", 1.0), _opening("a", 2.0)))
    with pytest.raises(InputError, match=r"access 'bot'.*'boot'"):
        C3.access.opening("bot")


def _why(cost: Cost) -> list[str]:
    return [why for why, _ in cost.parts]


def test_changes_of_mode_by_hand(book: Book, three_phase: Catalogue) -> None:
    """Start 1, warm-up 12, plug 2 each way, cool-down 30 minutes: the shipped figures."""
    effort, get = book.effort, three_phase.get
    open_all = frozenset(effort.access.ids)
    cold = Situation(open=open_all)
    assert minutes(get("idle_v"), cold, effort).total == pytest.approx(1.0 + 1.5)
    assert minutes(get("high_hot_v"), cold, effort).total == pytest.approx(1.0 + 12.0 + 1.5)
    hot = after(get("high_hot_v"), cold, effort)
    assert hot.mode == Mode(engine=Engine.RUNNING, warmth=Warmth.HOT)
    assert minutes(get("pair_hot_ohm_ab"), hot, effort).total == pytest.approx(2.0 + 1.0)
    unplugged = after(get("pair_hot_ohm_ab"), hot, effort)
    # from unplugged and hot: stays unplugged, the engine is started for it
    assert minutes(get("ac_open_idle_v_ab"), unplugged, effort).total == pytest.approx(1.0 + 1.5)
    assert minutes(get("pair_ohm_ab"), unplugged, effort).total == pytest.approx(30.0 + 1.0)
    # from unplugged and cold a hot reading wants the plug back, a warm-up, the plug off again
    cold_unplugged = after(get("pair_ohm_ab"), cold, effort)
    way_back = minutes(get("pair_hot_ohm_bc"), cold_unplugged, effort)
    assert way_back.total == pytest.approx(2.0 + 1.0 + 12.0 + 2.0 + 1.0)
    # the engine is stopped to take the plug off, and started again
    idling = after(get("idle_v"), cold, effort)
    unplug = minutes(get("ac_open_idle_v_ab"), idling, effort)
    assert unplug.total == pytest.approx(2.0 + 1.0 + 1.5)
    # battery lead off and on
    dead = after(get("diode_up_a"), cold, effort)
    assert dead.mode == Mode(plug_in=False, battery_in=False)
    assert minutes(get("idle_v"), dead, effort).total == pytest.approx(2.0 + 2.0 + 1.0 + 1.5)


def test_charging_is_paid_once_and_ends_the_as_found_readings(
    book: Book, three_phase: Catalogue
) -> None:
    effort, get = book.effort, three_phase.get
    start = Situation(open=frozenset(effort.access.ids))
    first = minutes(get("load_v"), start, effort)
    assert first.total == pytest.approx(8.0 + 4.0)
    assert first.wait_h == pytest.approx(9.0)
    charged = after(get("load_v"), start, effort)
    assert minutes(get("rest_charged_v"), charged, effort) == Cost(
        1.0, ((get("rest_charged_v").title, 1.0),)
    )
    assert math.isinf(minutes(get("rest_v"), charged, effort).total)
    assert minutes(get("charge_battery"), charged, effort).total == 0.0
    act = minutes(get("charge_battery"), start, effort)
    assert (act.total, act.wait_h) == (8.0, 9.0)
    assert after(get("charge_battery"), start, effort).mode.charged
    assert state_in(get("mid_v"), charged).battery_charged
    assert not state_in(get("mid_v"), start).battery_charged


def test_charging_pays_for_what_it_opens(book: Book, three_phase: Catalogue) -> None:
    """Seat 2, battery posts 1, charger hooked 2 minutes, then 8 of charging and 4 of load test."""
    cost = minutes(three_phase.get("load_v"), Situation(), book.effort)
    assert cost.total == pytest.approx(2.0 + 1.0 + 2.0 + 8.0 + 4.0)
    assert "charger" in after(three_phase.get("load_v"), Situation(), book.effort).open


def test_hours_on_the_charger_leave_the_machine_cold(book: Book, three_phase: Catalogue) -> None:
    effort, get = book.effort, three_phase.get
    hot = after(get("high_hot_v"), Situation(), effort)
    assert after(get("load_v"), hot, effort).mode.warmth is Warmth.COLD


SHIPPED = load_book()
CHECKS = SHIPPED.catalogue(Layout(), Speeds(1200.0, 3000.0, 5000.0)).checks
some_checks = st.lists(st.sampled_from(CHECKS), min_size=1, max_size=8)


@given(some_checks)
def test_total_is_the_sum_of_parts_and_no_part_is_negative(order: list[Check]) -> None:
    situation = Situation()
    for check in order:
        cost = minutes(check, situation, SHIPPED.effort)
        assert all(part >= 0.0 for _, part in cost.parts)
        assert cost.total == math.fsum(part for _, part in cost.parts)
        assert cost.wait_h >= 0.0
        following = after(check, situation, SHIPPED.effort)
        assert following.open >= situation.open
        again = minutes(check, following, SHIPPED.effort)
        assert again.total == (0.0 if check.is_act else pytest.approx(check.minutes))
        if math.isinf(cost.total):
            break
        situation = following


def _mode_key(check: Check) -> tuple[object, ...]:
    state = check.state
    return state.engine, state.plug_in, state.battery_in, check.warmth, check.charged


@settings(max_examples=50)
@given(st.data())
def test_order_does_not_matter_within_one_mode(data: st.DataObject) -> None:
    keys = sorted({_mode_key(c) for c in CHECKS if not c.is_act}, key=str)
    key = data.draw(st.sampled_from(keys))
    same = [c for c in CHECKS if not c.is_act and _mode_key(c) == key]
    chosen = data.draw(st.lists(st.sampled_from(same), min_size=1, max_size=6, unique=True))
    other = data.draw(st.permutations(chosen))

    def total(order: list[Check]) -> float:
        situation, whole = Situation(), 0.0
        for check in order:
            whole += minutes(check, situation, SHIPPED.effort).total
            situation = after(check, situation, SHIPPED.effort)
        return whole

    assert total(list(other)) == pytest.approx(total(chosen))
