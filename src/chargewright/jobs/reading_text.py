"""Understands what a gloved hand types for one reading, and never guesses.

A comma is a decimal sign: ``12,6`` is 12.6. Where a text has two meanings (``1,234``; a
bare ``1`` on ohms, which some meters show for overload) the answer is a question.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from chargewright.errors import ReadingError
from chargewright.jobs.reading_words import (
    LOOKALIKES,
    scale_of,
    split_prefix,
    word_meaning,
)
from chargewright.jobs.shown import UNIT_OF, Qualifier, Shown, out_of_limits
from chargewright.machine.points import Function

MAX_TEXT = 60  # assumed: no reading needs more

_NUMBER = r"[+-]?(?:\d{1,12}(?:[.,]\d{1,12})?|[.,]\d{1,12})"
_FIGURE = re.compile(rf"({_NUMBER})\s*([^\d\s.,<>+±-][^\d.,<>+±-]*?)?", re.ASCII)
_RANGE = re.compile(
    rf"({_NUMBER})\s*([^\d\s.,<>+±-][^\d.,<>+±-]*?)?\s*(?:\.{{2,3}}|-|\bto\b|\band\b)\s*"
    rf"({_NUMBER})\s*([^\d\s.,<>+±-][^\d.,<>+±-]*?)?",
    re.ASCII,
)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)
_ONE_AS_OVERLOAD = re.compile(r"1\s*\.?|1\s*\.\s*\D*", re.ASCII)

YES_WORDS = frozenset({"yes", "y", "true"})
NO_WORDS = frozenset({"no", "n", "false"})


@dataclass(frozen=True, slots=True)
class _Figure:
    """A figure in V, ohm or A, with the place of its last digit; exact, as typed."""

    value: Decimal
    lsd: Decimal


def parse_reading(text: str, function: Function) -> Shown:
    """Return what ``text`` says the meter showed on ``function``, in V, ohm or A.

    Raises ReadingError saying what was typed and what was expected: an unknown word, a unit of
    another function, a figure nobody can have read, or a text with two meanings.

    >>> shown = parse_reading("461 mV", Function.DC_V)
    >>> shown.value, shown.lsd
    (0.461, 0.001)
    """
    plain = _plain(text)
    if function is Function.LOOK:
        raise ReadingError(f"reading {text!r}: a look has no figure, expected yes or no")
    if (word := word_meaning(plain, function)) is not None:
        return Shown(qualifier=word, unit=UNIT_OF[function], text=plain)
    _ask_about_one(plain, function)
    between = re.match(r"between\s+", plain, re.IGNORECASE)
    qualifier, rest = (
        (Qualifier.BETWEEN, plain[between.end() :]) if between else split_prefix(plain)
    )
    if found := _FIGURE.fullmatch(rest):
        if qualifier is Qualifier.BETWEEN:
            raise ReadingError(f"reading {text!r} has one figure, expected between 12.9 and 13.1")
        figure = _figure(found[1], found[2] or "", function, text=plain)
        return _shown(qualifier, (figure,), function, text=plain)
    if found := _RANGE.fullmatch(rest):
        if qualifier not in (Qualifier.EXACT, Qualifier.BETWEEN):
            raise ReadingError(f"reading {text!r}: a range needs no sign or word before it")
        low_unit, high_unit = found[2] or "", found[4] or ""
        if low_unit and not high_unit:
            raise ReadingError(f"reading {text!r}: put the unit behind the second figure")
        low = _figure(found[1], low_unit or high_unit, function, text=plain)
        high = _figure(found[3], high_unit, function, text=plain)
        return _shown(Qualifier.BETWEEN, (low, high), function, text=plain)
    raise ReadingError(f"reading {text!r} is not understood; {_hint(plain, function)}")


def parse_sign(text: str) -> bool:
    """Return what ``text`` answers to a look: yes or no. Raises ReadingError otherwise."""
    word = text.strip().lower()
    if word in YES_WORDS or word in NO_WORDS:
        return word in YES_WORDS
    raise ReadingError(f"answer {text[:MAX_TEXT]!r}: expected yes or no")


def _plain(text: str) -> str:
    if len(text) > MAX_TEXT:
        raise ReadingError(
            f"reading of {len(text)} characters, expected one figure and its unit, "
            f"at most {MAX_TEXT}"
        )
    plain = text.translate(LOOKALIKES).strip(" \r\n")
    if not plain:
        raise ReadingError("reading is empty, expected a figure, OL, or continuity")
    if not plain.isprintable():
        raise ReadingError(f"reading {text!r} holds signs that cannot be printed")
    return plain


def _ask_about_one(plain: str, function: Function) -> None:
    """Some meters show a lone 1 for overload: only a 1 that cannot be that one passes."""
    bare = function in (Function.OHM, Function.DIODE)
    if _ONE_AS_OVERLOAD.fullmatch(plain) and (bare or "." in plain):
        unit = UNIT_OF[function]
        raise ReadingError(
            f"reading {plain!r} may be the sign some meters show for overload; "
            f"type OL for that, or 1.0 {unit} for one {unit}"
        )


def _figure(digits: str, unit_text: str, function: Function, *, text: str) -> _Figure:
    if _THOUSANDS.fullmatch(digits):
        dotted = digits.replace(",", ".")
        raise ReadingError(
            f"reading {text!r}: is {digits!r} {dotted} or {digits.replace(',', '')}? "
            "type it with a point, or without a comma"
        )
    value = Decimal(digits.replace(",", "."))
    exponent = value.as_tuple().exponent
    place = Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)
    scale = scale_of(unit_text.strip(), function, text=text)
    figure = _Figure(value * scale, place * scale)
    if why := out_of_limits(float(figure.value), function):
        raise ReadingError(f"reading {text!r}: {why}")
    return figure


def _shown(
    qualifier: Qualifier, figures: tuple[_Figure, ...], function: Function, *, text: str
) -> Shown:
    if figures[0].value > figures[-1].value:
        raise ReadingError(f"reading {text!r}: the lower figure comes first in a range")
    return Shown(
        value=float(figures[0].value),
        value_max=float(figures[1].value) if len(figures) > 1 else None,
        qualifier=qualifier,
        unit=UNIT_OF[function],
        lsd=float(min(figure.lsd for figure in figures)),
        text=text,
    )


def _hint(plain: str, function: Function) -> str:
    unit = UNIT_OF[function]
    if "±" in plain or "+-" in plain or "+/-" in plain:
        return "type the figure alone, or the range it wandered over as 12.5..12.7"
    if re.search(r"\d[kKmMrR]\d", plain):
        return f"type a decimal point and the unit, as 2.4k{unit}"
    if re.search(r"\d\s+\d|\d'\d|[.,]\d+[.,]", plain):
        return "type one figure with one decimal point"
    return f"expected a figure in {unit}, as 12.6, >16, about 24, 12.9..13.1, or OL"
