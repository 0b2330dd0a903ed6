"""How wide a text is in the bundled font, and where it breaks, so that labels keep apart."""

from __future__ import annotations

# Advance widths of the characters 32 to 126 in thousandths of the size, from the bundled fonts'
# own tables; a test holds them to the files.
# fmt: off
REGULAR = (
    260, 269, 408, 646, 572, 831, 732, 225, 300, 300, 551, 572, 268, 322, 268, 372, 572, 572, 572,
    572, 572, 572, 572, 572, 572, 572, 268, 268, 572, 572, 572, 434, 899, 639, 650, 632, 730, 556,
    519, 728, 741, 339, 273, 619, 524, 907, 760, 781, 605, 781, 622, 549, 556, 731, 600, 930, 586,
    566, 572, 329, 372, 329, 572, 444, 281, 561, 615, 480, 615, 564, 344, 615, 618, 258, 258, 534,
    258, 935, 618, 605, 615, 615, 413, 479, 361, 618, 508, 786, 529, 510, 470, 380, 551, 380, 572,
)
BOLD = (
    260, 282, 479, 646, 572, 902, 750, 266, 339, 339, 542, 572, 285, 320, 281, 415, 572, 572, 572,
    572, 572, 572, 572, 572, 572, 572, 281, 285, 572, 572, 572, 477, 898, 692, 665, 642, 732, 560,
    549, 724, 765, 389, 331, 664, 559, 943, 813, 791, 621, 791, 656, 551, 577, 756, 650, 967, 670,
    626, 579, 331, 415, 331, 572, 411, 365, 599, 632, 516, 632, 597, 387, 632, 650, 299, 298, 620,
    298, 975, 650, 625, 632, 632, 447, 502, 434, 650, 571, 856, 578, 571, 493, 394, 551, 394, 572,
)
# fmt: on
FIRST, LAST = 32, 126
OTHER = 620  # letters with accents, Greek, Cyrillic: a generous mean
LINE = 1.25  # distance of two lines / size


def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of ``text`` in the unit of ``size``.

    >>> round(width_of("13.9 V", 14.0), 1)
    39.8
    """
    table = BOLD if bold else REGULAR
    units = sum(
        table[ord(letter) - FIRST] if FIRST <= ord(letter) <= LAST else OTHER for letter in text
    )
    return units * size / 1000.0


def wrapped(text: str, size: float, room: float, *, bold: bool = False) -> list[str]:
    """Return ``text`` in lines no wider than ``room``; a word longer than that stands alone."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if line and width_of(longer, size, bold=bold) > room:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines


def shortened(text: str, size: float, room: float, *, bold: bool = False) -> str:
    """Return ``text``, cut with three dots where it is wider than ``room``."""
    if width_of(text, size, bold=bold) <= room:
        return text
    while text and width_of(text + "...", size, bold=bold) > room:
        text = text[:-1]
    return text.rstrip(" ,;") + "..."
