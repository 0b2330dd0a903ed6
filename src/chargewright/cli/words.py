"""Numbers in the words of the bench. Pure functions; nothing is decided here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chargewright.diagnosis.number_words import (
    KIND_WORDS,
    minutes_text,
    percent,
    quantity,
    severity_text,
)

if TYPE_CHECKING:
    from chargewright.diagnosis.findings import Judged
    from chargewright.machine.limit import Limit
    from chargewright.machine.scatter import Scatter
    from chargewright.machine.sources import Source

__all__ = [
    "KIND_WORDS",
    "OUTCOME_STYLES",
    "OUTCOME_WORDS",
    "limit_text",
    "minutes_text",
    "percent",
    "quantity",
    "scatter_text",
    "severity_text",
    "source_text",
    "verdict_text",
]
OUTCOME_WORDS = {"inside": "INSIDE", "outside": "OUTSIDE", "undecided": "NOT DECIDABLE"}
OUTCOME_STYLES = {"inside": "green", "outside": "bold red", "undecided": "yellow"}


def limit_text(limit: Limit) -> str:
    """Return what a limit asks for."""
    low, high, unit = limit.low, limit.high, limit.unit
    if low is not None and high is not None:
        return f"{low:.4g} to {high:.4g} {unit}"
    if low is not None:
        return f"at least {quantity(low, unit)}"
    return f"at most {quantity(high, unit)}" if high is not None else "no limit"


def verdict_text(judged: Judged) -> str:
    """Return the limit of a verdict, and the chance that the true value is within it."""
    inside = judged.verdict.p_conform
    chance = "p open" if inside is None else f"p {percent(inside)}"
    return f"should be {limit_text(judged.limit)}, {chance}"


def scatter_text(scatter: Scatter, typical: float, unit: str) -> str:
    """Return the typical value of a parameter and where 95 % of sound units lie."""
    from math import exp

    from chargewright.machine.scatter import Z_95, Kind

    reach = Z_95 * scatter.spread
    ends = None
    if scatter.kind is Kind.UNIFORM:
        ends = scatter.low, scatter.high
    elif scatter.kind is Kind.NORMAL and reach:
        ends = typical - reach, typical + reach
    elif scatter.kind is Kind.LOGNORMAL and reach:
        ends = typical * exp(-reach), typical * exp(reach)
    text = quantity(typical, unit, digits=3)
    if ends is None:
        return text
    return f"{text} ({quantity(ends[0], unit, digits=3)} to {quantity(ends[1], unit, digits=3)})"


def source_text(source: Source) -> str:
    """Return how a figure is known, and from where."""
    kind = KIND_WORDS[source.kind.value]
    told = source.text.startswith(source.kind.value)
    return source.text if told else f"{kind}: {source.text}"
