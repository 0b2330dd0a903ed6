"""What stands above and below a circuit: the dial and the machine's state, and what to do."""

from __future__ import annotations

from chargewright.machine.points import Function, Point, State
from chargewright.pictures import marks
from chargewright.pictures.ink import Ink
from chargewright.pictures.svg import LARGE, SMALL, TEXT, label, paragraph, polyline
from chargewright.pictures.words import Words, dial_words, point_words, say, state_words

MARGIN = 14.0
BESIDE = 44.0  # where text begins beside a sign


def head(
    function: Function | None, state: State, ink: Ink, words: Words, width: float
) -> tuple[list[str], float]:
    """Return dial and machine state, and where the drawing may begin."""
    parts = [
        marks.dial((MARGIN + 12.0, 28.0), function, ink),
        label(
            (BESIDE + 8.0, 24.0), dial_words(words, function), fill=ink.ink, size=LARGE, bold=True
        ),
    ]
    room = width - BESIDE - 8.0 - MARGIN
    lines, below = paragraph((BESIDE + 8.0, 44.0), state_words(words, state), room, fill=ink.ink)
    return [*parts, *lines], max(below - 6.0, 56.0)


def sentences(
    plus: Point | None, minus: Point | None, function: Function | None, words: Words
) -> list[tuple[str, str]]:
    """Return (sign, sentence) of everything the technician has to do with the meter."""
    if plus is None or minus is None or function is None:
        return []
    red, black = point_words(words, plus), point_words(words, minus)
    if function is Function.LOOK:
        return [("look", say(words, "look.at", point=red))]
    if plus is minus:
        return [("both", say(words, "probe.both", point=red))]
    if function is Function.CLAMP_A:
        return [("clamp", say(words, "clamp.round", plus=red, minus=black))]
    first = "series.red" if function is Function.DC_A else "probe.red"
    return [
        ("plus", say(words, first, point=red)),
        ("minus", say(words, "probe.black", point=black)),
    ]


def foot(
    legend: list[tuple[str, str]],
    keys: tuple[str, ...],
    ink: Ink,
    words: Words,
    *,
    width: float,
    top: float,
) -> tuple[list[str], float]:
    """Return the sentences under the drawing, each beside its sign, and where they end.

    ``keys`` are the texts that explain bands.
    """
    made: list[str] = []
    room = width - BESIDE - MARGIN
    y = top + 10.0
    for sign, text in legend:
        middle = (MARGIN + 12.0, y)
        if sign in ("plus", "minus"):
            made.append(marks.handle(sign, middle, ink))
        elif sign == "clamp":
            made.append(marks.clamp(middle, 0.0, ink, size=9.0))
        elif sign == "look":
            made.append(marks.eye(middle, ink))
        else:
            made.append(marks.handle("plus", (middle[0] - 8.0, y), ink, 9.0))
            made.append(marks.handle("minus", (middle[0] + 9.0, y), ink, 9.0))
        lines, below = paragraph((BESIDE, y + 5.0), text, room, fill=ink.ink, bold=True)
        made += lines
        y = max(below + 8.0, y + 30.0)
    for key in keys:
        dashed = key == "route.blocked"
        ends = [(MARGIN + 3.0, y), (MARGIN + 21.0, y)]
        made.append(
            polyline(
                ends,
                stroke=ink.path,
                stroke_width=marks.BAND,
                stroke_dasharray="3 13" if dashed else None,
            )
        )
        lines, below = paragraph(
            (BESIDE, y + 4.0),
            say(words, key),
            room,
            fill=ink.soft,
            size=SMALL + 1.0,
        )
        made += lines
        y = below + 4.0
    return made, y + 0.25 * TEXT
