"""Every text the pictures write by themselves. Another language is another mapping."""

from __future__ import annotations

from collections.abc import Mapping

Words = Mapping[str, str]

ENGLISH: Words = {}


def say(words: Words, key: str, **values: object) -> str:
    """Return the text ``key`` with its values put in; in English where a language lacks it."""
    return words.get(key, ENGLISH[key]).format(**values)
