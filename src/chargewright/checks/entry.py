"""One table of a TOML file, read field by field; every mistake names file, entry and field."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Any, NoReturn, TypeVar

from chargewright.errors import InputError, nearest

Word = TypeVar("Word", bound=StrEnum)
Table = dict[str, Any]


def read_toml(path: Path) -> Table:
    """Return the tables of a TOML file; raises ``InputError`` when it cannot be read."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: byte {error.start} is not UTF-8 text") from error
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path}: not valid TOML: {error}") from error


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A table with its name and, for each field, the file it was written in."""

    kind: str
    id: str
    table: Mapping[str, Any]
    file: str
    files: dict[str, str]  # fields that came from another file than ``file``

    def changed_by(self, other: Mapping[str, Any], file: str) -> Entry:
        """Return this entry with the fields of ``other``, a table of the file ``file``.

        A field that is itself a table on both sides is merged by one level.
        """
        table: Table = dict(self.table)
        for key, new in other.items():
            value: Any = new
            old = table.get(key)
            if isinstance(old, dict) and isinstance(value, dict):
                value = {**old, **value}
            table[key] = value
        return replace(self, table=table, files={**self.files, **dict.fromkeys(other, file)})

    def fail(self, field: str, expected: str) -> NoReturn:
        """Raise ``InputError`` for ``field``, showing what was given."""
        given = repr(self.table[field]) if field in self.table else "missing"
        # a missing field is missed by whoever changed the entry last
        last = next(reversed(self.files.values()), self.file)
        file = self.files.get(field, self.file if field in self.table else last)
        raise InputError(f"{file}: {self.kind} {self.id!r}, field {field}: {given}; {expected}")

    def only(self, known: Collection[str]) -> None:
        """Refuse fields that nobody reads: they are spelling mistakes."""
        for field in self.table:
            if field not in known:
                self.fail(field, f"no such field, {nearest(field, known)}")

    def inside(self, field: str) -> Entry:
        """Return the table held by ``field`` (empty when left out) as an entry of its own."""
        value = self.table.get(field, {})
        if not isinstance(value, dict):
            self.fail(field, "expected a table")
        file = self.files.get(field, self.file)
        name = f"{self.id}.{field}"
        return Entry(kind=self.kind, id=name, table=value, file=file, files={})

    def has(self, field: str) -> bool:
        """Return whether the field is given."""
        return field in self.table

    def text(self, field: str) -> str:
        """Return a text that is not empty."""
        value = self.table.get(field)
        if not isinstance(value, str) or not value.strip():
            self.fail(field, "expected a text")
        return " ".join(value.split())

    def number(self, field: str, *, low: float, high: float, default: float | None = None) -> float:
        """Return a number from ``low`` to ``high``."""
        value = self.table.get(field, default)
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if not is_number or not math.isfinite(value) or not low <= value <= high:
            self.fail(field, f"expected a number from {low:g} to {high:g}")
        return float(value)

    def flag(self, field: str, default: bool) -> bool:
        """Return true or false."""
        value = self.table.get(field, default)
        if not isinstance(value, bool):
            self.fail(field, "expected true or false")
        return value

    def choice(self, field: str, words: type[Word], default: Word | None = None) -> Word:
        """Return one word of a StrEnum."""
        value = self.table.get(field, default)
        if not isinstance(value, str) or value not in list(words):
            self.fail(field, f"expected one of {', '.join(words)}")
        return words(value)

    def words(self, field: str, known: Collection[str]) -> tuple[str, ...]:
        """Return a list of known words (empty when left out), each once."""
        value = self.table.get(field, [])
        if not isinstance(value, list) or not all(isinstance(word, str) for word in value):
            self.fail(field, "expected a list of words")
        for word in value:
            if word not in known:
                self.fail(field, f"{word!r} is unknown, {nearest(word, known)}")
        if len(set(value)) != len(value):
            self.fail(field, "expected each word once")
        return tuple(value)


def entries(tables: Table, kind: str, file: str) -> list[Entry]:
    """Return the array of tables ``[[kind]]`` as entries; each must have an id of its own."""
    array = tables.get(kind, [])
    if not isinstance(array, list) or not all(isinstance(table, dict) for table in array):
        raise InputError(f"{file}: {kind}: expected tables headed [[{kind}]]")
    found: dict[str, Entry] = {}
    for number, table in enumerate(array, start=1):
        name = table.get("id")
        if not isinstance(name, str) or not name.isidentifier():
            raise InputError(
                f"{file}: {kind} number {number}, field id: {name!r}; "
                "expected a word of letters, digits and underscores"
            )
        if name in found:
            raise InputError(f"{file}: {kind} {name!r}, field id: given twice; expected once")
        found[name] = Entry(kind=kind, id=name, table=table, file=file, files={})
    return list(found.values())


def merged(base: list[Entry], changes: list[Entry]) -> list[Entry]:
    """Return ``base`` with fields of the same id replaced, and new ids added at the end."""
    result = {entry.id: entry for entry in base}
    for change in changes:
        old = result.get(change.id)
        result[change.id] = old.changed_by(change.table, change.file) if old else change
    return list(result.values())
