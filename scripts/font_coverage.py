#!/usr/bin/env python3
"""Write which signs a PDF report can show: src/chargewright/report/data/covered.txt.

Asks the typesetter itself, with the bundled fonts and no others: under PDF/UA-1 it refuses a sign
that no font has. Run it again when the fonts or the typesetter change. Takes half a minute.
"""

from __future__ import annotations

import json
from pathlib import Path

import typst

from chargewright.pictures.png import bundled_fonts

TARGET = Path(__file__).parents[1] / "src/chargewright/report/data/covered.txt"
SOURCE = b"""#set document(title: "x")
#set text(lang: "en", font: "Noto Sans")
#json("d.json")"""
# General use planes up to U+2FFF, then what Latin, Hebrew and Arabic have above. Others: by name.
SPANS = ((0x20, 0x3000), (0xA640, 0xA700), (0xFB00, 0x10000))
BLOCK = 16
HEAD = """# Signs that the bundled fonts and those inside the typesetter show under PDF/UA-1,
# first to last in hexadecimal; made by scripts/font_coverage.py.
"""


def shows(low: int, high: int) -> bool:
    """Tell whether every sign from ``low`` up to, not including, ``high`` can be shown."""
    text = json.dumps(" ".join(chr(code) for code in range(low, high))).encode()
    try:
        typst.compile(
            {"main": SOURCE, "d.json": text},
            format="pdf",
            pdf_standards="ua-1",
            font_paths=bundled_fonts(),
        )
    except typst.TypstError as error:
        if "displayed" in error.message or "disallowed" in error.message:
            return False
        raise
    return True


def ranges(low: int, high: int) -> list[tuple[int, int]]:
    """Return the covered spans, both ends included, by halving."""
    if shows(low, high):
        return [(low, high - 1)]
    if high - low == 1:
        return []
    middle = (low + high) // 2
    return [*ranges(low, middle), *ranges(middle, high)]


def main() -> None:
    """Write the file."""
    joined: list[tuple[int, int]] = []
    for low, high in SPANS:
        for start in range(low, high, BLOCK):
            for first, last in ranges(start, start + BLOCK):
                if joined and joined[-1][1] + 1 == first:
                    joined[-1] = (joined[-1][0], last)
                else:
                    joined.append((first, last))
    lines = [f"{first:04X}-{last:04X}\n" for first, last in joined]
    TARGET.write_text(HEAD + "".join(lines), encoding="ascii")


if __name__ == "__main__":
    main()
