"""Reads tables from data files field by field, so that an error can name the place.

Every message tells the file or table, the field, the value found and what was expected.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from importlib.resources import files
from pathlib import Path
from typing import TypeVar

from chargewright.errors import InputError, nearest

_Word = TypeVar("_Word", bound=StrEnum)


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a data file or job card and where it stands, for the messages."""

    values: Mapping[str, object]
    where: str

    def fail(self, field: str, expected: str) -> InputError:
        """Return the error for ``field``: what was given, where, what was expected."""
        if field not in self.values:
            return InputError(f"{self.where}: field '{field}' is missing; expected {expected}")
        given = self.values[field]
        return InputError(f"{self.where}: field '{field}' = {given!r}; expected {expected}")

    def only(self, known: Iterable[str]) -> None:
        """Raise ``InputError`` when the table holds a field that is not in ``known``."""
        known = tuple(known)
        for field in self.values:
            if field not in known:
                hint = nearest(field, known)
                raise InputError(f"{self.where}: unknown field '{field}'; {hint}")

    def has(self, field: str) -> bool:
        """Tell whether the field is given (a JSON null counts as not given)."""
        return self.values.get(field) is not None

    def number(
        self, field: str, unit: str = "", *, low: float = -math.inf, high: float = math.inf
    ) -> float:
        """Return a finite number between ``low`` and ``high`` (both allowed)."""
        value = self.values.get(field)
        span = f" from {low:g} to {high:g}" if math.isfinite(low + high) else ""
        if not span and math.isfinite(low):
            span = f" of at least {low:g}"
        expected = f"a number{span}{' ' + unit if unit else ''}"
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.fail(field, expected)
        if not math.isfinite(value) or not low <= value <= high:
            raise self.fail(field, expected)
        return float(value)

    def number_or(
        self,
        field: str,
        default: float,
        unit: str = "",
        *,
        low: float = -math.inf,
        high: float = math.inf,
    ) -> float:
        """Return the number, or ``default`` when the field is not given."""
        return self.number(field, unit, low=low, high=high) if self.has(field) else default

    def text(self, field: str) -> str:
        """Return a text that is not empty."""
        value = self.values.get(field)
        if not isinstance(value, str) or not value.strip():
            raise self.fail(field, "a text")
        return value

    def flag(self, field: str) -> bool:
        """Return a true/false value."""
        value = self.values.get(field)
        if not isinstance(value, bool):
            raise self.fail(field, "true or false")
        return value

    def word(self, field: str, kind: type[_Word]) -> _Word:
        """Return the member of the enumeration ``kind`` that the field names."""
        value = self.values.get(field)
        if isinstance(value, str) and value in [member.value for member in kind]:
            return kind(value)
        words = [member.value for member in kind]
        hint = nearest(value, words) if isinstance(value, str) else "known: " + ", ".join(words)
        raise self.fail(field, f"one of {len(words)} words; {hint}")

    def numbers(self, field: str) -> tuple[float, ...]:
        """Return a list of finite numbers that is not empty."""
        value = self.values.get(field)
        if not isinstance(value, list) or not value:
            raise self.fail(field, "a list of numbers")
        for item in value:
            if isinstance(item, bool) or not isinstance(item, int | float):
                raise self.fail(field, "a list of numbers")
            if not math.isfinite(item):
                raise self.fail(field, "a list of finite numbers")
        return tuple(float(item) for item in value)

    def texts(self, field: str) -> tuple[str, ...]:
        """Return a list of texts that is not empty."""
        value = self.values.get(field)
        if not isinstance(value, list) or not value or not all(isinstance(v, str) for v in value):
            raise self.fail(field, "a list of texts")
        return tuple(value)

    def table(self, field: str) -> Table:
        """Return the table under ``field``."""
        value = self.values.get(field)
        if not isinstance(value, Mapping):
            raise self.fail(field, "a table")
        return Table(value, f"{self.where}, [{field}]")

    def table_or_empty(self, field: str) -> Table:
        """Return the table under ``field``, empty when it is not given."""
        return self.table(field) if self.has(field) else Table({}, f"{self.where}, [{field}]")

    def tables(self, field: str) -> tuple[Table, ...]:
        """Return the list of tables under ``field``, each named by its id or its number."""
        value = self.values.get(field)
        if not isinstance(value, list) or not all(isinstance(v, Mapping) for v in value):
            raise self.fail(field, "a list of tables")
        return tuple(
            Table(item, f"{self.where}, {field} {item.get('id', number)!r}")
            for number, item in enumerate(value, start=1)
        )


def read_toml(path: Path) -> Table:
    """Return the top table of a TOML file; ``InputError`` names the file (and line) if it fails."""
    try:
        return Table(tomllib.loads(path.read_text(encoding="utf-8")), path.name)
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}); expected a file") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{path.name}: not a TOML file: {error}") from error


def data_path(*parts: str) -> Path:
    """Return the path of one of the room's own data files."""
    return Path(str(files("chargewright.machine").joinpath("data", *parts)))
