"""The catalogues: ``data/<language>.json``, all that one language needs in one file.

Sections: ``app`` (the pages, by key), ``pictures`` (by key), ``titles`` (checks, causes, repairs,
classes and meters by id), ``said`` (what the service says, by its English), ``report`` and
``errors`` (by their English), ``figures`` (how a figure is written). English needs ``app`` alone:
everything else is English where it is made.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from chargewright.checks.load import kind_of, load_book
from chargewright.errors import InputError, nearest
from chargewright.machine.cause_file import catalogue as causes_known
from chargewright.machine.classes import class_ids, read_class
from chargewright.machine.prior import complaints
from chargewright.meters.load import load_meter, meter_ids
from chargewright.pictures.words import ENGLISH as PICTURED
from chargewright.pictures.words import Words

ENGLISH = "en"
SHARED = ("point.", "function.", "state.")  # words of the pictures that texts use too


@cache
def languages() -> Mapping[str, str]:
    """Return every language by its code, with its own name: ``{"en": "English", ...}``."""
    folder = files("chargewright.texts") / "data"
    codes = sorted(entry.name.removesuffix(".json") for entry in folder.iterdir())
    codes.sort(key=lambda code: code != ENGLISH)
    return MappingProxyType({code: str(_read(code)["language"]) for code in codes})


@cache
def _read(code: str) -> dict[str, Any]:
    place = files("chargewright.texts") / "data" / f"{code}.json"
    found: dict[str, Any] = json.loads(place.read_text("utf-8"))
    return found


def section(language: str, name: str) -> Mapping[str, Any]:
    """Return one section of a language's file; empty where it has none.

    Raises ``InputError`` for a language that has no file.
    """
    if language not in languages():
        raise InputError(f"language {language!r} is unknown; {nearest(language, languages())}")
    return MappingProxyType(_read(language).get(name, {}))


def picture_words(language: str) -> Words:
    """Return what pictures write in a language."""
    return {**PICTURED, **section(language, "pictures")}


@cache
def english_titles() -> Mapping[str, str]:
    """Return the English title of every check, cause, repair, class and meter by its key."""
    found = {f"class.{name}": read_class(name).title for name in class_ids()}
    found |= {f"meter.{name}": load_meter(name).title for name in meter_ids()}
    for cause in causes_known().causes:
        found |= {f"cause.{cause.id}": cause.title, f"repair.{cause.repair.id}": cause.repair.title}
    for name in class_ids():
        its, book = read_class(name), load_book(kind_of(name))
        known = book.catalogue(its.layout, its.speeds, lights_always_on=its.lights_always_on)
        found |= {f"check.{check.id}": check.title for check in known}
    return MappingProxyType(found)


@cache
def shared_words(language: str) -> Mapping[str, str]:
    """Return the words of a language by their English, as phone and service use them."""
    told, pictured = section(language, "app"), section(language, "pictures")
    titles = section(language, "titles")
    found = {
        PICTURED[key]: pictured[key]
        for key in PICTURED
        if key in pictured and key.startswith(SHARED) and "{" not in PICTURED[key]
    }
    found |= {
        one.title: told[f"complaint.{one.id}"]
        for one in complaints().values()
        if f"complaint.{one.id}" in told
    }
    found |= {english: titles[key] for key, english in english_titles().items() if key in titles}
    own = {**section(language, "errors"), **section(language, "said")}
    return MappingProxyType(found | own)


def phone_file(language: str) -> dict[str, Any]:
    """Return what a phone needs of a language, without reports and pictures."""
    return {
        "language": language,
        "languages": dict(languages()),
        "figures": dict(section(language, "figures")),
        "app": dict(section(language, "app")),
        "titles": dict(section(language, "titles")),
        "said": {} if language == ENGLISH else dict(shared_words(language)),
    }
