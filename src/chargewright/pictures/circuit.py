"""The charging circuit with both probes on it: what to touch, and what the check looks at."""

from __future__ import annotations

from chargewright.checks.word import describe
from chargewright.machine.layout import Layout
from chargewright.machine.points import Function, Point, State
from chargewright.pictures.ink import Theme, ink_of
from chargewright.pictures.svg import TEXT, WIDTH, Size, document, paragraph
from chargewright.pictures.words import ENGLISH, Words


def circuit_picture(
    layout: Layout,
    *,
    plus: Point | None,
    minus: Point | None,
    function: Function | None,
    state: State,
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    name: str = "circuit",
) -> str:
    """Return the circuit of ``layout`` as SVG text with the probes of one check on it.

    ``plus`` and ``minus`` are none for a look without a place and for an act. ``name`` begins
    every id in the picture.
    """
    ink = ink_of(theme)
    about = describe(function, plus, minus, state)
    lines, below = paragraph((12.0, 24.0), about, WIDTH[size] - 24.0, fill=ink.ink, size=TEXT)
    return document(
        lines, width=WIDTH[size], height=below, title="circuit", about=about, ink=ink, name=name
    )
