"""Every error the program raises on purpose.

    ChargewrightError
    ├── InputError        a card, data file, option or reading cannot be used
    │   └── ReadingError  the text of one reading cannot be understood
    ├── UnsafeCheckError  the machine state asked for is dangerous or impossible
    ├── ImpossibleReadingsError  no machine the model knows could show these readings
    └── StoreError        the job store cannot be read or written
        ├── MissingError  what was asked for is not in the store
        └── ConflictError two people said different things; somebody has to choose

A message says what was given, where, and what was expected, in one line.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class ChargewrightError(Exception):
    """Root of all errors raised on purpose; its text is fit to show to the user."""


class InputError(ChargewrightError):
    """A card, data file, option or reading cannot be used as given."""


class ReadingError(InputError):
    """The text of one reading cannot be understood."""


class UnsafeCheckError(ChargewrightError):
    """The machine state asked for is dangerous or impossible; the text says why."""


class ImpossibleReadingsError(ChargewrightError):
    """No machine that the model knows could show these readings together."""


class StoreError(ChargewrightError):
    """The job store cannot be read or written."""


class MissingError(StoreError):
    """What was asked for is not in the store."""


class ConflictError(StoreError):
    """Two people said different things. ``yours`` and ``here`` are both sides, JSON-ready."""

    def __init__(self, message: str, *, yours: object = None, here: object = None) -> None:
        super().__init__(message)
        self.yours = yours
        self.here = here


def nearest(name: str, known: Iterable[str]) -> str:
    """Return a hint naming the closest known words, or all of them when none is close."""
    words = sorted(known)
    close = difflib.get_close_matches(name, words, n=3, cutoff=0.6)
    if close:
        return "did you mean " + " or ".join(repr(word) for word in close) + "?"
    return "known: " + ", ".join(words)
