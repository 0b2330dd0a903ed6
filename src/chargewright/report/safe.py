"""Text from a card made fit to be shown: never markup, never off the page, never a trap.

A PDF that screen readers can use must not hold a character its fonts lack. Such characters are
written by name, "[grinning face]". ``data/covered.txt`` holds what the bundled fonts and those
of the typesetter can show (``scripts/font_coverage.py`` makes it).
"""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_right
from functools import cache
from importlib.resources import files

# Characters that turn the direction of the text around them: a label could make a report read
# differently from what it says (Unicode Technical Report 36, section 2.5).
TURNING = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
JOINERS = frozenset("\u200b\u200c\u200d")  # some scripts cannot be written without
LONG_WORD = 24  # letters without a place to break
LONG = re.compile(rf"\S{{{LONG_WORD},}}")
BREAK = "\N{ZERO WIDTH SPACE}"


def readable(text: str) -> str:
    """Return text for a page: control signs gone, direction marks written out.

    Line ends stay. Surrogates, which no file can hold, become the replacement character.
    """
    return "".join(_kept(sign) for sign in text.replace("\r\n", "\n").replace("\r", "\n"))


def _kept(sign: str) -> str:
    if sign in "\n\t":
        return sign
    kind = unicodedata.category(sign)
    if sign in TURNING:
        return f"[U+{ord(sign):04X}]"
    if kind == "Cs":
        return "\N{REPLACEMENT CHARACTER}"
    return "" if kind in ("Cc", "Cn", "Co") or (kind == "Cf" and sign not in JOINERS) else sign


def printable(text: str) -> str:
    """Return text for a PDF: readable, in signs the fonts have, long words with places to break.

    >>> printable("flat \N{GRINNING FACE}")
    'flat [grinning face]'
    """
    shown = "".join(sign if covered(sign) else _named(sign) for sign in readable(text))
    return LONG.sub(lambda found: _broken(found[0]), shown)


def _named(sign: str) -> str:
    if unicodedata.category(sign) in ("Cf", "Mn", "Me"):
        return ""
    name = unicodedata.name(sign, "").lower()
    if not name or any(letter.isdigit() for letter in name):
        name = f"U+{ord(sign):04X}"
    return f"[{name}]"


def _broken(word: str) -> str:
    size = LONG_WORD // 2
    return BREAK.join(word[start : start + size] for start in range(0, len(word), size))


def covered(sign: str) -> bool:
    """Tell whether the fonts of a PDF have ``sign``."""
    starts, ends = _ranges()
    place = bisect_right(starts, ord(sign)) - 1
    return sign in "\n\t" or (place >= 0 and ord(sign) <= ends[place])


@cache
def _ranges() -> tuple[list[int], list[int]]:
    text = files("chargewright.report").joinpath("data", "covered.txt").read_text("ascii")
    pairs = [line.split("-") for line in text.splitlines() if line[:1] not in ("", "#")]
    return [int(low, 16) for low, _ in pairs], [int(high, 16) for _, high in pairs]
