"""A reading as a distribution against its limits."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from chargewright.diagnosis.findings import Judged
from chargewright.meters.uncertainty import Spread
from chargewright.meters.verdict import Outcome, Verdict, reading_spread
from chargewright.pictures.axes import Scale, bottom_axis, figure, hatch, prefixed, spread_of
from chargewright.pictures.ink import Ink, Theme, ink_of
from chargewright.pictures.svg import (
    LARGE,
    SMALL,
    TEXT,
    WIDTH,
    XY,
    Anchor,
    Size,
    document,
    label,
    paragraph,
    polygon,
    polyline,
    tag,
)
from chargewright.pictures.words import ENGLISH, Words, chance_words, say

Bound = Literal["above", "below"]
BOUNDS: Mapping[str, Bound] = {
    "at_least": "above",
    "overload": "above",
    "at_most": "below",
    "continuity": "below",
}
MARGIN = 16.0
HILL = 96.0  # height of the distribution
STEPS = 160


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
    hill = None if bound is not None else _hill(verdict, error)
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
    scale = Scale(*_ends(verdict, error, hill is not None), MARGIN, width - MARGIN)
    plot = Plot(scale, top, base, ink)
    body += plot.limits(verdict, words)
    body += plot.bound(verdict, bound) if hill is None else plot.hill(hill, verdict)
    shown = Scale(scale.low * factor, scale.high * factor, scale.start, scale.end)
    body += bottom_axis(shown, base, ink, unit=shown_unit)
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


def _hill(verdict: Verdict, error: Spread) -> list[XY] | None:
    """Return (true value, density) round the reading, none for a bound or no error at all."""
    if verdict.p_conform is None or error.u <= 0.0:
        return None
    reach = min(sum(error.half_widths) + 3.6 * error.sigma, 4.5 * error.u)
    step = 2.0 * reach / STEPS
    edges = [-reach + n * step for n in range(STEPS + 1)]
    below = [error.below(z) for z in edges]
    return [
        (verdict.value + 0.5 * (a + b), (q - p) / step)
        for a, b, p, q in zip(edges, edges[1:], below, below[1:], strict=False)
    ]


def _ends(verdict: Verdict, error: Spread, known: bool) -> tuple[float, float]:
    """Return the ends of the axis: reading and limits, as far as the limits are not far away."""
    reach = 4.0 * error.u if known else 0.0
    values = [verdict.value - reach, verdict.value + reach]
    limits = [limit for limit in (verdict.low, verdict.high) if limit is not None]
    near = min(limits, key=lambda limit: abs(limit - verdict.value))
    far = 14.0 * max(error.u, 0.25 * abs(near - verdict.value))
    values += [limit for limit in limits if limit is near or abs(limit - verdict.value) < far]
    return spread_of(values, margin=0.12)


@dataclass(frozen=True, slots=True)
class Plot:
    """The place of the hill: value scale, top and base line [px]."""

    scale: Scale
    top: float
    base: float
    ink: Ink

    def limits(self, verdict: Verdict, words: Words) -> list[str]:
        """Return the span that is allowed, hatched where it is not, and its ends."""
        made: list[str] = []
        ink, height = self.ink, self.base - self.top - 18.0
        start = self.scale.start if verdict.low is None else self.scale(verdict.low)
        end = self.scale.end if verdict.high is None else self.scale(verdict.high)
        corner = (start, self.top + 18.0)
        made.append(
            tag(
                "rect",
                x=corner[0],
                y=corner[1],
                width=max(end - start, 0.0),
                height=height,
                fill=ink.good_fill,
                data_role="allowed",
            )
        )
        for limit, x, key in ((verdict.low, start, "low"), (verdict.high, end, "high")):
            if limit is None or not self.scale.holds(limit):
                continue
            line = [(x, self.top + 14.0), (x, self.base)]
            made.append(polyline(line, stroke=ink.good, stroke_width=2.4, data_limit=key))
            text = say(words, f"limit.{key}")
            anchor: Anchor = "start"
            if x > 0.5 * (self.scale.start + self.scale.end):
                anchor = "end"
            made.append(
                label(
                    (x, self.top + 9.0), text, fill=ink.good, size=SMALL, bold=True, anchor=anchor
                )
            )
        return made

    def hill(self, hill: list[XY], verdict: Verdict) -> list[str]:
        """Return the distribution, its parts beyond the limits hatched, and the reading."""
        ink = self.ink
        peak = max(density for _, density in hill)

        def at(value: float, density: float) -> XY:
            return self.scale(value), self.base - HILL * density / peak

        def inside(value: float) -> bool:
            return (verdict.low is None or value >= verdict.low) and (
                verdict.high is None or value <= verdict.high
            )

        made = []
        for kept in (True, False):
            for part in _runs(hill, inside, kept):
                line = [at(v, d) for v, d in part]
                outline = [(line[0][0], self.base), *line, (line[-1][0], self.base)]
                fill = ink.first if kept else ink.bad_fill
                made.append(
                    polygon(
                        outline,
                        fill=fill,
                        fill_opacity=0.45 if kept else 1.0,
                        data_role="within" if kept else "beyond",
                    )
                )
                if not kept:
                    made += _hatched(line, self.base, ink.bad)
        made.append(polyline([at(v, d) for v, d in hill], stroke=ink.ink, stroke_width=2.2))
        x = self.scale(verdict.value)
        made.append(
            polyline(
                [(x, self.base), (x, self.base - HILL - 6.0)],
                stroke=ink.ink,
                stroke_width=2.2,
                stroke_dasharray="2 5",
                data_role="reading",
            )
        )
        return made

    def bound(self, verdict: Verdict, bound: Bound | None) -> list[str]:
        """Return the reading as a post, and an arrow to the side where the true value lies."""
        ink, y = self.ink, self.base - 44.0
        x = self.scale(verdict.value)
        post = [(x, self.base), (x, y - 14.0)]
        made = [polyline(post, stroke=ink.ink, stroke_width=2.6, data_role="reading")]
        if bound is None:
            return made
        ahead = 1.0 if bound == "above" else -1.0
        end = self.scale.end if bound == "above" else self.scale.start
        tip = end - ahead * 4.0
        made.append(polyline([(x, y), (tip - ahead * 8.0, y)], stroke=ink.ink, stroke_width=3.0))
        head = [(tip - ahead * 13.0, y - 7.0), (tip, y), (tip - ahead * 13.0, y + 7.0)]
        made.append(polygon(head, fill=ink.ink, data_role=bound))
        return made


def _runs(hill: list[XY], inside: Callable[[float], bool], kept: bool) -> list[list[XY]]:
    """Return the stretches of the hill that are within the limits, or not."""
    runs: list[list[XY]] = []
    fresh = True
    for value, density in hill:
        if inside(value) is kept:
            if fresh:
                runs.append([])
            runs[-1].append((value, density))
            fresh = False
        else:
            fresh = True
    return [run for run in runs if len(run) > 1]


def _hatched(line: list[XY], base: float, colour: str) -> list[str]:
    """Return upright strokes under a line: a pattern besides the colour of what is beyond."""
    made = []
    last = -math.inf
    for x, y in line:
        if x - last >= 5.0 and base - y > 3.0:
            made.append(polyline([(x, base - 1.0), (x, y + 1.0)], stroke=colour, stroke_width=1.6))
            last = x
    return made


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
