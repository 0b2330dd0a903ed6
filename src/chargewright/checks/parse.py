"""One entry of ``checks.toml`` as a check."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import Any

from chargewright.checks.catalogue import FEATURES, Check
from chargewright.checks.entry import Entry
from chargewright.checks.looks import QUANTITIES, Sign, Trigger
from chargewright.errors import InputError, nearest
from chargewright.machine.points import (
    POINT_BY_WORD,
    Engine,
    Function,
    Load,
    Point,
    State,
    Warmth,
)

ACT = "act"
SPEED_WORDS = ("idle", "mid", "high")
SPEED_LIMIT_RPM = 20000.0
CHECK_FIELDS = (
    "id", "title", "function", "plus", "minus", "state", "requires", "needs", "minutes",
    "wait_h", "how", "cautions", "sign",
)  # fmt: skip
STATE_FIELDS = (
    "engine", "rpm", "key_on", "lights_on", "plug_in", "battery_in", "warmth", "load",
    "battery_charged", "rest_h", "full_field",
)  # fmt: skip
SHORTEST_MIN, LONGEST_MIN = 0.1, 600.0


def expand_legs(raw: list[Entry]) -> list[Entry]:
    """Return the entries with every ``legs`` list turned into one entry per element.

    ``legs = ["ab", "bc"]`` makes two checks; {x} and {y} in any text stand for the first and
    second letter, {X} and {Y} for their capitals.
    """
    return [one for entry in raw for one in (_per_leg(entry) if entry.has("legs") else [entry])]


def _per_leg(entry: Entry) -> list[Entry]:
    legs = entry.words("legs", {"a", "b", "c", "ab", "bc", "ca"})
    table = {key: value for key, value in entry.table.items() if key != "legs"}
    return [replace(entry, id=f"{entry.id}_{leg}", table=_fill(table, leg)) for leg in legs]


def _fill(value: Any, leg: str) -> Any:  # noqa: ANN401 - TOML values of any kind pass through
    if isinstance(value, dict):
        return {key: _fill(item, leg) for key, item in value.items()}
    if isinstance(value, list):
        return [_fill(item, leg) for item in value]
    if not isinstance(value, str):
        return value
    x, y = leg[0], leg[-1]
    for mark, letter in (("{x}", x), ("{y}", y), ("{X}", x.upper()), ("{Y}", y.upper())):
        value = value.replace(mark, letter)
    return value


def parse_check(entry: Entry, access: Collection[str], cautions: Collection[str]) -> Check:
    """Return the check of one entry; raises ``InputError`` on the first wrong field."""
    entry.only(CHECK_FIELDS)
    function = _function(entry)
    state = entry.inside("state")
    state.only(STATE_FIELDS)
    plus, minus = _pair(entry, function)
    return Check(
        id=entry.id,
        title=entry.text("title"),
        function=function,
        plus=plus,
        minus=minus,
        state=_state(state),
        speed=_speed(state),
        warmth=state.choice("warmth", Warmth) if state.has("warmth") else None,
        charged=state.flag("battery_charged", False) if state.has("battery_charged") else None,
        requires=frozenset(entry.words("requires", FEATURES)),
        needs=frozenset(entry.words("needs", access)),
        minutes=entry.number("minutes", low=SHORTEST_MIN, high=LONGEST_MIN),
        wait_h=entry.number("wait_h", low=0.0, high=100.0, default=0.0),
        how=entry.text("how"),
        cautions=entry.words("cautions", cautions),
        sign=_sign(entry, function),
    )


def parse_point(word: str) -> Point:
    """Return the test point called ``word`` in cards and data files."""
    point = POINT_BY_WORD.get(word)
    if point is None:
        raise InputError(f"test point {word!r}: {nearest(word, POINT_BY_WORD)}")
    return point


def _function(entry: Entry) -> Function | None:
    if entry.table.get("function") == ACT:
        return None
    if entry.table.get("function") not in list(Function):
        entry.fail("function", f"expected one of {', '.join([*Function, ACT])}")
    return entry.choice("function", Function)


def _pair(entry: Entry, function: Function | None) -> tuple[Point | None, Point | None]:
    if function is None or (function is Function.LOOK and not entry.has("plus")):
        for field in ("plus", "minus"):
            if entry.has(field):
                entry.fail(field, "expected no test points here")
        return None, None
    return _point(entry, "plus"), _point(entry, "minus")


def _point(entry: Entry, field: str) -> Point:
    word = entry.text(field)
    if word not in POINT_BY_WORD:
        entry.fail(field, f"no such test point, {nearest(word, POINT_BY_WORD)}")
    return POINT_BY_WORD[word]


def _speed(state: Entry) -> str | float | None:
    if not state.has("rpm"):
        return None
    if state.table.get("engine") != Engine.RUNNING:
        state.fail("rpm", "expected a speed only with engine = 'running'")
    given = state.table["rpm"]
    if isinstance(given, str):
        if given not in SPEED_WORDS:
            state.fail("rpm", "expected idle, mid, high or a number of rpm")
        return given
    return state.number("rpm", low=1.0, high=SPEED_LIMIT_RPM)


def _state(entry: Entry) -> State:
    blank = State()
    return State(
        engine=entry.choice("engine", Engine, blank.engine),
        key_on=entry.flag("key_on", blank.key_on),
        lights_on=entry.flag("lights_on", blank.lights_on),
        plug_in=entry.flag("plug_in", blank.plug_in),
        battery_in=entry.flag("battery_in", blank.battery_in),
        warmth=entry.choice("warmth", Warmth, blank.warmth),
        load=entry.choice("load", Load, blank.load),
        battery_charged=entry.flag("battery_charged", blank.battery_charged),
        rest_h=entry.number("rest_h", low=0.0, high=1000.0, default=blank.rest_h),
        full_field=entry.flag("full_field", blank.full_field),
    )


def _sign(entry: Entry, function: Function | None) -> Sign | None:
    if function is not Function.LOOK:
        if entry.has("sign"):
            entry.fail("sign", "expected only with function = 'look'")
        return None
    sign = entry.inside("sign")
    sign.only(("least", "most", "triggers"))
    least = sign.number("least", low=0.0, high=1.0)
    triggers = sign.table.get("triggers")
    if not isinstance(triggers, list) or not triggers:
        sign.fail("triggers", "expected a list of tables with quantities, at and width")
    return Sign(
        least=least,
        most=sign.number("most", low=least, high=1.0),
        triggers=tuple(_trigger(sign, number, table) for number, table in enumerate(triggers)),
    )


def _trigger(sign: Entry, number: int, table: object) -> Trigger:
    if not isinstance(table, dict):
        sign.fail("triggers", "expected a list of tables with quantities, at and width")
    entry = replace(sign, id=f"{sign.id}.triggers[{number}]", table=table)
    entry.only(("quantities", "at", "width"))
    quantities = entry.words("quantities", QUANTITIES)
    if not quantities:
        entry.fail("quantities", "expected at least one name")
    return Trigger(
        quantities=quantities,
        at=entry.number("at", low=1e-9, high=1e9),
        width=entry.number("width", low=0.01, high=10.0),
    )
