"""A decision tree as one page for the wall: words for every range and end, and an SVG of it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape

from chargewright.checks.catalogue import Check
from chargewright.diagnosis.chart import Fork, Leaf, Span
from chargewright.diagnosis.decisions import CHARGE, NOTHING

WIDTH_MM, HEIGHT_MM = 297.0, 210.0  # A4, landscape
MARGIN_MM, HEAD_MM, FOOT_MM = 8.0, 17.0, 9.0
FONT = "Noto Sans, DejaVu Sans, Helvetica, Arial, sans-serif"
LETTER = 0.53  # mean width of a letter, in font sizes
LEAST_MM, MOST_MM = 1.6, 3.2  # size of letters
COLOURS = {"repair": "#f3c9b5", "charge": "#f4e3a1", "sound": "#cfe6c8", "open": "#e4e4e4"}
CHECK, LINE, INK = "#dbe6f2", "#7a8694", "#1b2733"
MILLI = 0.5  # V or A below which thousandths read better


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What stands above and below a chart."""

    title: str
    about: str
    care: str


def span_words(check: Check, span: Span) -> str:
    """Return a range in words, as ``below 12.4 V`` or ``at least 34 kohm, or OL``."""
    if span.seen is not None:
        return "yes" if span.seen else "no"
    if not span.figures:
        return "OL"
    unit = check.function.unit if check.function is not None else ""
    ol = " or OL" if span.over and unit == "ohm" else ""
    if span.low is None and span.high is None:
        return f"a figure{ol}"
    if span.low is None:
        return f"below {figure(span.high, unit)}"
    if span.high is None:
        return f"above {figure(span.low, unit)}{ol}"
    return f"{figure(span.low, unit)} to {figure(span.high, unit)}"


def figure(value: float | None, unit: str) -> str:
    """Return a bound with three digits and its unit.

    >>> figure(12.381, "V"), figure(0.0123, "V"), figure(22379.0, "ohm")
    ('12.4 V', '12.3 mV', '22.4 kohm')
    """
    if value is None:
        return ""
    if unit == "ohm" and abs(value) >= 1e6:
        return f"{value / 1e6:.3g} Mohm"
    if unit == "ohm" and abs(value) >= 1e3:
        return f"{value / 1e3:.3g} kohm"
    if unit in ("V", "A") and abs(value) < MILLI:
        return f"{max(value * 1e3, 0.0):.3g} m{unit}"
    return f"{value:.3g} {unit}"


def end_kind(leaf: Leaf) -> str:
    """Return repair, charge, sound or open (undecided)."""
    if leaf.measure_on or leaf.ending.undecided:
        return "open"
    if leaf.ending.id == CHARGE:
        return "charge"
    return "sound" if leaf.ending.id == NOTHING else "repair"


def end_words(leaf: Leaf) -> str:
    """Return an end in words, with its chance."""
    if end_kind(leaf) == "open":
        told = ", ".join(
            f"{'nothing' if name == 'none' else name} {share:.0%}" for name, share in leaf.suspects
        )
        return f"undecided: {told}"
    title = leaf.ending.title
    return f"{title[:1].upper()}{title[1:]} ({leaf.cure:.0%} cured)"


def outline(tree: Leaf | Fork, depth: int = 0) -> Iterator[tuple[int, str]]:
    """Yield (depth, line) of the tree as text."""
    if isinstance(tree, Leaf):
        yield depth, f"=> {end_words(tree)}"
        return
    yield depth, tree.check.title
    for span, share, child in tree.branches:
        words = f"{span_words(tree.check, span)} ({share:.0%})"
        if isinstance(child, Leaf):
            yield depth + 1, f"{words} => {end_words(child)}"
        else:
            yield depth + 1, f"{words}:"
            yield from outline(child, depth + 2)


def ends_of(tree: Leaf | Fork) -> int:
    """Return how many ends a tree has."""
    return 1 if isinstance(tree, Leaf) else sum(ends_of(child) for _, _, child in tree.branches)


def depth_of(tree: Leaf | Fork) -> int:
    """Return the most checks in a row."""
    if isinstance(tree, Leaf):
        return 0
    return 1 + max(depth_of(child) for _, _, child in tree.branches)


