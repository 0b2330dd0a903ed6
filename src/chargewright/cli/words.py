"""Numbers in the words of the bench. Pure functions; nothing is decided here."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from typing import TYPE_CHECKING

from chargewright.jobs.quantity_text import quantity

if TYPE_CHECKING:
    from chargewright.diagnosis.findings import Judged
    from chargewright.machine.limit import Limit
    from chargewright.machine.scatter import Scatter
    from chargewright.machine.sources import Source

KIND_WORDS = {
    "spec_sheet": "this machine's spec sheet",
    "published": "published figures of the class",
    "computed": "computed for the class",
    "practice": "common practice",
    "memory": "usual for the class, from memory",
    "assumed": "assumed",
}
OUTCOME_WORDS = {"inside": "INSIDE", "outside": "OUTSIDE", "undecided": "NOT DECIDABLE"}
OUTCOME_STYLES = {"inside": "green", "outside": "bold red", "undecided": "yellow"}


def percent(share: float) -> str:
    """Return a share in whole percent, never a false certainty.

    >>> percent(0.163), percent(0.0004), percent(0.9999)
    ('16%', '<1%', '>99%')
    """
    if share < 0.005:
        return "<1%"
    return ">99%" if share >= 0.995 else f"{share:.0%}"


def minutes_text(minutes: float, wait_h: float = 0.0) -> str:
    """Return minutes of attention, and hours of waiting where there are any.

    >>> minutes_text(1.5), minutes_text(75), minutes_text(4, 9)
    ('1.5 min', '1 h 15 min', '4 min and 9 h waiting')
    """
    whole = round(minutes)
    if minutes < 10 and abs(minutes - whole) > 0.05:
        text = f"{minutes:.1f} min"
    elif whole < 60:
        text = f"{whole} min"
    else:
        text = f"{whole // 60} h {whole % 60} min" if whole % 60 else f"{whole // 60} h"
    return f"{text} and {wait_h:g} h waiting" if wait_h else text


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


def severity_text(severity: Sequence[str]) -> str:
    """Return the middle severity, and the span of 90 % of them without repeated words.

    >>> severity_text(("0.03 ohm in a contact", "0.09 ohm in a contact", "0.4 ohm in a contact"))
    'about 0.09 ohm in a contact (0.03 to 0.4)'
    """
    if not severity:
        return ""
    if len(set(severity)) == 1:
        return severity[1]
    low, high = _differing(severity[0].split(), severity[2].split())
    with contextlib.suppress(ValueError):  # words stay in their order
        low, high = sorted((low, high), key=_size)
    about = "about " if severity[1][:1].isdigit() else ""
    return f"{about}{severity[1]} ({low} to {high})"


def _size(text: str) -> float:
    """Return the size of ``6.0 mohm`` or ``0.16``; ValueError for words."""
    figure, _, unit = text.partition(" ")
    scale = {"m": 1e-3, "k": 1e3, "M": 1e6}.get(unit[:1], 1.0) if len(unit) > 1 else 1.0
    return float(figure) * scale


def _differing(first: list[str], second: list[str]) -> tuple[str, str]:
    """Return both phrases without the words they begin and end with in common."""
    while first and second and first[-1] == second[-1]:
        first, second = first[:-1], second[:-1]
    while first and second and first[0] == second[0]:
        first, second = first[1:], second[1:]
    return " ".join(first), " ".join(second)


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
