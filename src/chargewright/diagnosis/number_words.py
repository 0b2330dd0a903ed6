"""Shares, minutes, quantities and severities in the words of the bench: one form on every screen.

Pure functions; nothing is decided here.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence

KIND_WORDS = {
    "spec_sheet": "this machine's spec sheet",
    "published": "published figures of the class",
    "computed": "computed for the class",
    "practice": "common practice",
    "memory": "usual for the class, from memory",
    "assumed": "assumed",
}
SCALES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"))


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


def quantity(value: float, unit: str, *, digits: int = 4) -> str:
    """Return a value with its unit, in the multiple that reads easily.

    >>> quantity(0.05, "A"), quantity(13.5, "V"), quantity(0.2, "ohm"), quantity(12e3, "ohm")
    ('50 mA', '13.5 V', '0.2 ohm', '12 kohm')
    """
    size = abs(value)
    floor = 1e-3 if unit == "ohm" and size >= 0.01 else 1.0
    scale, prefix = 1.0, ""
    if size and (size < 0.5 * floor or size >= 1e3):
        scale, prefix = next((s, p) for s, p in SCALES if size >= s or s == SCALES[-1][0])
    return f"{value / scale:.{digits}g} {prefix}{unit}".strip()


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
