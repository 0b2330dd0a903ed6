"""The bibliography as data: every figure of the room names a key of ``data/sources.toml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from types import MappingProxyType

from chargewright.errors import InputError, nearest
from chargewright.machine.fields import data_path, read_toml


class SourceKind(StrEnum):
    """How a figure is known, from strongest to weakest."""

    SPEC_SHEET = "spec_sheet"  # printed for this very machine
    PUBLISHED = "published"
    COMPUTED = "computed"
    PRACTICE = "practice"  # common practice of the trade, no source
    MEMORY = "memory"  # textbook knowledge not looked up again
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure comes from."""

    key: str
    kind: SourceKind
    text: str


@cache
def sources() -> Mapping[str, Source]:
    """Return every source by its key; ``InputError`` when the file is not well formed."""
    top = read_toml(data_path("sources.toml"))
    found: dict[str, Source] = {}
    for key in top.values:
        entry = top.table(key)
        entry.only(("kind", "text"))
        found[key] = Source(key, entry.word("kind", SourceKind), entry.text("text"))
    return MappingProxyType(found)


def source_of(key: str, where: str) -> Source:
    """Return the source ``key``; ``InputError`` names ``where`` it was used when it is unknown."""
    try:
        return sources()[key]
    except KeyError:
        hint = nearest(key, sources())
        raise InputError(
            f"{where}: field 'source' = {key!r} is not in sources.toml; {hint}"
        ) from None
