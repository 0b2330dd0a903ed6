"""The reliability diagram as SVG: stated probability against the share that was right."""

from __future__ import annotations

from collections.abc import Sequence

from benchmarks.workshop.summary import Bin

SIDE, EDGE = 320, 48
COLOURS = ("#1f5f8b", "#b5532a")
LABEL = 'font-family="sans-serif" font-size="12" fill="#222"'


def diagram(series: Sequence[tuple[str, Sequence[Bin]]]) -> str:
    """Return an SVG of one or two named series; a dot's area is its count."""
    whole = SIDE + 2 * EDGE
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {whole} {whole}" '
        f'width="{whole}" height="{whole}" role="img">',
        "<title>Reliability: stated probability against share right</title>",
        f'<rect width="{whole}" height="{whole}" fill="#fff"/>',
        f'<path d="M{_x(0)} {_y(0)}H{_x(1)}M{_x(0)} {_y(0)}V{_y(1)}" stroke="#222" fill="none"/>',
        f'<path d="M{_x(0)} {_y(0)}L{_x(1)} {_y(1)}" stroke="#999" stroke-dasharray="4 4"/>',
    ]
    for tick in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0):
        lines.append(
            f'<text x="{_x(tick)}" y="{_y(0) + 18}" text-anchor="middle" {LABEL}>{tick}</text>'
        )
        lines.append(
            f'<text x="{_x(0) - 8}" y="{_y(tick) + 4}" text-anchor="end" {LABEL}>{tick}</text>'
        )
    lines.append(
        f'<text x="{_x(0.5)}" y="{whole - 8}" text-anchor="middle" {LABEL}>'
        "stated probability of the leading component</text>"
    )
    lines.append(f'<text x="8" y="20" {LABEL}>share of jobs in which it was at fault</text>')
    for number, (name, bins) in enumerate(series):
        lines += _series(name, bins, number)
    return "\n".join([*lines, "</svg>", ""])


def _series(name: str, bins: Sequence[Bin], number: int) -> list[str]:
    colour = COLOURS[number % len(COLOURS)]
    total = sum(one.count for one in bins)
    path = " ".join(f"{_x(one.stated)},{_y(one.right)}" for one in bins)
    lines = [f'<polyline points="{path}" fill="none" stroke="{colour}"/>']
    for one in bins:
        radius = 2.0 + 14.0 * (one.count / total) ** 0.5
        lines.append(
            f'<circle cx="{_x(one.stated)}" cy="{_y(one.right)}" r="{radius:.1f}" '
            f'fill="{colour}" fill-opacity="0.55"><title>{name}: {one.count} jobs, stated '
            f"{one.stated:.2f}, right {one.right:.2f}</title></circle>"
        )
    place = _y(1) + 14 + 16 * number
    lines.append(f'<rect x="{_x(0) + 10}" y="{place - 9}" width="10" height="10" fill="{colour}"/>')
    lines.append(f'<text x="{_x(0) + 26}" y="{place}" {LABEL}>{name}, {total} jobs</text>')
    return lines


def _x(share: float) -> float:
    return round(EDGE + share * SIDE, 1)


def _y(share: float) -> float:
    return round(EDGE + (1.0 - share) * SIDE, 1)
