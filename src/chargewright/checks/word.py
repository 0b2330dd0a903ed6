"""Readings in words and back: any reading can be described, a known one is recognised."""

from __future__ import annotations

import re

from chargewright.checks.catalogue import Catalogue, Check
from chargewright.checks.parse import parse_point
from chargewright.checks.safety import ALTERNATOR, BEYOND_PLUG, RESISTANCE
from chargewright.errors import InputError
from chargewright.machine.points import (
    POINT_TITLES,
    Engine,
    Function,
    Load,
    Point,
    State,
    Warmth,
)

FUNCTION_WORDS = {
    Function.DC_V: "DC volts",
    Function.AC_V: "AC volts",
    Function.OHM: "ohms",
    Function.DIODE: "diode test",
    Function.DC_A: "DC amperes in series",
    Function.CLAMP_A: "DC clamp",
    Function.LOOK: "look",
}
POLARISED = frozenset({Function.DC_V, Function.DIODE, Function.DC_A, Function.CLAMP_A})
SAME_SPEED = 0.10  # speeds this close are the same check: what an ear can hold (assumed)
SEPARATORS = re.compile(r"\s*(?:->|,|:|/|\bto\b|\s)\s*")


def describe(
    function: Function | None, plus: Point | None, minus: Point | None, state: State
) -> str:
    """Return one plain sentence, without its full stop, for any reading in any state.

    >>> from chargewright.machine.points import Engine, Function, Point, State
    >>> running = State(engine=Engine.RUNNING, rpm=5000, lights_on=True)
    >>> print(describe(Function.DC_V, Point.BATTERY_POS, Point.BATTERY_NEG, running))
    ... # doctest: +NORMALIZE_WHITESPACE
    DC volts, red on battery positive post, black on battery negative post, engine at 5000 rpm,
    lights on
    """
    what = "act" if function is None else FUNCTION_WORDS[function]
    parts = [what, *_probes(function, plus, minus), *_engine(state), *_rest(state)]
    return ", ".join(parts)


def describe_check(check: Check) -> str:
    """Return the sentence for a catalogue check."""
    return describe(check.function, check.plus, check.minus, check.state)


def parse_points(text: str) -> tuple[Point, Point]:
    """Return (red, black) from a text such as ``battery_pos, frame`` or ``alt_a to alt_b``.

    Raises ``InputError`` when there are not two points or one of them is unknown.

    >>> parse_points("battery_pos -> frame")
    (<Point.BATTERY_POS: 1>, <Point.FRAME: 5>)
    """
    words = [word for word in SEPARATORS.split(text.strip().lower()) if word]
    if len(words) != 2:
        raise InputError(
            f"test points {text!r}: {len(words)} given; expected two, as 'battery_pos, battery_neg'"
        )
    return parse_point(words[0]), parse_point(words[1])


def match(
    function: Function, plus: Point | None, minus: Point | None, state: State, catalogue: Catalogue
) -> Check | None:
    """Return the catalogue check that means the same as this reading, or None.

    Probes may be swapped where the function has no polarity. Speeds within 10 % are the
    same; a speed that is not known, or a range, matches nothing.
    """
    found = [
        check
        for check in catalogue
        if check.function is function
        and _same_points(check, plus, minus)
        and _same_state(check, state)
    ]
    return min(found, key=lambda check: _closeness(check, state), default=None)


def _closeness(check: Check, state: State) -> tuple[float, int]:
    """Return how far a matching check is: speed first, then the more demanding one."""
    gap = abs((state.rpm or 0.0) - (check.state.rpm or 0.0))
    return gap, -((check.warmth is not None) + (check.charged is not None))


def _same_points(check: Check, plus: Point | None, minus: Point | None) -> bool:
    if (check.plus, check.minus) == (plus, minus):
        return plus is not None
    return check.function not in POLARISED and (check.plus, check.minus) == (minus, plus)


def _same_state(check: Check, state: State) -> bool:
    want = check.state
    if (want.engine, want.load) != (state.engine, state.load) or not _same_speed(want, state):
        return False
    if want.full_field is not state.full_field:
        return False
    if check.warmth is not None and check.warmth is not state.warmth:
        return False
    if check.charged is not None and check.charged is not state.battery_charged:
        return False
    return all(getattr(want, name) == getattr(state, name) for name in _matters(check))


def _same_speed(want: State, state: State) -> bool:
    if want.engine is not Engine.RUNNING:
        return True
    if want.rpm is None or state.rpm is None or state.rpm_max is not None:
        return False
    return abs(state.rpm - want.rpm) <= SAME_SPEED * want.rpm


def _matters(check: Check) -> list[str]:
    """Return the switches and plugs of the state that change what this check shows."""
    points = frozenset(point for point in (check.plus, check.minus) if point is not None)
    if check.plus is check.minus:
        return []
    names = []
    alternator_alone = not check.state.plug_in and points <= ALTERNATOR | {Point.FRAME}
    if check.state.engine is not Engine.OFF or points & BEYOND_PLUG:
        names.append("plug_in")
    if check.function in RESISTANCE and not alternator_alone:
        names.append("battery_in")
    if check.state.engine is Engine.OFF and check.state.load is Load.NONE and not alternator_alone:
        names.append("key_on")
    if check.state.engine is Engine.RUNNING and check.state.plug_in:
        names.append("lights_on")
    return names


def _probes(function: Function | None, plus: Point | None, minus: Point | None) -> list[str]:
    if plus is None or minus is None:
        return []
    red, black = POINT_TITLES[plus], POINT_TITLES[minus]
    if function is Function.LOOK:
        return [f"at {red}"] if plus is minus else [f"from {red} to {black}"]
    if plus is minus:
        return [f"both probes on {red}"]
    if function is Function.CLAMP_A:
        return [f"round the wire from {red} to {black}, arrow that way"]
    if function is Function.DC_A:
        return [f"in place of the wire from {red} to {black}, red on {red}"]
    return [f"red on {red}", f"black on {black}"]


def _engine(state: State) -> list[str]:
    if state.engine is Engine.CRANKING:
        return ["engine cranking"]
    if state.engine is Engine.OFF:
        return ["engine off", "key on" if state.key_on else "key off"]
    if state.rpm is None:
        return ["engine running, speed not known"]
    if state.rpm_max is not None:
        return [f"engine between {state.rpm:g} and {state.rpm_max:g} rpm"]
    return [f"engine at {state.rpm:g} rpm"]


def _rest(state: State) -> list[str]:
    words = {
        "lights on": state.lights_on and state.load is not Load.HEADLAMP,
        "alternator plug open": not state.plug_in,
        "battery lead off": not state.battery_in,
        "hot": state.warmth is Warmth.HOT,
        "warmth not known": state.warmth is Warmth.UNKNOWN,
        "battery under the load tester": state.load is Load.LOAD_TESTER,
        "battery loaded by the headlamp": state.load is Load.HEADLAMP,
        "battery charged first": state.battery_charged,
        "field fed by a jumper": state.full_field,
    }
    return [text for text, holds in words.items() if holds]
