"""A picture as PNG, set with the bundled font so that it is the same on every computer."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import as_file, files
from typing import Any

from chargewright.errors import InputError

POINTS_PER_INCH = 72.0
SIZE = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)"')


@cache
def bundled_fonts() -> Any:  # noqa: ANN401 - the library's own object
    """Return the fonts of this package and no others, as typesetting takes them."""
    import typst

    with as_file(files("chargewright.pictures").joinpath("fonts")) as folder:
        return typst.Fonts(include_system_fonts=False, font_paths=[str(folder)])


def to_png(svg: str, width_px: int) -> bytes:
    """Return an SVG picture of this package as PNG, ``width_px`` wide.

    Raises ``InputError`` for a theme of style-sheet variables, which only a browser knows, and
    for a width outside 16 to 8192.
    """
    import typst

    found = SIZE.search(svg)
    if found is None or "var(--" in svg:
        raise InputError("picture for PNG: expected one of the themes light, dark or print")
    if not 16 <= width_px <= 8192:
        raise InputError(f"PNG width {width_px} pixels: expected 16 to 8192")
    width, height = float(found[1]), float(found[2])
    page = (
        f"#set page(width: {width}pt, height: {height}pt, margin: 0pt)\n"
        f'#image(bytes(sys.inputs.svg), format: "svg", width: {width}pt)'
    )
    return typst.compile(
        page.encode(),
        format="png",
        ppi=POINTS_PER_INCH * width_px / width,
        font_paths=bundled_fonts(),
        sys_inputs={"svg": svg},
    )
