"""Every text the pictures write by themselves. Another language is another mapping."""

from __future__ import annotations

import re
from collections.abc import Mapping

from chargewright.checks.word import FUNCTION_WORDS
from chargewright.machine.points import POINT_TITLES, Engine, Function, Load, Point, State, Warmth

Words = Mapping[str, str]
FIGURE = re.compile(r"[-<>]?\d+(\.\d+)?( [^\s\d]+)?")

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
    "part.headlamp": "headlamp",
    "part.field": "field",
    "lead.light": "light",
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
    "look.places": "blue: where to look",
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
    "reading.title": "Reading against its limits",
    "reading.value": "Reading {value} {unit}, give or take {half} {unit}",
    "reading.above": "Reading: above {value}",
    "reading.below": "Reading: below {value}",
    "verdict.inside": "Within the limits",
    "verdict.outside": "Outside the limits",
    "verdict.undecided": "This meter cannot decide it",
    "chance.within": "The true value is within the limits with a chance of {share}.",
    "chance.beyond": "The true value is outside the limits with a chance of {share}.",
    "share.under": "under 1 %",
    "share.over": "over 99 %",
    "limit.low": "lowest allowed",
    "limit.high": "highest allowed",
    "limit.both": "Allowed: {low} to {high}.",
    "limit.least": "Allowed: at least {low}.",
    "limit.most": "Allowed: at most {high}.",
    "legend.allowed": "allowed",
    "legend.within": "where the true value may be: within the limits",
    "legend.beyond": "the same, outside the limits",
    "expected.title": "What the check would read",
    "expected.reading": "Reading: {value}",
    "expected.note": "Bar: nine readings in ten with this cause; stroke: the middle one.",
    "expected.look": "Bar: how often it is seen with this cause.",
    "expected.seen": "seen in {share} of cases",
    "expected.span": "{low} to {high}",
    "waves.title": "Waveforms",
    "waves.time": "time, ms",
    "waves.crank": "crank angle, degrees",
    "waves.charging": "charging",
    "waves.cut": "held off",
    "waves.sound": "sound machine",
    "waves.this": "this",
    "waves.other": "sound, mean",
    "waves.span": "{curve} {low} to {high} {unit}",
    "waves.shares": "the regulator holds charging off {cut} of the time",
    "waves.unsettled": "no steady state was reached: take these curves as a rough guide",
    "waves.phases": "Current in the leads",
    "waves.legs": "Leads to frame",
    "waves.pairs": "Between leads",
    "waves.output": "Regulator output",
    "waves.battery": "Battery",
    "trend.title": "The same check over the years",
    "trend.none": "No reading yet.",
    "trend.after": "after a repair",
    "trend.before": "as found",
    "trend.one": "{date}: {value}",
    "shares.title": "Causes and their shares",
    "shares.now": "now",
    "figure.decimal": ".",
    "figure.ohm": "ohm",
    "shares.before": "before this reading",
    "shares.one": "{title}: {now}",
    "shares.moved": "{title}: {now}, before {before}",
}


def say(words: Words, key: str, **values: object) -> str:
    """Return the text ``key`` with its values put in; in English where a language lacks it."""
    put = {name: written(words, value) for name, value in values.items()}
    return words.get(key, ENGLISH[key]).format(**put)


def written(words: Words, value: object) -> object:
    """Return a figure, with its unit or without, as a language writes it; other values as given.

    >>> written({"figure.decimal": ",", "figure.ohm": "Ω"}, "0.38 kohm")
    '0,38 kΩ'
    """
    if not isinstance(value, str) or FIGURE.fullmatch(value) is None:
        return value
    decimal, ohm = (words.get(key, ENGLISH[key]) for key in ("figure.decimal", "figure.ohm"))
    return value.replace(".", decimal).replace("ohm", ohm)


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


def percent(share: float, words: Words = ENGLISH) -> str:
    """Return a share in whole percent, never a false certainty.

    >>> percent(0.163), percent(0.0004), percent(0.9999)
    ('16 %', 'under 1 %', 'over 99 %')
    """
    if share < 0.005:
        return say(words, "share.under")
    return say(words, "share.over") if share >= 0.995 else f"{share:.0%}".replace("%", " %")


def chance_words(words: Words, share: float) -> str:
    """Return the chance that the true value is within the limits, as a sentence."""
    if share >= 0.5:
        return say(words, "chance.within", share=percent(share, words))
    return say(words, "chance.beyond", share=percent(1.0 - share, words))
