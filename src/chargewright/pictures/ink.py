"""Colours by what they mean, one set per surface; every text stands out from its ground.

Hues follow Okabe and Ito's palette for colour vision of every kind (M. Okabe and K. Ito, Color
Universal Design, 2008), darkened or lightened until text reaches a contrast of 4.5 to 1 and
lines 3 to 1 (WCAG 2.1, success criteria 1.4.3 and 1.4.11). Nothing is told by colour alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Literal

from chargewright.errors import InputError, nearest

Theme = Literal["light", "dark", "print", "css"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """One colour per meaning, as SVG writes it."""

    paper: str  # ground of the whole picture
    ink: str  # text, wires, symbols
    soft: str  # less important text, axes
    grid: str
    path: str  # broad band under the wires a check looks at
    plus: str  # red probe
    plus_text: str
    minus: str  # black probe
    minus_text: str
    minus_edge: str
    good: str  # within the limits: lines and text
    good_fill: str
    bad: str  # beyond a limit
    bad_fill: str
    first: str  # three curves side by side
    second: str
    third: str


LIGHT = Ink(
    paper="#ffffff",
    ink="#16191d",
    soft="#4a5159",
    grid="#d3d8dd",
    path="#3f97da",
    plus="#c5162a",
    plus_text="#ffffff",
    minus="#111111",
    minus_text="#ffffff",
    minus_edge="#ffffff",
    good="#00664a",
    good_fill="#cdeadf",
    bad="#a63a00",
    bad_fill="#fbd9c3",
    first="#0067a3",
    second="#b34700",
    third="#00664a",
)
DARK = Ink(
    paper="#14171a",
    ink="#f2f4f6",
    soft="#b9c0c7",
    grid="#3a4148",
    path="#2d78b8",
    plus="#ff6b6b",
    plus_text="#14171a",
    minus="#000000",
    minus_text="#ffffff",
    minus_edge="#f2f4f6",
    good="#5fd3ab",
    good_fill="#12463a",
    bad="#ffa066",
    bad_fill="#5b2a10",
    first="#6cb8ee",
    second="#ffa066",
    third="#5fd3ab",
)
PRINT = Ink(
    paper="#ffffff",
    ink="#000000",
    soft="#3c3c3c",
    grid="#cccccc",
    path="#5a98cc",
    plus="#b00d20",
    plus_text="#ffffff",
    minus="#000000",
    minus_text="#ffffff",
    minus_edge="#ffffff",
    good="#005a41",
    good_fill="#d8efe6",
    bad="#8f3200",
    bad_fill="#fde3d3",
    first="#005a8f",
    second="#9c3d00",
    third="#005a41",
)
PREFIX = "--cw-"


def ink_of(theme: Theme) -> Ink:
    """Return the colours of a theme.

    ``css`` writes each colour as a variable ``--cw-NAME`` with the light one to fall back on,
    so that a page's style sheet decides (``theme_css``). Raises ``InputError`` for another word.
    """
    if theme == "css":
        names = {field.name: getattr(LIGHT, field.name) for field in fields(Ink)}
        return Ink(**{name: f"var({variable(name)}, {value})" for name, value in names.items()})
    if theme not in THEMES:
        raise InputError(f"theme {theme!r}: {nearest(theme, [*THEMES, 'css'])}")
    return THEMES[theme]


THEMES: Mapping[str, Ink] = {"light": LIGHT, "dark": DARK, "print": PRINT}


def variable(name: str) -> str:
    """Return the name of a colour's variable in a style sheet."""
    return PREFIX + name.replace("_", "-")


def theme_css(theme: Theme) -> str:
    """Return the declarations of a theme's colours, for a page that shows ``css`` pictures."""
    ink = ink_of(theme)
    return " ".join(f"{variable(f.name)}: {getattr(ink, f.name)};" for f in fields(Ink))


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of two colours ``#rrggbb``, 1 to 21 (WCAG 2.1's formula).

    >>> contrast("#000000", "#ffffff")
    21.0
    """
    bright, dark = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
