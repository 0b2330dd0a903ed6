"""The words and units a typed reading may hold, apart from its digits."""

from __future__ import annotations

import re
from decimal import Decimal

from chargewright.errors import ReadingError
from chargewright.jobs.shown import UNIT_OF, Qualifier, Unit
from chargewright.machine.points import Function

# One spelling for signs that look alike, so that the grammar below stays small.
LOOKALIKES = str.maketrans(
    {
        "−": "-",
        "–": "-",
        "—": "-",
        "\N{OHM SIGN}": "\N{GREEK CAPITAL LETTER OMEGA}",
        "\N{GREEK SMALL LETTER MU}": "\N{MICRO SIGN}",
        "…": "...",
        "≈": "~",
        "\N{NO-BREAK SPACE}": " ",
        "\t": " ",
    }
)

OVERLOAD_WORDS = frozenset({"ol", "o.l", "o.l.", "0l", "0.l", "0.l.", "overload", "over load"})
OPEN_WORDS = frozenset({"open", "open circuit", "infinite", "infinity", "inf", "∞"})
CONTINUITY_WORDS = frozenset({"beep", "beeps", "continuity", "buzz", "buzzes"})

_PREFIXES = (
    (Qualifier.AT_LEAST, r">=?|≥|(?:at least|more than|over|above)\b"),
    (Qualifier.AT_MOST, r"<=?|≤|(?:at most|less than|up to|under|below)\b"),
    (Qualifier.ABOUT, r"~|(?:about|around|approx|circa|ca)\b\.?"),
)
_PREFIX_PATTERNS = tuple(
    (qualifier, re.compile(rf"(?:{pattern})\s*", re.IGNORECASE)) for qualifier, pattern in _PREFIXES
)

_UNIT = re.compile(
    r"""(?P<prefix>[mkKMuµ]?)
        (?P<unit>(?i:volts?|v)|(?i:ohms?)|Ω|(?i:amperes?|amps?|a))?
        \s*(?P<kind>(?i:dc|ac)|=|~)?""",
    re.VERBOSE,
)
_SCALES = {
    "": Decimal(1),
    "m": Decimal("1e-3"),
    "k": Decimal("1e3"),
    "K": Decimal("1e3"),
    "M": Decimal("1e6"),
    "u": Decimal("1e-6"),
    "µ": Decimal("1e-6"),
}
# Multiples that a meter's display or a technician's note uses; others are slips.
_PREFIXES_OF = {Unit.V: "m", Unit.OHM: "mkKM", Unit.A: "muµ"}
_KIND_OF = {
    Function.DC_V: "dc",
    Function.DIODE: "dc",
    Function.DC_A: "dc",
    Function.CLAMP_A: "dc",
    Function.AC_V: "ac",
}


def word_meaning(text: str, function: Function) -> Qualifier | None:
    """Return what a reading without figures says, or None when it is no such word.

    Raises ReadingError for a word that this function of the meter cannot show.
    """
    word = " ".join(text.lower().split())
    resistive = function in (Function.OHM, Function.DIODE)
    if word in OVERLOAD_WORDS:
        return Qualifier.OVERLOAD
    if word in OPEN_WORDS or word in CONTINUITY_WORDS:
        if not resistive:
            raise ReadingError(
                f"reading {text!r}: {word} is shown on ohm and diode only, "
                f"expected a figure in {UNIT_OF[function]}"
            )
        return Qualifier.OVERLOAD if word in OPEN_WORDS else Qualifier.CONTINUITY
    return None


def split_prefix(text: str) -> tuple[Qualifier, str]:
    """Return the qualifier before the figure, and the rest of the text."""
    for qualifier, pattern in _PREFIX_PATTERNS:
        if found := pattern.match(text):
            return qualifier, text[found.end() :]
    return Qualifier.EXACT, text


def scale_of(unit_text: str, function: Function, *, text: str) -> Decimal:
    """Return the factor from the typed unit to V, ohm or A; no unit at all means 1.

    Raises ReadingError when the unit is unknown or belongs to another function.
    """
    unit = UNIT_OF[function]
    found = _UNIT.fullmatch(unit_text)
    if found is None:
        raise ReadingError(f"reading {text!r}: {unit_text!r} is no unit, expected {unit} or none")
    prefix, symbol, kind = found["prefix"], found["unit"], (found["kind"] or "").lower()
    if symbol is None and (prefix not in ("", "k", "K", "M") or (prefix and unit is not Unit.OHM)):
        raise ReadingError(
            f"reading {text!r}: {prefix!r} alone is no unit, expected {prefix}{unit} or {unit}"
        )
    if symbol is not None and _unit_named(symbol) is not unit:
        raise ReadingError(
            f"reading {text!r} is in {_unit_named(symbol)}, "
            f"but {function} is read in {unit}; is the check the right one?"
        )
    _refuse_other_kind(kind, function, text=text)
    if prefix and prefix not in _PREFIXES_OF[unit]:
        hint = f"m{unit}" if prefix == "M" else f"{unit} with a decimal point"
        raise ReadingError(f"reading {text!r}: {prefix}{unit} is not read here, expected {hint}")
    return _SCALES[prefix]


def _unit_named(symbol: str) -> Unit:
    return {"v": Unit.V, "a": Unit.A}.get(symbol[0].lower(), Unit.OHM)


def _refuse_other_kind(kind: str, function: Function, *, text: str) -> None:
    typed = {"=": "dc", "~": "ac"}.get(kind, kind)
    expected = _KIND_OF.get(function, "")
    if typed and typed != expected:
        wanted = expected.upper() or "no DC or AC"
        raise ReadingError(f"reading {text!r} says {typed.upper()}, but {function} is {wanted}")
