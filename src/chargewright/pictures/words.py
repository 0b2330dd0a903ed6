"""Every text the pictures write by themselves. Another language is another mapping."""

from __future__ import annotations

from collections.abc import Mapping

from chargewright.checks.word import FUNCTION_WORDS
from chargewright.machine.points import POINT_TITLES, Engine, Function, Load, Point, State, Warmth

Words = Mapping[str, str]

ENGLISH: Words = {
    **{f"point.{point.word}": title for point, title in POINT_TITLES.items()},
    **{f"function.{function.value}": text for function, text in FUNCTION_WORDS.items()},
    "function.dc_a": "DC amperes, meter in the wire",
    "function.clamp_a": "DC clamp round the wire",
    "function.look": "look, no meter",
    "function.act": "no meter",
    "part.alternator": "alternator",
    "part.plug": "plug",
    "part.regulator": "regulator-rectifier",
    "part.rectifier": "rectifier",
    "part.fuse": "main fuse",
    "part.battery": "battery",
    "part.loads": "loads",
    "part.starter": "starter",
    "part.frame": "frame",
    "part.sense": "sense",
    "sign.positive": "+",
    "lead.a": "A",
    "lead.b": "B",
    "lead.c": "C",
    "plug.open": "open",
    "plug.closed": "closed",
    "battery.off": "lead off",
    "probe.red": "RED on {point}",
    "probe.black": "BLACK on {point}",
    "probe.both": "RED and BLACK together on {point}",
    "clamp.round": "CLAMP round the wire; arrow from {plus} to {minus}",
    "series.red": "wire taken off; RED on {point}",
    "look.at": "LOOK at {point}",
    "route": "blue band: the path this check looks at",
    "route.blocked": "dashed: nothing should pass this way",
    "state.off": "engine off",
    "state.key_on": "key on",
    "state.key_off": "key off",
    "state.cranking": "engine cranking",
    "state.running": "engine running",
    "state.rpm": "engine at {rpm} rpm",
    "state.rpm_range": "engine between {rpm} and {rpm_max} rpm",
    "state.lights_on": "lights on",
    "state.plug_out": "alternator plug open",
    "state.battery_out": "battery lead off",
    "state.hot": "hot",
    "state.load_tester": "battery under the load tester",
    "state.headlamp": "battery loaded by the headlamp",
    "state.charged": "battery charged first",
    "circuit.title": "Charging circuit: {check}",
    "circuit.none": "no probes",
}


def say(words: Words, key: str, **values: object) -> str:
    """Return the text ``key`` with its values put in; in English where a language lacks it."""
    return words.get(key, ENGLISH[key]).format(**values)


def point_words(words: Words, point: Point) -> str:
    """Return what a technician calls a test point."""
    return say(words, f"point.{point.word}")


def dial_words(words: Words, function: Function | None) -> str:
    """Return what the dial is set to."""
    return say(words, f"function.{function.value if function is not None else 'act'}")


def state_words(words: Words, state: State) -> str:
    """Return how the machine stands, as ``engine at 5000 rpm, lights on``."""
    return ", ".join(say(words, key, **values) for key, values in _state(state))


def _state(state: State) -> list[tuple[str, dict[str, str]]]:
    found: list[tuple[str, dict[str, str]]] = []
    if state.engine is Engine.CRANKING:
        found.append(("state.cranking", {}))
    elif state.engine is Engine.OFF:
        found += [("state.off", {}), ("state.key_on" if state.key_on else "state.key_off", {})]
    elif state.rpm is None:
        found.append(("state.running", {}))
    elif state.rpm_max is not None:
        span = {"rpm": f"{state.rpm:g}", "rpm_max": f"{state.rpm_max:g}"}
        found.append(("state.rpm_range", span))
    else:
        found.append(("state.rpm", {"rpm": f"{state.rpm:g}"}))
    rest = {
        "state.lights_on": state.lights_on and state.load is not Load.HEADLAMP,
        "state.plug_out": not state.plug_in,
        "state.battery_out": not state.battery_in,
        "state.hot": state.warmth is Warmth.HOT,
        "state.load_tester": state.load is Load.LOAD_TESTER,
        "state.headlamp": state.load is Load.HEADLAMP,
        "state.charged": state.battery_charged,
    }
    return found + [(key, {}) for key, holds in rest.items() if holds]
