"""The one door of every text a report shows, so that a language can be added at one place."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

Translate = Callable[[str], str]


def _as_written(text: str) -> str:
    return text


_translate: ContextVar[Translate] = ContextVar("report_language", default=_as_written)


def say(text: str, /, **values: object) -> str:
    """Return ``text`` in the report's language with ``values`` put in.

    ``text`` is a whole sentence or label as written in the source, or a title from a data file.
    Values are put in as they are: they never count as a pattern themselves.

    >>> say("{left} that the fault is still there", left="<1%")
    '<1% that the fault is still there'
    """
    found = _translate.get()(text)
    return found.format(**values) if values else found


@contextmanager
def spoken(translate: Translate) -> Iterator[None]:
    """Write reports in another language, as ``gettext.translation(...).gettext`` gives it."""
    token = _translate.set(translate)
    try:
        yield
    finally:
        _translate.reset(token)
