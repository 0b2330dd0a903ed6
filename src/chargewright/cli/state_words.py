"""How the machine stands, typed in a few words: ``running 3000, lights on``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from chargewright.errors import InputError, nearest

SETTINGS: Mapping[str, Mapping[str, Any]] = {
    "off": {"engine": "off"},
    "engine off": {"engine": "off"},
    "cranking": {"engine": "cranking", "key_on": True},
    "running": {"engine": "running", "key_on": True},
    "idle": {"engine": "running", "key_on": True, "rpm": "idle"},
    "mid": {"engine": "running", "key_on": True, "rpm": "mid"},
    "high": {"engine": "running", "key_on": True, "rpm": "high"},
    "key on": {"key_on": True},
    "key off": {"key_on": False},
    "lights on": {"lights_on": True, "key_on": True},
    "lights off": {"lights_on": False},
    "plug open": {"plug_in": False},
    "plug in": {"plug_in": True},
    "battery off": {"battery_in": False},
    "battery on": {"battery_in": True},
    "hot": {"warmth": "hot"},
    "cold": {"warmth": "cold"},
    "warmth unknown": {"warmth": "unknown"},
    "temperature unknown": {"warmth": "unknown"},
    "rpm unknown": {"engine": "running", "key_on": True, "rpm": None},
    "speed unknown": {"engine": "running", "key_on": True, "rpm": None},
    "by ear": {"rpm_rel_u": 0.10},
    "tachometer": {"rpm_rel_u": 0.03},
    "charged": {"battery_charged": True},
    "full field": {"full_field": True},
    "load tester": {"load": "load_tester"},
    "headlamp": {"load": "headlamp", "lights_on": True, "key_on": True},
}
EXAMPLE = "off, key on  |  idle, lights on  |  3000, plug open"
SPEED = re.compile(r"(\d{2,5})\s*(?:rpm)?", re.ASCII)
SPAN = re.compile(r"(\d{2,5})\s*(?:-|to|\.\.)\s*(\d{2,5})\s*(?:rpm)?", re.ASCII)
REST = re.compile(r"rest(?:ed)?\s*(\d{1,4}(?:[.,]\d{1,3})?)\s*h(?:ours?)?", re.ASCII)


def parse_state(text: str) -> dict[str, Any]:
    """Return the fields of a card's state; nothing typed means engine and key off.

    Raises ``InputError`` naming the word that is not known.

    >>> parse_state("idle, lights on")
    {'engine': 'running', 'key_on': True, 'rpm': 'idle', 'lights_on': True}
    """
    found: dict[str, Any] = {}
    for word in re.split(r"[,;]+", " ".join(text.lower().split())):
        if word := word.strip():
            found |= _meaning(word)
    return found


def split_state(text: str) -> tuple[str, dict[str, Any]]:
    """Return a reading and the state typed behind ``at`` or ``@``, empty where there is none.

    >>> split_state("13.1 at 1000 to 2000")
    ('13.1', {'engine': 'running', 'key_on': True, 'rpm': 1000.0, 'rpm_max': 2000.0})
    """
    reading, *words = re.split(r"\s+at\s+|\s*@\s*", text, maxsplit=1)
    return (reading, parse_state(words[0])) if words else (text, {})


def _meaning(word: str) -> Mapping[str, Any]:
    if word in SETTINGS:
        return SETTINGS[word]
    bare = word.removeprefix("running").removeprefix("engine").removeprefix(" at").strip()
    running = {"engine": "running", "key_on": True}
    if bare in ("idle", "mid", "high"):
        return SETTINGS[bare]
    if speed := SPEED.fullmatch(bare):
        return {**running, "rpm": float(speed[1])}
    if span := SPAN.fullmatch(bare):
        return {**running, "rpm": float(span[1]), "rpm_max": float(span[2])}
    if rest := REST.fullmatch(word):
        return {"rest_h": float(rest[1].replace(",", "."))}
    known = [*SETTINGS, "3000 rpm", "rest 10 h"]
    raise InputError(f"machine state {word[:40]!r} is not understood; {nearest(word, known)}")
