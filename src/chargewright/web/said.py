"""What the app's catalogues call a check, for pictures that carry a title."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files


@cache
def _words(language: str) -> dict[str, str]:
    place = files("chargewright.web") / "app" / "texts" / "said" / f"{language}.json"
    found: dict[str, str] = json.loads(place.read_text("utf-8"))
    return found


def check_title(language: str, check: str) -> str | None:
    """Return a check's title in a language; None in English, whose titles are the checks' own."""
    return None if language == "en" else _words(language).get(f"check.{check}")
