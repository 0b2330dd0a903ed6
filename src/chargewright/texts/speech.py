"""A text of the program in another language: whole, sentence by sentence, or by its form.

``app/core/i18n.js`` does the same on the phone with the same catalogue; a test holds both
together.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache, lru_cache
from typing import Any

from chargewright.texts.catalogue import ENGLISH, languages, section, shared_words

SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[A-Z])")
# letters of leads and figures: what changes in a text that is otherwise always the same
CHANGING = re.compile(
    r"(?<!°)\b[ABC]\b(?=[ ,.]|$)|(?<![\w.])-?\d+(?:\.\d+)?(?=\s|$|[.,;:)%])", re.ASCII
)
PLACE = re.compile(r"\{(\w+)\}")
ROUND = re.compile(r"-?\d+(\.\d+)?")
HAS_FIGURE = re.compile(r"\d|^\w?ohm$")
POINT = re.compile(r"(?<![\w.])(-?\d+)\.(\d+)(?!\w*\.\w)")
AND, COMMA = " and ", ", "
QUOTES = "'\""
ARTICLE = "A "  # the article is no lead


class Speech:
    """One language. Texts it does not know stay English."""

    def __init__(
        self,
        language: str,
        words: Mapping[str, str],
        forms: Iterable[str],
        figures: Mapping[str, Any] | None = None,
    ) -> None:
        self.language = language
        self._words = words
        keys = sorted(forms, key=lambda key: (-len(PLACE.sub("", key)), key))
        self._forms = [(_form(key), words[key]) for key in keys]
        self._figures = figures or {}
        known = sorted(self._figures.get("words", {}), key=lambda word: (-len(word), word))
        found = "|".join(map(re.escape, known))
        self._joints = re.compile(rf"(?<![A-Za-z])(?:{found})(?![A-Za-z])") if known else None
        self.said = lru_cache(maxsize=4096)(self._said)

    def _said(self, text: str) -> str:
        """Return what ``text`` is called, or says, in this language."""
        if self.language == ENGLISH or not text:
            return text
        known = self._words.get(text)
        if known is not None:
            return known
        return " ".join(self._sentence(one) for one in SENTENCE.split(text))

    def figures(self, text: str) -> str:
        """Return a figure with its unit, or a span, as this language writes it.

        >>> speech("de").figures("0.38 to 0.54 ohm")
        '0,38 bis 0,54 Ω'
        """
        if not self._figures:
            return text
        words = self._figures["words"]
        if self._joints is not None:
            text = self._joints.sub(lambda found: words[found[0]], text)
        text = POINT.sub(rf"\1{self._figures['decimal']}\2", text)
        return re.sub(r"(?<=\d)%", self._figures["percent"], text)

    def _sentence(self, text: str) -> str:
        found = self._words.get(text) or self._numbered(text) or self._both(text)
        found = found or self._listed(text)
        return found or self._formed(text) or text

    def _numbered(self, text: str) -> str | None:
        head, rest = (ARTICLE, text[2:]) if text.startswith(ARTICLE) else ("", text)
        values = CHANGING.findall(rest)
        found = self._words.get(head + CHANGING.sub("#", rest)) if values else None
        if found is None:
            return None
        for value in values:
            found = found.replace("#", self.figures(value), 1)
        return found

    def _both(self, text: str) -> str | None:
        """Return two known texts joined by "and", as the titles of a pair of repairs are."""
        parts = text.split(AND)
        for place in range(1, len(parts)):
            first, second = (AND.join(part) for part in (parts[:place], parts[place:]))
            if first in self._words and second in self._words:
                return self.figures(AND).join((self._words[first], self._words[second]))
        return None

    def _listed(self, text: str) -> str | None:
        """Return a list of known texts, as the title of a reading of one's own is one."""
        parts, told, start = text.split(COMMA), [], 0
        if len(parts) == 1:
            return None
        while start < len(parts):
            for end in range(len(parts), start, -1):  # a test point's name has commas too
                found = self._whole(COMMA.join(parts[start:end]))
                if found is not None:
                    told.append(found)
                    break
            else:
                return None
            start = end
        return COMMA.join(told)

    def _whole(self, text: str) -> str | None:
        """Return a text that is known with everything in its places; None for any other."""
        return self._words.get(text) or self._formed(text, known=True)

    def _formed(self, text: str, *, known: bool = False) -> str | None:
        """Return a text made of a form and what stands in its places, all of it ``known``."""
        for form, words in self._forms:
            match = form.fullmatch(text)
            if match is None:
                continue
            values = match.groupdict()
            if known and not all(v in self._words or ROUND.fullmatch(v) for v in values.values()):
                continue
            return PLACE.sub(lambda place: self._filled(values[place[1]]), words)  # noqa: B023
        return None

    def _filled(self, value: str) -> str:
        """Return what stands in a place of a text: a text of its own, or a figure.

        What is quoted was typed by somebody and stays as it is.
        """
        if value[0] in QUOTES:
            return value
        said = self.said(value)
        return self.figures(value) if said == value and HAS_FIGURE.search(value) else said


def _form(key: str) -> re.Pattern[str]:
    """Return the expression of a text with places; a place named ``n`` holds one word."""
    parts = PLACE.split(key)
    made = ""
    for number, part in enumerate(parts):
        held = r"\S+" if part.startswith("n") and part[1:].isdigit() | (part == "n") else ".+?"
        made += f"(?P<{part}>{held})" if number % 2 else re.escape(part)
    return re.compile(made)


@cache
def speech(language: str) -> Speech:
    """Return a language; ``InputError`` where there is no file of it."""
    if language == ENGLISH:
        return Speech(ENGLISH, {}, ())
    shared = shared_words(language)
    words = {**section(language, "report"), **shared}
    forms = [key for key in shared if PLACE.search(key)]
    return Speech(language, words, forms, section(language, "figures"))


def preferred(accept: str | None) -> str:
    """Return the language that an ``Accept-Language`` header likes best (RFC 9110, 12.5.4).

    >>> preferred("fr, de-CH;q=0.8, en;q=0.5"), preferred(None), preferred("*")
    ('de', 'en', 'en')
    """
    liked: list[tuple[float, int, str]] = []
    for place, part in enumerate((accept or "")[:200].split(",")):
        tag, _, rest = part.strip().partition(";")
        weight = re.fullmatch(r"\s*q=([01](?:\.\d{0,3})?)\s*", rest) if rest else None
        share = 0.0 if rest and weight is None else float(weight[1]) if weight else 1.0
        code = tag.lower().split("-")[0]
        if code in languages() and share > 0.0:
            liked.append((-share, place, code))
    return min(liked)[2] if liked else ENGLISH
