"""Readings, limits, states and dates in the words of a report."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from math import floor, log10

from chargewright.checks.word import FUNCTION_WORDS, describe
from chargewright.diagnosis import number_words
from chargewright.diagnosis.explain import shown_text, span_text
from chargewright.diagnosis.findings import Judged
from chargewright.diagnosis.number_words import quantity
from chargewright.diagnosis.question import Answer
from chargewright.jobs.card import Battery, JobCard
from chargewright.machine.points import POINT_TITLES, Function, Point
from chargewright.machine.prior import complaints
from chargewright.meters.verdict import Outcome as Verdict
from chargewright.report.document import Tone
from chargewright.report.evidence import Zone
from chargewright.report.say import figures, language, say
from chargewright.texts.catalogue import ENGLISH

MULTIPLES = {"m": 1e-3, "k": 1e3, "M": 1e6}
KM_PER_MILE = 1.609344  # exact
NARROW = "\N{NARROW NO-BREAK SPACE}"
TONES = {Verdict.INSIDE: Tone.GOOD, Verdict.OUTSIDE: Tone.BAD, Verdict.UNDECIDED: Tone.OPEN}
CHEMISTRIES = {"flooded": "flooded lead-acid", "agm": "AGM", "gel": "gel", "lifepo4": "LiFePO4"}


def figure(value: float, unit: str) -> str:
    """Return a limit in the multiple a meter shows such a reading in.

    >>> figure(0.2, "V"), figure(0.05, "V"), figure(1e6, "ohm")
    ('0.2 V', '50 mV', '1 Mohm')
    """
    plain = f"{value:.4g} V" if unit == "V" and abs(value) >= 0.1 else quantity(value, unit)
    return figures(plain)


def percent(share: float) -> str:
    """Return a share in whole percent, never a false certainty."""
    return figures(number_words.percent(share))


def minutes_text(minutes: float, wait_h: float = 0.0) -> str:
    """Return minutes of attention, and hours of waiting where there are any."""
    return figures(number_words.minutes_text(minutes, wait_h))


def severity_text(severity: Sequence[str]) -> str:
    """Return how bad a cause is, with the span of 90 %."""
    return say(number_words.severity_text(severity))


def limit_words(low: float | None, high: float | None, unit: str) -> str:
    """Return what a limit asks for."""
    if low is not None and high is not None:
        return say("{span}", span=figures(span_text(low, high, unit)))
    if low is not None:
        return say("at least {limit}", limit=figure(low, unit))
    return say("at most {limit}", limit=figure(high, unit)) if high is not None else ""


def zone_words(zone: Zone, unit: str) -> str:
    """Return where a sound machine reads, as part of a caption."""
    limit = limit_words(zone.low, zone.high, unit)
    if zone.published:
        return say("should be {limit}", limit=limit)
    return say("a sound machine of this kind reads {limit}", limit=limit)


def outcome_words(one: Judged) -> str:
    """Return a verdict in one word or two."""
    return {
        Verdict.INSIDE: say("inside"),
        Verdict.OUTSIDE: say("OUTSIDE"),
        Verdict.UNDECIDED: say("not decidable"),
    }[one.verdict.outcome]


def chance_words(one: Judged) -> str:
    """Return the probability that the true value lies within the limit."""
    inside = one.verdict.p_conform
    return say("open") if inside is None else percent(inside)


def reading_words(answer: Answer) -> str:
    """Return what was shown."""
    if answer.question.function is Function.LOOK:
        return say("sign seen") if answer.seen else say("no sign")
    return figures(shown_text(answer))


def plus_minus(half: float, shown: str) -> str:
    """Return half an interval with two figures, in the multiple the reading is shown in.

    >>> plus_minus(0.1047, "12.31 V"), plus_minus(0.0031, "461 mV"), plus_minus(360.0, "22.0 kohm")
    ('0.10 V', '3.1 mV', '0.36 kohm')
    """
    unit = shown.rsplit(" ", 1)[-1]
    scale = MULTIPLES.get(unit[0], 1.0) if len(unit) > 1 and unit != "ohm" else 1.0
    value = half / scale
    places = 0 if value <= 0.0 else max(0, 1 - floor(log10(value)))
    return figures(f"{value:.{places}f} {unit}")


def state_words(answer: Answer) -> str:
    """Return how the machine stood, as ``engine at 5000 rpm, lights on``."""
    state = answer.question.state
    text = describe(None, None, None, state).removeprefix("act, ")
    parts = [say(part) for part in text.split(", ")]
    if state.engine.value == "running":
        parts[0] = f"{parts[0]} ±{figures(f'{state.rpm_rel_u:.0%}')}"
    if state.engine.value == "off":
        parts.append(say("rested {hours} h", hours=figures(f"{state.rest_h:g}")))
    return ", ".join(parts if state.warmth.value == "hot" else [*parts, say("cold")])


def dial_words(answer: Answer) -> str:
    """Return what the meter's dial was set to and where the probes were."""
    question = answer.question
    if question.plus is None or question.minus is None:
        return say(FUNCTION_WORDS[question.function])
    return say(
        "{dial}, {plus} / {minus}",
        dial=say(FUNCTION_WORDS[question.function]),
        plus=point_words(question.plus),
        minus=point_words(question.minus),
    )


def point_words(point: Point) -> str:
    """Return a test point: its short word in English, its name in any other language."""
    return point.word if language() == ENGLISH else say(POINT_TITLES[point])


def complaint_words(card: JobCard) -> str:
    """Return why the machine came in, without the customer's own words."""
    kind = card.complaint.kind
    return say(complaints()[kind].title) if kind is not None and kind in complaints() else ""


def battery_words(battery: Battery) -> str:
    """Return the battery as its label says; empty when nobody looked."""
    parts = []
    if battery.chemistry is not None:
        parts.append(say(CHEMISTRIES[battery.chemistry.value]))
    if battery.capacity_ah is not None:
        parts.append(say("{ah} Ah", ah=figures(f"{battery.capacity_ah:g}")))
    if battery.cca_a is not None:
        standard = "" if battery.cca_standard is None else battery.cca_standard.value.upper()
        parts.append(
            say("{amps} A {standard}", amps=figures(f"{battery.cca_a:g}"), standard=standard)
        )
    if battery.age_years is not None:
        parts.append(say("{years} years old", years=figures(f"{battery.age_years:g}")))
    return ", ".join(part.strip() for part in parts)


def use_words(card: JobCard) -> str:
    """Return distance and engine hours; empty when nobody noted them."""
    parts = []
    if (km := card.machine.mileage_km) is not None:
        parts.append(
            say("{km} km ({miles} miles)", km=grouped(km), miles=grouped(km / KM_PER_MILE))
        )
    if card.machine.engine_h is not None:
        parts.append(say("{hours} engine hours", hours=grouped(card.machine.engine_h)))
    return ", ".join(parts)


def grouped(value: float) -> str:
    """Return a whole number, thousands set apart.

    >>> grouped(41200.0).split(NARROW)
    ['41', '200']
    """
    return f"{value:,.0f}".replace(",", NARROW)


def day(moment: datetime) -> str:
    """Return a date, as 2026-08-01 in English."""
    return say(
        "{year}-{month}-{day}", year=f"{moment:%Y}", month=f"{moment:%m}", day=f"{moment:%d}"
    )
