"""A plot of a commute as SVG text, written by hand: state of charge and chance of a start."""

from __future__ import annotations

from html import escape

import numpy as np

from chargewright.energy.commute import Commute
from chargewright.machine.parameters import Array

WIDTH, HEIGHT = 720, 420
LEFT, RIGHT, TOP, BOTTOM = 56, 56, 40, 48
_BAND = (0.05, 0.25, 0.5, 0.75, 0.95)
_FONT = 'font-family="sans-serif" font-size="12"'


def commute_svg(commute: Commute, *, title: str = "State of charge over the days") -> str:
    """Return an SVG document: bands of charge (5-95 and 25-75 %), median, chance of a start.

    The left axis is charge, the right axis the share of machines that start, both in percent.
    """
    days = commute.soc.shape[0] - 1
    levels = np.quantile(commute.soc, _BAND, axis=1)
    x = _x(np.arange(days + 1, dtype=np.float64), days)
    chance = commute.started.mean(axis=1)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img"'
        f' aria-label="{escape(title, quote=True)}">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="white"/>',
        f'<text x="{LEFT}" y="24" {_FONT} font-weight="bold">{escape(title)}</text>',
        *_grid(days),
        _band(x, levels[0], levels[4], "#cfe3f5"),
        _band(x, levels[1], levels[3], "#9cc4e8"),
        _line(x, levels[2], "#1f5f9e", dash=""),
        _line(x[:-1], chance, "#b5452c", dash="6 4"),
        *_legend(),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _x(day: Array, days: int) -> Array:
    return LEFT + (WIDTH - LEFT - RIGHT) * day / max(days, 1)


def _y(share: Array) -> Array:
    return TOP + (HEIGHT - TOP - BOTTOM) * (1.0 - share)


def _points(x: Array, share: Array) -> str:
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, _y(share), strict=True))


def _band(x: Array, low: Array, high: Array, colour: str) -> str:
    outline = _points(np.concatenate([x, x[::-1]]), np.concatenate([low, high[::-1]]))
    return f'<polygon points="{outline}" fill="{colour}"/>'


def _line(x: Array, share: Array, colour: str, *, dash: str) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<polyline points="{_points(x, share)}" fill="none" stroke="{colour}"'
        f' stroke-width="2"{dashed}/>'
    )


def _grid(days: int) -> list[str]:
    rows = []
    for percent in range(0, 101, 20):
        y = float(_y(np.array(percent / 100.0)))
        rows.append(
            f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" stroke="#dddddd"/>'
        )
        rows.append(_label(LEFT - 8, y + 4, str(percent), anchor="end"))
        rows.append(_label(WIDTH - RIGHT + 8, y + 4, str(percent), anchor="start"))
    step = max(1, 7 * (days // 70 + 1)) if days > 10 else 1
    for day in range(0, days + 1, step):
        x = float(_x(np.array(float(day)), days))
        rows.append(_label(x, HEIGHT - BOTTOM + 18, str(day), anchor="middle"))
    rows.append(_label(WIDTH / 2, HEIGHT - 10, "day", anchor="middle"))
    return rows


def _label(x: float, y: float, text: str, *, anchor: str, colour: str = "black") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {_FONT} fill="{colour}">'
        f"{escape(text)}</text>"
    )


def _legend() -> list[str]:
    y = HEIGHT - 10
    return [
        _label(LEFT, y, "charge %: half, nine in ten", anchor="start", colour="#1f5f9e"),
        _label(WIDTH - RIGHT, y, "starts % (dashed)", anchor="end", colour="#b5452c"),
    ]
