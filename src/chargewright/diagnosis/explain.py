"""Why: which readings moved which cause, in sentences made from the numbers.

A reading's say about a cause is how many times it multiplied the cause's odds, everything else
known: belief with the reading against belief without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from chargewright.diagnosis.belief import Belief
from chargewright.diagnosis.expected import Band, bands, members_with
from chargewright.diagnosis.question import Answer
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters.shown import Shown

WORTH_SAYING = 1.5  # odds factors nearer to 1 are not mentioned
LIKELY = 0.02  # causes below this share before and after a reading are not mentioned
MOST_FACTOR = 1e4
NEGLIGIBLE = 1e-9  # machines this far behind are left out of belief without a reading
MOST_SHARE = 1.0 - 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Say:
    """What one reading did to one cause: its odds were multiplied by ``factor``."""

    cause: str
    title: str
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One reading: what it did to causes, what they had led to expect, chance of a blunder."""

    id: str
    title: str
    says: tuple[Say, ...]
    expected: tuple[Band, ...]
    doubt: float
    sentence: str


def evidence(belief: Belief, causes: Sequence[tuple[str, str]]) -> tuple[Evidence, ...]:
    """Return the evidence of every answer about the given causes (id, title)."""
    doubt = belief.doubt()
    return tuple(
        _one(belief, row, answer, causes, float(doubt[row]))
        for row, answer in enumerate(belief.answers)
    )


def without(belief: Belief, row: int) -> Array:
    """Return the weights (n,) the belief would have without answer number ``row``."""
    logs = np.log(np.maximum(belief.weights, 1e-300)) - belief.log_likelihood[row]
    logs = np.where(belief.weights > 0.0, logs, -np.inf)
    weights = np.exp(logs - logs.max())
    weights[weights < NEGLIGIBLE] = 0.0
    return np.asarray(weights / weights.sum())


def _one(
    belief: Belief,
    row: int,
    answer: Answer,
    causes: Sequence[tuple[str, str]],
    doubt: float,
) -> Evidence:
    before = without(belief, row)
    says: list[Say] = []
    for cause, title in causes:
        has = members_with(belief.population, cause)
        was, now = float(before[has].sum()), float(belief.weights[has].sum())
        if max(was, now) >= LIKELY:
            says.append(Say(cause=cause, title=title, factor=_odds(now) / _odds(was)))
    says.sort(key=lambda say: -abs(np.log(say.factor)))
    told = [(say.cause, say.title) for say in says[:3]]
    expected = bands(
        belief,
        answer.question,
        told,
        meter=answer.meter,
        nulled=answer.nulled,
        weights=before,
        before=answer.before,
    )
    return Evidence(
        id=answer.id,
        title=answer.title,
        says=tuple(says),
        expected=expected,
        doubt=doubt,
        sentence=_sentence(answer, says, expected, doubt),
    )


def _odds(share: float) -> float:
    share = min(max(share, 1e-9), MOST_SHARE)
    return share / (1.0 - share)


def _sentence(answer: Answer, says: Sequence[Say], expected: Sequence[Band], doubt: float) -> str:
    text = f"{answer.title}: {shown_text(answer)}."
    if doubt > 0.5:
        return (
            f"{text} Hardly any machine shows this beside the other readings "
            f"({doubt:.0%} likely a slip): repeat it."
        )
    moved = [say for say in says if not 1 / WORTH_SAYING < say.factor < WORTH_SAYING]
    if not moved:
        return f"{text} It fits the leading causes about equally well."
    clauses = [f"{band.title}: {band_text(band, answer.question.function)}" for band in expected]
    effects = [f"{say.title} {factor_text(say.factor)}" for say in moved[:3]]
    told = f" Expected with {'; with '.join(clauses)}." if clauses else ""
    return f"{text}{told} That makes {', '.join(effects)}."


def factor_text(factor: float) -> str:
    """Return an odds factor in words."""
    factor = min(max(factor, 1.0 / MOST_FACTOR), MOST_FACTOR)
    if factor >= 1.0:
        return f"{_figure(factor)} times likelier"
    return f"{_figure(1.0 / factor)} times less likely"


def _figure(value: float) -> str:
    return f"{value:.1f}" if value < 10 else f"{value:.0f}"


def band_text(band: Band, function: Function) -> str:
    """Return a band in words: a span with its unit, OL, or for a look the chance of its sign."""
    if function is Function.LOOK:
        return f"sign seen in {band.overload:.0%}"
    if band.low is None or band.high is None:
        return "OL"
    unit = function.unit
    span = span_text(band.low, band.high, unit)
    return f"{span} (OL in {band.overload:.0%})" if band.overload > 0.05 else span


def span_text(low: float, high: float, unit: str) -> str:
    """Return a span with the digits its width deserves.

    >>> span_text(0.1234, 0.1302, "V"), span_text(13.912, 14.633, "V")
    ('123 to 130 mV', '13.9 to 14.6 V')
    """
    scale, prefix = 1.0, ""
    largest = max(abs(low), abs(high))
    if largest >= 2000.0:
        scale, prefix = (1e-3, "k") if largest < 2e6 else (1e-6, "M")
    elif largest < 0.5 and unit != "ohm":
        scale, prefix = 1e3, "m"
    low, high = low * scale, high * scale
    width = max(high - low, 0.004 * max(abs(low), abs(high)), 1e-9)
    digits = int(min(max(np.ceil(-np.log10(width / 6.0)), 0), 3))
    a, b = f"{low:.{digits}f}", f"{high:.{digits}f}"
    a, b = ("0" if float(x) == 0.0 else x for x in (a, b))
    return f"{a} {prefix}{unit}" if a == b else f"{a} to {b} {prefix}{unit}"


def shown_text(answer: Answer) -> str:
    """Return what was shown, with its unit."""
    if answer.question.function is Function.LOOK:
        return "sign seen" if answer.seen else "no sign"
    assert answer.shown is not None
    return reading_text(answer.shown, answer.question.function.unit)


def reading_text(shown: Shown, unit: str) -> str:
    """Return a reading in words."""
    if shown.kind == "overload":
        return "OL"
    if shown.kind == "continuity":
        return "continuity"
    figure = _digits(shown.value, shown.lsd, unit)
    words = {"at_least": "at least ", "at_most": "at most ", "about": "about "}
    if shown.kind == "between" and shown.value_max is not None:
        return (
            f"{_digits(shown.value, shown.lsd, '')} to {_digits(shown.value_max, shown.lsd, unit)}"
        )
    return words.get(shown.kind, "") + figure


def _digits(value: float, lsd: float, unit: str) -> str:
    if unit in ("V", "A") and abs(value) < 1.0 and 0 < lsd < 0.005:
        return _digits(value * 1e3, lsd * 1e3, "m" + unit)
    if unit == "ohm" and abs(value) >= 1e4:
        return _digits(value / 1e3, lsd / 1e3, "kohm")
    places = 0 if lsd <= 0 else max(0, round(-np.log10(lsd)))
    return f"{value:.{places}f} {unit}".strip() if lsd > 0 else f"{value:g} {unit}".strip()
