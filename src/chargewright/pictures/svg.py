"""The few elements pictures are made of, as text. Coordinates are in pixels of the picture."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Literal

from chargewright.pictures.fit import LINE, width_of, wrapped
from chargewright.pictures.ink import Ink

Size = Literal["phone", "page"]
XY = tuple[float, float]
Anchor = Literal["start", "middle", "end"]
Attribute = str | float | None
# The bundled family first: typesetting finds it by name; a browser that lacks it takes its own.
FONT = "Noto Sans, system-ui, Arial, sans-serif"
SMALL, TEXT, LARGE = 12.0, 14.0, 17.0
WIDTH = {"phone": 360.0, "page": 720.0}


def safe(text: str) -> str:
    """Return text escaped for XML, without the control signs XML cannot hold."""
    kept = "".join(c if c.isprintable() or c == " " else " " for c in text)
    return escape(kept, quote=True)


def number(value: float) -> str:
    """Return a coordinate with two places at most."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def tag(name: str, *inner: str, **attributes: Attribute) -> str:
    """Return an element; ``_`` in attribute names stands for ``-``, a trailing one is dropped."""
    pairs = []
    for key, value in attributes.items():
        if value is None:
            continue
        text = number(value) if isinstance(value, int | float) else safe(value)
        pairs.append(f' {key.rstrip("_").replace("_", "-")}="{text}"')
    body = "".join(inner)
    return f"<{name}{''.join(pairs)}>{body}</{name}>" if body else f"<{name}{''.join(pairs)}/>"


def points(line: Iterable[XY]) -> str:
    """Return the points of a polyline."""
    return " ".join(f"{number(x)},{number(y)}" for x, y in line)


def polyline(line: Sequence[XY], **attributes: Attribute) -> str:
    """Return an open line; without attributes of its own it has round joints and no fill."""
    style: dict[str, Attribute] = {
        "fill": "none",
        "stroke_linejoin": "round",
        "stroke_linecap": "round",
    }
    return tag("polyline", points=points(line), **{**style, **attributes})


def polygon(line: Sequence[XY], **attributes: Attribute) -> str:
    """Return a closed, filled outline."""
    return tag("polygon", points=points(line), **attributes)


def label(
    at: XY,
    words: str,
    *,
    fill: str,
    size: float = TEXT,
    bold: bool = False,
    anchor: Anchor = "start",
    role: str | None = None,
) -> str:
    """Return one line of text, its baseline at ``at``.

    Its length is given with it, so that a browser that lacks the bundled font fits its own in.
    """
    length = width_of(words, size, bold=bold) if words.isascii() and len(words) > 2 else None
    return tag(
        "text",
        safe(words),
        x=at[0],
        y=at[1],
        fill=fill,
        font_family=FONT,
        font_size=size,
        font_weight="bold" if bold else None,
        text_anchor=None if anchor == "start" else anchor,
        textLength=length,
        lengthAdjust=None if length is None else "spacingAndGlyphs",
        data_role=role,
    )


def paragraph(
    at: XY, words: str, room: float, *, fill: str, size: float = TEXT, bold: bool = False
) -> tuple[list[str], float]:
    """Return lines of text wrapped to ``room``, and the baseline below the last one."""
    lines = wrapped(words, size, room, bold=bold)
    texts = [
        label((at[0], at[1] + row * size * LINE), line, fill=fill, size=size, bold=bold)
        for row, line in enumerate(lines)
    ]
    return texts, at[1] + len(lines) * size * LINE


def document(
    body: Iterable[str], *, width: float, height: float, title: str, about: str, ink: Ink, name: str
) -> str:
    """Return the whole picture with a title and a description for screen readers.

    ``name`` begins every id of the picture; two pictures in one page need different ones.
    """
    return tag(
        "svg",
        tag("title", safe(title) or " ", id=f"{name}-title"),
        tag("desc", safe(about) or " ", id=f"{name}-about"),
        tag("rect", width=width, height=height, fill=ink.paper),
        *(f"\n{part}" for part in body),
        "\n",
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        role="img",
        aria_labelledby=f"{name}-title {name}-about",
    )