def wall_chart_svg(tree: Leaf | Fork, heading: Heading) -> str:
    """Return the chart as SVG, one A4 page in landscape, ends in rows from top to bottom."""
    rows, columns = ends_of(tree), depth_of(tree) + 1
    row_mm = (HEIGHT_MM - 2.0 * MARGIN_MM - HEAD_MM - FOOT_MM) / rows
    size = min(MOST_MM, max(LEAST_MM, row_mm / 2.9))  # two lines of words fit a row
    painter = _Painter(
        column_mm=(WIDTH_MM - 2.0 * MARGIN_MM) / columns, row_mm=row_mm, size_mm=size, parts=[]
    )
    painter.draw(tree, 0, 0.0)
    top = MARGIN_MM + HEAD_MM
    body = "".join(painter.parts)
    about = "".join(
        f'<text x="{MARGIN_MM:g}" y="{MARGIN_MM + 10.0 + 3.6 * number:g}" font-size="2.8">'
        f"{escape(line)}</text>"
        for number, line in enumerate(textwrap.wrap(heading.about, 180))
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_MM:g}mm" height="{HEIGHT_MM:g}mm"'
        f' viewBox="0 0 {WIDTH_MM:g} {HEIGHT_MM:g}" font-family="{FONT}" fill="{INK}">'
        f"<title>{escape(heading.title)}</title>"
        f'<rect width="{WIDTH_MM:g}" height="{HEIGHT_MM:g}" fill="white"/>'
        f'<text x="{MARGIN_MM:g}" y="{MARGIN_MM + 5.5:g}" font-size="6" font-weight="bold">'
        f"{escape(heading.title)}</text>"
        f"{about}"
        f'<g transform="translate({MARGIN_MM:g} {top:g})">{body}</g>'
        f'<text x="{MARGIN_MM:g}" y="{HEIGHT_MM - MARGIN_MM - 1.0:g}" font-size="2.6">'
        f"{escape(heading.care)}</text></svg>\n"
    )


@dataclass(slots=True, kw_only=True)
class _Painter:
    column_mm: float
    row_mm: float
    size_mm: float
    parts: list[str]

    def draw(self, tree: Leaf | Fork, column: int, top: float) -> float:
        """Draw a tree whose first end is in row ``top``; return the height of its middle."""
        rows = ends_of(tree)
        middle = (top + rows / 2.0) * self.row_mm
        x = column * self.column_mm
        if isinstance(tree, Leaf):
            width = 0.97 * self.column_mm  # nothing follows: the whole column
            self._box(x, middle, end_words(tree), COLOURS[end_kind(tree)], rows=1, width_mm=width)
            return middle
        for span, share, child in tree.branches:
            below = self.draw(child, column + 1, top)
            self._joint(x, middle, below, span_words(tree.check, span), f"{share:.0%}")
            top += ends_of(child)
        self._box(x, middle, tree.check.title, CHECK, rows=rows, width_mm=self.box_mm)
        return middle

    @property
    def box_mm(self) -> float:
        """Width of a check's box; what is left of the column holds the range."""
        return 0.58 * self.column_mm

    def _box(
        self, x: float, middle: float, text: str, colour: str, *, rows: int, width_mm: float
    ) -> None:
        letters = max(8, int(width_mm / (LETTER * self.size_mm)) - 1)
        most = max(1, int(rows * self.row_mm / (1.15 * self.size_mm)))
        lines = textwrap.wrap(text, letters)
        size = self.size_mm
        if len(lines) > most:  # smaller letters before lost words
            size = self.size_mm * most / len(lines)
            letters = max(8, int(width_mm / (LETTER * size)) - 1)
            lines = textwrap.wrap(text, letters)
            size = min(size, rows * self.row_mm / (1.15 * len(lines)))
        high = min(1.15 * size * len(lines) + 0.5 * size, max(rows * self.row_mm - 0.3, size))
        self.parts.append(
            f'<rect x="{x:.2f}" y="{middle - high / 2:.2f}" width="{width_mm:.2f}"'
            f' height="{high:.2f}" rx="0.6" fill="{colour}" stroke="{LINE}" stroke-width="0.15"/>'
        )
        first = middle - 1.15 * size * (len(lines) - 1) / 2.0 + 0.36 * size
        for number, line in enumerate(lines):
            self.parts.append(
                f'<text x="{x + 0.5 * size:.2f}" y="{first + 1.15 * size * number:.2f}"'
                f' font-size="{size:.2f}">{escape(line)}</text>'
            )

    def _joint(self, x: float, middle: float, below: float, span: str, share: str) -> None:
        """Draw the line from a check to what follows: the range above it, the share below."""
        start, end = x + self.box_mm, x + self.column_mm
        bend = start + 0.08 * self.column_mm
        self.parts.append(
            f'<path d="M{start:.2f} {middle:.2f}H{bend:.2f}V{below:.2f}H{end:.2f}" fill="none"'
            f' stroke="{LINE}" stroke-width="0.25"/>'
        )
        room = end - bend - 0.8
        for words, height in ((span, -0.3), (share, 0.95)):
            size = min(0.9 * self.size_mm, room / (LETTER * max(len(words), 1)))
            self.parts.append(
                f'<text x="{bend + 0.4:.2f}" y="{below + height * size:.2f}"'
                f' font-size="{size:.2f}">{escape(words)}</text>'
            )
