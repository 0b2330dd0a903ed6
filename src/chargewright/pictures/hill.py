"""The hill of a reading: how likely each true value is, against the span that is allowed."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from chargewright.meters.uncertainty import Spread
from chargewright.meters.verdict import Verdict
from chargewright.pictures.axes import Scale, spread_of
from chargewright.pictures.ink import Ink
from chargewright.pictures.svg import SMALL, XY, Anchor, label, polygon, polyline, tag
from chargewright.pictures.words import Words, say

Bound = Literal["above", "below"]
HILL = 96.0  # height of the distribution
STEPS = 160


def hill_of(verdict: Verdict, error: Spread) -> list[XY] | None:
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


def ends_of(verdict: Verdict, error: Spread, known: bool) -> tuple[float, float]:
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
