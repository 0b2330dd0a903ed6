"""A reading as a distribution against its limits."""

from __future__ import annotations

import math
from collections.abc import Mapping

from chargewright.diagnosis.findings import Judged
from chargewright.meters.uncertainty import Spread
from chargewright.meters.verdict import Outcome, Verdict, reading_spread
from chargewright.pictures.axes import Scale, bottom_axis, figure, hatch, prefixed
from chargewright.pictures.hill import HILL, Bound, Plot, ends_of, hill_of
from chargewright.pictures.ink import Ink, Theme, ink_of
from chargewright.pictures.svg import (
    LARGE,
    TEXT,
    WIDTH,
    Size,
    document,
    paragraph,
    tag,
)
from chargewright.pictures.words import ENGLISH, Words, chance_words, say

BOUNDS: Mapping[str, Bound] = {
    "at_least": "above",
    "overload": "above",
    "at_most": "below",
    "continuity": "below",
}
MARGIN = 16.0


def reading_picture(
    verdict: Verdict,
    *,
    unit: str,
    spread: Spread | None = None,
    bound: Bound | None = None,
    title: str = "",
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    name: str = "reading",
) -> str:
    """Return a reading's distribution with the share within the limits shaded, as SVG text.

    The hill is how likely each true value is, given the reading (JCGM 106:2012): its plain part
    lies within the limits, its hatched part beyond. ``spread`` is the reading's error
    (``meters.verdict.reading_spread``); without it a normal error of the verdict's standard
    uncertainty is drawn. ``unit`` as on the display. ``bound`` says that the reading only bounds
    the true value ("over 50", OL, a beep): an arrow takes the hill's place.
    """
    ink, width = ink_of(theme), WIDTH[size]
    factor, shown_unit = prefixed(_size(verdict), unit)
    error = spread if spread is not None and spread.u > 0.0 else Spread((), verdict.u)
    hill = None if bound is not None else hill_of(verdict, error)
    sentences = _sentences(verdict, bound, unit, words)
    body: list[str] = []
    y = 24.0
    if title:
        lines, y = paragraph((MARGIN, y), title, width - 2 * MARGIN, fill=ink.ink, bold=True)
        body += lines
        y += 4.0
    colour = {Outcome.INSIDE: ink.good, Outcome.OUTSIDE: ink.bad}.get(verdict.outcome, ink.ink)
    for row, text in enumerate(sentences):
        if row == 0:
            lines, y = paragraph(
                (MARGIN, y + 4.0), text, width - 2 * MARGIN, fill=colour, size=LARGE, bold=True
            )
        else:
            lines, y = paragraph((MARGIN, y), text, width - 2 * MARGIN, fill=ink.ink)
        body += lines
    top = y + 6.0
    base = top + HILL + 22.0
    scale = Scale(*ends_of(verdict, error, hill is not None), MARGIN, width - MARGIN)
    plot = Plot(scale, top, base, ink)
    body += plot.limits(verdict, words)
    body += plot.bound(verdict, bound) if hill is None else plot.hill(hill, verdict)
    shown = Scale(scale.low * factor, scale.high * factor, scale.start, scale.end)
    body += bottom_axis(
        shown, base, ink, unit=shown_unit.replace("ohm", say(words, "figure.ohm")), words=words
    )
    foot, height = _legend(base + 50.0, hill is not None, ink, words, width)
    return document(
        [*body, *foot],
        width=width,
        height=height,
        title=title or say(words, "reading.title"),
        about=" ".join(sentences),
        ink=ink,
        name=name,
    )


def judged_picture(
    judged: Judged,
    *,
    title: str = "",
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    name: str = "reading",
) -> str:
    """Return the picture of a reading as an assessment judged it, with its meter's own error."""
    answer = judged.answer
    function, shown = answer.question.function, answer.shown
    spread, bound = None, None
    if shown is not None:
        bound = BOUNDS.get(shown.kind)
        if bound is None:
            spread = reading_spread(answer.meter, function, shown, nulled=answer.nulled)
            if not math.isclose(spread.u, judged.verdict.u, rel_tol=1e-6):
                spread = None  # judged at a frequency that only the verdict knows
    return reading_picture(
        judged.verdict,
        unit=judged.limit.unit or function.unit,
        spread=spread,
        bound=bound,
        title=title or answer.title,
        size=size,
        theme=theme,
        words=words,
        name=name,
    )


def _size(verdict: Verdict) -> float:
    return max(abs(v) for v in (verdict.value, verdict.low, verdict.high) if v is not None)


def _sentences(verdict: Verdict, bound: Bound | None, unit: str, words: Words) -> list[str]:
    """Return verdict, reading with its interval, and the probability in words."""
    made = [say(words, f"verdict.{verdict.outcome.value}")]
    if bound is not None:
        value = figure(verdict.value, unit, digits=4)
        made.append(say(words, f"reading.{bound}", value=value))
    else:
        factor, shown = prefixed(abs(verdict.value), unit)
        value, half = f"{verdict.value * factor:.4g}", f"{verdict.half_width * factor:.2g}"
        made.append(say(words, "reading.value", value=value, half=half, unit=shown))
    if verdict.p_conform is not None:
        made.append(chance_words(words, verdict.p_conform))
    low, high = (
        None if v is None else figure(v, unit, digits=4) for v in (verdict.low, verdict.high)
    )
    if low is not None and high is not None:
        made.append(say(words, "limit.both", low=low, high=high))
    elif low is not None:
        made.append(say(words, "limit.least", low=low))
    else:
        made.append(say(words, "limit.most", high=high))
    return made


def _legend(y: float, hill: bool, ink: Ink, words: Words, width: float) -> tuple[list[str], float]:
    made: list[str] = []
    entries = [("legend.allowed", ink.good_fill, ink.good, False)]
    if hill:
        entries += [
            ("legend.within", ink.first, ink.ink, False),
            ("legend.beyond", ink.bad_fill, ink.bad, True),
        ]
    for key, fill, edge, strokes in entries:
        made.append(
            tag(
                "rect",
                x=MARGIN,
                y=y - 12.0,
                width=22,
                height=14,
                fill=fill,
                stroke=edge,
                stroke_width=1.4,
                fill_opacity=0.45 if key == "legend.within" else None,
            )
        )
        if strokes:
            made += hatch((MARGIN, y - 12.0), 22.0, 14.0, edge, gap=6.0)
        lines, below = paragraph(
            (MARGIN + 30.0, y),
            say(words, key),
            width - 2 * MARGIN - 30.0,
            fill=ink.soft,
            size=TEXT - 1.0,
        )
        made += lines
        y = below + 4.0
    return made, y
