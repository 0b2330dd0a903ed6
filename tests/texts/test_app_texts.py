"""Every word of the app comes from one catalogue per language, and both say the same things."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path

import pytest

APP = Path(str(files("chargewright.web") / "app"))
TEXTS = Path(str(files("chargewright.texts") / "data"))
OWN = sorted(p for p in APP.rglob("*.js") if "vendor" not in p.parts)
CATALOGUES = sorted(TEXTS.glob("*.json"))
CALL = re.compile(r"""\bt\(\s*"([^"]+)\"""")
PICKED = re.compile(r"""[?:]\s*"([a-z]+\.[a-z_.]+)\"""")  # t(wide ? "a.b" : "a.c")
MADE = re.compile(r"\bt\(`([^`]+)`")  # t(`theme.${one}`)
GROUP = re.compile(r"""\bword\("(\w+)\"""")
FILLED = re.compile(r"\{(\w+)\}")


def catalogue(path: Path) -> dict[str, str]:
    found: dict[str, str] = json.loads(path.read_text(encoding="utf-8"))["app"]
    return found


def source() -> str:
    return "\n".join(path.read_text(encoding="utf-8") for path in OWN)


def test_english_and_german_are_there() -> None:
    assert {path.stem for path in CATALOGUES} >= {"en", "de"}


@pytest.mark.parametrize("path", CATALOGUES, ids=lambda path: path.stem)
def test_a_language_has_every_key_and_every_place_to_fill(path: Path) -> None:
    english, other = catalogue(TEXTS / "en.json"), catalogue(path)
    assert set(other) == set(english)
    for key, text in english.items():
        assert set(FILLED.findall(other[key])) == set(FILLED.findall(text)), key
        assert other[key].strip(), key


def test_german_is_translated() -> None:
    """Words alike in both languages are few: names, units and loan words."""
    english, german = catalogue(TEXTS / "en.json"), catalogue(TEXTS / "de.json")
    same = [key for key in english if english[key] == german[key] and " " in english[key]]
    assert same == []


def test_every_text_asked_for_is_in_the_catalogue() -> None:
    english = catalogue(TEXTS / "en.json")
    asked = set(CALL.findall(source())) | set(PICKED.findall(source()))
    assert len(asked) > 250
    assert asked - set(english) == set()


def test_every_text_in_the_catalogue_is_asked_for() -> None:
    text = source()
    asked = set(CALL.findall(text)) | set(PICKED.findall(text))
    made = [re.sub(r"\\\$\\\{[^}]*\\\}", ".+", re.escape(one)) for one in MADE.findall(text)]
    made += [rf"{group}\..+" for group in GROUP.findall(text)]
    patterns = [re.compile(one) for one in made]
    english = catalogue(TEXTS / "en.json")
    left = [k for k in english if k not in asked and not any(p.fullmatch(k) for p in patterns)]
    assert left == []


def test_no_sentence_stands_in_the_code() -> None:
    """Text between tags would never be translated."""
    between = re.compile(r">\s*([A-Z][a-z]+ [a-z][^<>${}`]*)<")
    found = {path.name: between.findall(path.read_text(encoding="utf-8")) for path in OWN}
    assert {name: texts for name, texts in found.items() if texts} == {}
