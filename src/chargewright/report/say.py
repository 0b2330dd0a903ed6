"""The one door of every text a report shows: its language is chosen here and nowhere else."""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

from chargewright.texts.catalogue import ENGLISH
from chargewright.texts.speech import speech

if TYPE_CHECKING:
    from collections.abc import Iterator

_language: ContextVar[str] = ContextVar("report_language", default=ENGLISH)


def say(text: str, /, **values: object) -> str:
    """Return ``text`` in the report's language with ``values`` put in.

    ``text`` is a whole sentence or label as written in the source, or a title from a data file.
    Values are put in as they are: they never count as a pattern themselves.

    >>> say("{left} that a fault is still there", left="<1%")
    '<1% that a fault is still there'
    """
    found = speech(_language.get()).said(text)
    return found.format(**values) if values else found


def figures(text: str) -> str:
    """Return a figure with its unit, a span or a share as the report's language writes it.

    >>> with spoken("de"):
    ...     figures("0.38 to 0.54 ohm"), figures("about 81%")
    ('0,38 bis 0,54 Ω', 'etwa 81\xa0%')
    """
    return speech(_language.get()).figures(text)


def language() -> str:
    """Return the code of the report's language."""
    return _language.get()


@contextmanager
def spoken(code: str) -> Iterator[None]:
    """Write reports in a language; ``InputError`` where there is no catalogue of it."""
    token = _language.set(speech(code).language)
    try:
        yield
    finally:
        _language.reset(token)
