"""Colours against their grounds, text widths against the font, pictures as PNG."""

from __future__ import annotations

import io
from dataclasses import fields
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pictures import marks as read
from PIL import Image

from chargewright.errors import InputError
from chargewright.machine.layout import Layout
from chargewright.machine.points import Function, Point, State
from chargewright.pictures.circuit import circuit_picture
from chargewright.pictures.fit import shortened, width_of, wrapped
from chargewright.pictures.ink import THEMES, Ink, contrast, ink_of, theme_css
from chargewright.pictures.png import to_png
from chargewright.pictures.words import ENGLISH, say

# WCAG 2.1: 4.5 to 1 for text (1.4.3), 3 to 1 for what has to be made out (1.4.11).
TEXT = [
    ("ink", "paper"), ("soft", "paper"), ("good", "paper"), ("bad", "paper"),
    ("good", "good_fill"), ("ink", "good_fill"), ("soft", "good_fill"),
    ("plus_text", "plus"), ("minus_text", "minus"),
]  # fmt: skip
SEEN = [
    ("path", "paper"), ("plus", "paper"), ("first", "paper"), ("second", "paper"),
    ("third", "paper"), ("bad", "bad_fill"), ("ink", "path"), ("minus_edge", "minus"),
]  # fmt: skip


@pytest.mark.parametrize("theme", THEMES)
def test_contrast_of_every_pair_that_meets(theme: str) -> None:
    ink = THEMES[theme]
    for over, under in TEXT:
        assert contrast(getattr(ink, over), getattr(ink, under)) >= 4.5, (over, under)
    for over, under in SEEN:
        assert contrast(getattr(ink, over), getattr(ink, under)) >= 3.0, (over, under)
    black = max(contrast(ink.minus, ink.paper), contrast(ink.minus_edge, ink.paper))
    assert black >= 3.0


def test_contrast_of_published_pairs() -> None:
    """Grey #767676 on white is the lightest to pass AA, 4.54 (W3C, Understanding 1.4.3)."""
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)


def test_style_sheet_variables_fall_back_on_the_light_theme() -> None:
    css = ink_of("css")
    declared = theme_css("dark")
    for field in fields(Ink):
        name = f"--cw-{field.name.replace('_', '-')}"
        assert getattr(css, field.name) == f"var({name}, {getattr(THEMES['light'], field.name)})"
        assert f"{name}: {getattr(THEMES['dark'], field.name)};" in declared
    with pytest.raises(InputError, match="did you mean 'dark'"):
        ink_of("drak")  # type: ignore[arg-type]


@pytest.mark.parametrize("bold", [False, True])
def test_widths_are_those_of_the_bundled_font(bold: bool) -> None:
    for letter in map(chr, range(32, 127)):
        assert width_of(letter, 20.0, bold=bold) == pytest.approx(
            read.measured(letter, 20.0, bold=bold), abs=0.06
        )


@given(st.text(max_size=80), st.floats(40.0, 400.0))
def test_wrapping_keeps_every_word_and_the_room(text: str, room: float) -> None:
    lines = wrapped(text, 14.0, room)
    assert " ".join(lines).split() == text.split()
    for line in lines:
        assert width_of(line, 14.0) <= room or " " not in line
    assert width_of(shortened(text, 14.0, room), 14.0) <= max(room, width_of("...", 14.0))


def test_the_fonts_come_with_their_licence() -> None:
    folder = files("chargewright.pictures").joinpath("fonts")
    assert "SIL OPEN FONT LICENSE Version 1.1" in folder.joinpath("OFL.txt").read_text("utf-8")
    for name in ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf"):
        assert folder.joinpath(name).is_file()


def picture(theme: str = "light", **more: object) -> str:
    return circuit_picture(
        Layout(), plus=Point.ALT_A, minus=Point.FRAME, function=Function.OHM,
        state=State(plug_in=False), theme=theme, **more,  # type: ignore[arg-type]
    )  # fmt: skip


@pytest.mark.parametrize("theme", THEMES)
def test_png_has_the_width_asked_for_and_the_theme_s_ground(theme: str) -> None:
    svg = picture(theme)
    image = Image.open(io.BytesIO(to_png(svg, 720))).convert("RGB")
    width, height = read.view(read.parsed(svg))
    assert image.width == 720
    assert image.height == pytest.approx(720 * height / width, abs=1.0)
    ground = tuple(int(THEMES[theme].paper[i : i + 2], 16) for i in (1, 3, 5))
    assert image.getpixel((2, 2)) == ground
    red = tuple(int(THEMES[theme].plus[i : i + 2], 16) for i in (1, 3, 5))
    assert image.getpixel(((2 * 64), int(2 * _lead_a(svg)))) == red  # the probe's tip


def _lead_a(svg: str) -> float:
    return read.nodes(read.parsed(svg))["alt_a"][1]


def test_png_letters_come_from_the_bundled_font() -> None:
    """Where the font were not found, nothing but the fallback's letters or none would be drawn."""
    svg = picture()
    named = to_png(svg, 720)
    unknown = to_png(svg.replace("Noto Sans, system-ui, Arial, sans-serif", "Nowhere Sans"), 720)
    assert named != unknown
    dark = [sum(1 for v in Image.open(io.BytesIO(p)).convert("L").tobytes() if v < 90)
            for p in (named, unknown)]  # fmt: skip
    assert dark[0] > dark[1]


def test_png_refuses_what_it_cannot_colour() -> None:
    with pytest.raises(InputError, match="light, dark or print"):
        to_png(picture("css"), 720)
    with pytest.raises(InputError, match="16 to 8192"):
        to_png(picture(), 5)


def test_another_language_can_be_put_in() -> None:
    german = {"part.battery": "Batterie", "probe.red": "ROT an {point}", "point.frame": "Rahmen"}
    svg = picture(words=german)
    assert ">Batterie<" in svg
    assert "ROT an" in svg
    assert "BLACK on Rahmen" in svg  # what a language lacks stays English


def test_every_text_can_be_said() -> None:
    class Any(dict[str, str]):
        def __missing__(self, key: str) -> str:
            return "x"

    for key, text in ENGLISH.items():
        assert text.format_map(Any()), key
        assert say({key: "other"}, key) == "other"
