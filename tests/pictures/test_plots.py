"""Readings, expectations, trends, shares and waveforms: what is drawn is what was given."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import combinations, pairwise
from math import erf, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pictures import marks as read

from chargewright.diagnosis.expected import Band
from chargewright.machine.points import Function
from chargewright.meters.uncertainty import Spread
from chargewright.meters.verdict import judge
from chargewright.pictures.axes import Scale, tick_text, ticks
from chargewright.pictures.expected import expected_picture
from chargewright.pictures.ink import THEMES
from chargewright.pictures.reading import reading_picture
from chargewright.pictures.shares import Share, shares_picture
from chargewright.pictures.svg import SMALL, WIDTH
from chargewright.pictures.trend import Moment, trend_picture
from chargewright.pictures.waves import Curve, Panel, thinned, waveform_picture

BANDS = (
    Band(cause="worn", title="battery worn", low=12.9, middle=13.6, high=14.3),
    Band(cause="plug", title="high resistance in one contact of the alternator plug, lead A",
         low=12.2, middle=12.9, high=13.4, overload=0.3),
    Band(cause="fuse", title="main fuse open", overload=1.0),
)  # fmt: skip
START = datetime(2021, 5, 3)  # noqa: DTZ001 - a picture shows the workshop's own date
MOMENTS = tuple(
    Moment(at=START + timedelta(days=400 * n), value=value, half_width=0.09, after_repair=n == 3)
    for n, value in enumerate((14.2, 13.9, 13.1, 14.3))
)
TIME = np.linspace(0.0, 7.0, 200)
PANELS = (
    Panel(title="Current in the leads", unit="A", curves=tuple(
        Curve(title=name, values=20.0 * np.sin(TIME + shift))
        for name, shift in (("A", 0.0), ("B", 2.1), ("C", 4.2)))),
    Panel(title="Battery", unit="V", curves=(
        Curve(title="this", values=14.0 + 0.01 * np.sin(6.0 * TIME)),
        Curve(title="sound, mean", values=np.full(200, 14.4), faint=True))),
)  # fmt: skip
SHARES = (
    Share(title="high resistance in one contact of the alternator plug", now=0.62, before=0.18),
    Share(title="battery worn", now=0.21, before=0.5),
    Share(title="magnets weak", now=0.0004, before=0.1),
)
Drawing = Callable[..., str]


def _reading(**how: object) -> str:
    spread = Spread((0.09,), 0.02)
    verdict = judge(13.55, spread, low=13.5, high=15.0)
    return reading_picture(verdict, unit="V", spread=spread, title="Battery volts", **how)  # type: ignore[arg-type]


def _expected(**how: object) -> str:
    return expected_picture(
        BANDS, function=Function.DC_V, reading=13.1, reach=0.09, title="Battery volts", **how  # type: ignore[arg-type]
    )  # fmt: skip


def _trend(**how: object) -> str:
    return trend_picture(MOMENTS, unit="V", low=13.5, high=15.0, title="Volts", **how)  # type: ignore[arg-type]


def _waves(**how: object) -> str:
    return waveform_picture(
        TIME, PANELS, crank_deg_per_ms=16.5, cut_from_ms=3.5, notes=("sound machine",),
        title="small outboard, 4-20 hp, rectifier only", **how,  # type: ignore[arg-type]
    )  # fmt: skip


def _shares(**how: object) -> str:
    return shares_picture(SHARES, title="After the reading", **how)  # type: ignore[arg-type]


ALL = (_reading, _expected, _trend, _waves, _shares)


@pytest.mark.parametrize("theme", [*THEMES, "css"])
@pytest.mark.parametrize("size", ["phone", "page"])
@pytest.mark.parametrize("draw", ALL)
def test_every_picture_is_whole_and_legible(draw: Drawing, size: str, theme: str) -> None:
    svg = draw(size=size, theme=theme)
    root = read.parsed(svg)
    width, height = read.view(root)
    assert width == WIDTH[size]
    assert root.attrib["role"] == "img"
    assert root.findtext(f"{read.SVG}title")
    assert len(root.findtext(f"{read.SVG}desc") or "") > 20
    assert list(read.outside_references(svg.replace("http://www.w3.org/2000/svg", ""))) == []
    found = read.texts(root)
    for text in found:
        assert text.size >= SMALL
        assert text.left >= 0.0, text
        assert text.right <= width, text
        assert text.top >= 0.0, text
        assert text.bottom <= height, text
    for one, other in combinations(found, 2):
        assert not one.meets(other, spare=0.5), (one.words, other.words)


SIGNS = st.text(max_size=60)


@given(title=SIGNS, cause=SIGNS, unit=st.text(max_size=6))
def test_any_text_gives_a_picture_that_parses(title: str, cause: str, unit: str) -> None:
    band = Band(cause=cause, title=cause, low=1.0, middle=2.0, high=3.0)
    for svg in (
        expected_picture([band], function=Function.DC_V, title=title),
        shares_picture([Share(title=cause, now=0.5)], title=title),
        trend_picture(MOMENTS, unit=unit, title=title),
        reading_picture(judge(1.0, Spread((0.1,)), low=0.5), unit=unit, title=title),
    ):
        read.parsed(svg)


def _areas(svg: str) -> tuple[float, float]:
    """Return the areas of the distribution within and beyond the limits."""
    found = {"within": 0.0, "beyond": 0.0}
    for polygon in read.parsed(svg).iter(f"{read.SVG}polygon"):
        role = polygon.attrib.get("data-role")
        if role in found:
            x, y = np.array(read.line(polygon)).T
            found[role] += 0.5 * abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))
    return found["within"], found["beyond"]


@given(
    value=st.floats(13.2, 15.3), half=st.floats(0.02, 0.3), sigma=st.floats(0.0, 0.1),
    high=st.sampled_from([None, 15.0]),
)  # fmt: skip
def test_the_shaded_share_is_the_probability_of_conformance(
    value: float, half: float, sigma: float, high: float | None
) -> None:
    """JCGM 106:2012, 7.2: conformance is the part of the distribution within the limits."""
    spread = Spread((half,), sigma)
    verdict = judge(value, spread, low=13.5, high=high)
    within, beyond = _areas(reading_picture(verdict, unit="V", spread=spread))
    assert verdict.p_conform is not None
    assert within / (within + beyond) == pytest.approx(verdict.p_conform, abs=0.02)


def test_the_hill_of_a_normal_error_is_the_published_one() -> None:
    """One standard uncertainty above the limit: 84.1 % of a normal lies within (any table)."""
    spread = Spread((), 0.1)
    verdict = judge(13.6, spread, low=13.5)
    within, beyond = _areas(reading_picture(verdict, unit="V"))
    assert within / (within + beyond) == pytest.approx(0.5 * (1 + erf(1 / sqrt(2))), abs=0.02)


def test_a_bound_has_no_hill() -> None:
    from chargewright.meters.load import load_meter
    from chargewright.meters.shown import Shown
    from chargewright.meters.verdict import judge_reading

    verdict = judge_reading(load_meter("trms-6000"), Function.OHM, Shown(kind="overload"), low=1e6)
    svg = reading_picture(verdict, unit="ohm", bound="above")
    assert _areas(svg) == (0.0, 0.0)
    assert "Within the limits" in svg
    assert "above" in (read.parsed(svg).findtext(f"{read.SVG}desc") or "")


def _rects(svg: str, key: str) -> dict[str, tuple[float, float]]:
    return {
        r.attrib[key]: (float(r.attrib["x"]), float(r.attrib["x"]) + float(r.attrib["width"]))
        for r in read.parsed(svg).iter(f"{read.SVG}rect")
        if key in r.attrib
    }


def test_bands_and_reading_stand_on_one_axis() -> None:
    svg = _expected()
    bars = _rects(svg, "data-cause")
    per_volt = (bars["worn"][1] - bars["worn"][0]) / (14.3 - 12.9)
    assert bars["plug"][0] == pytest.approx(bars["worn"][0] - 0.7 * per_volt, abs=0.1)
    line = next(e for e in read.parsed(svg).iter() if e.attrib.get("data-role") == "reading")
    assert read.line(line)[0][0] == pytest.approx(bars["worn"][0] + 0.2 * per_volt, abs=0.1)
    overs = [e.attrib["data-over"] for e in read.parsed(svg).iter() if "data-over" in e.attrib]
    assert overs == ["plug", "fuse"]
    assert "main fuse open: OL." in (read.parsed(svg).findtext(f"{read.SVG}desc") or "")


def test_ohms_over_decades_get_a_logarithmic_axis() -> None:
    bands = [
        Band(cause=name, title=name, low=low, middle=2 * low, high=10 * low)
        for name, low in (("a", 0.1), ("b", 10.0), ("c", 1e4))
    ]
    bars = _rects(expected_picture(bands, function=Function.OHM), "data-cause")
    widths = [right - left for left, right in bars.values()]
    assert widths == pytest.approx([widths[0]] * 3, abs=0.1)  # each band is one decade


def test_a_look_shows_its_chance() -> None:
    bands = [Band(cause="a", title="a", overload=0.5), Band(cause="b", title="b", overload=0.25)]
    bars = _rects(expected_picture(bands, function=Function.LOOK), "data-cause")
    assert bars["a"][1] - bars["a"][0] == pytest.approx(2 * (bars["b"][1] - bars["b"][0]), abs=0.1)


def test_shares_are_as_long_as_they_are_likely() -> None:
    root = read.parsed(_shares())
    widths = [float(e.attrib["width"]) for e in root.iter() if e.attrib.get("data-role") == "share"]
    assert widths[0] / widths[1] == pytest.approx(0.62 / 0.21, rel=0.01)
    marks = [read.line(e)[0][0] for e in root.iter() if e.attrib.get("data-role") == "before"]
    assert marks[1] > marks[0] > marks[2]
    assert "under 1 %" in (root.findtext(f"{read.SVG}desc") or "")


def test_trend_keeps_the_order_of_time_and_the_limits() -> None:
    root = read.parsed(_trend())
    allowed = next(e for e in root.iter() if e.attrib.get("data-role") == "allowed")
    top = float(allowed.attrib["y"])
    bottom = top + float(allowed.attrib["height"])
    spots = [e for e in root.iter() if e.attrib.get("data-role") == "moment"]
    tags = [e.tag.removeprefix(read.SVG) for e in spots]
    assert tags == ["circle", "circle", "circle", "rect"]  # the square one is after the repair
    across = [float(e.attrib["cx"]) for e in spots[:3]]
    assert across == sorted(across)
    inside = [top <= float(e.attrib["cy"]) <= bottom for e in spots[:3]]
    assert inside == [True, True, False]  # 14.2 and 13.9 within 13.5 to 15.0, 13.1 not


def test_a_trend_without_readings_says_so() -> None:
    assert "No reading yet" in trend_picture([], unit="V", title="Volts")


def test_curves_are_told_apart_without_colour() -> None:
    root = read.parsed(_waves())
    curves = {e.attrib["data-curve"]: e for e in root.iter() if "data-curve" in e.attrib}
    dashes = [curves[name].attrib.get("stroke-dasharray") for name in "ABC"]
    assert len(set(dashes)) == 3
    x, y = np.array(read.line(curves["A"])).T
    drawn = np.interp(np.linspace(x[0], x[-1], 200), x, y)
    assert np.corrcoef(-drawn, 20.0 * np.sin(TIME))[0, 1] > 0.9999


@given(st.lists(st.floats(0.0, 100.0), min_size=3, max_size=80))
def test_a_thinned_line_passes_every_point(heights: list[float]) -> None:
    line = [(2.0 * n, y) for n, y in enumerate(heights)]
    x, y = np.array(thinned(line)).T
    assert np.abs(np.interp([p[0] for p in line], x, y) - heights).max() < 0.12 + 0.051


@given(st.floats(-1e5, 1e5), st.floats(1e-4, 1e5), st.integers(2, 8))
def test_ticks_are_round_and_within(low: float, width: float, most: int) -> None:
    marks = ticks(low, low + width, most)
    assert len(marks) <= most + 1
    for one, other in pairwise(marks):
        step = other - one
        lead = float(f"{step:.2e}".split("e")[0])
        assert min(abs(lead - m) for m in (1.0, 2.0, 5.0, 10.0)) < 0.02
        assert tick_text(one, step) != tick_text(other, step)


def test_a_scale_holds_values_at_its_ends() -> None:
    scale = Scale(0.0, 10.0, 100.0, 200.0)
    assert [scale(v) for v in (-5.0, 0.0, 5.0, 20.0)] == [100.0, 100.0, 150.0, 200.0]
