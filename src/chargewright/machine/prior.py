"""What is likely before anything is measured: shares of causes, shifted by the complaint.

All shares and multipliers are assumptions kept as data; ``causes.toml`` and
``complaints.toml`` say what little anchors them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from chargewright.errors import InputError, nearest
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Catalogue, Cause, Component
from chargewright.machine.fields import Table, data_path, read_toml
from chargewright.machine.model import Machine

WORN = frozenset({"battery_worn", "battery_dead_cell"})  # what a battery's age makes likelier


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """What the customer says, and by what it multiplies the shares."""

    id: str
    title: str
    components: Mapping[str, float]
    causes: Mapping[str, float]

    def factor(self, cause: Cause) -> float:
        """Return the multiplier of one cause."""
        return self.components.get(cause.component, 1.0) * self.causes.get(cause.id, 1.0)


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One cause or two at once (none for a sound machine is ``no_fault``) and its prior."""

    causes: tuple[Cause, ...]
    share: float


@cache
def complaints(path: Path | None = None) -> Mapping[str, Complaint]:
    """Return the kinds of complaint by id; ``InputError`` names file, table and field."""
    top = read_toml(path or data_path("complaints.toml"))
    found = {key: _complaint(key, top.table(key)) for key in top.values}
    return MappingProxyType(found)


def _complaint(key: str, table: Table) -> Complaint:
    table.only(("title", "components", "causes"))
    return Complaint(
        id=key,
        title=table.text("title"),
        components=_factors(table.table("components"), [part.value for part in Component]),
        causes=_factors(table.table("causes"), [cause.id for cause in catalogue().causes]),
    )


def _factors(table: Table, known: list[str]) -> dict[str, float]:
    table.only(known)
    return {name: table.number(name, low=0.0) for name in table.values}


def prior(
    machine: Machine, complaint: str | None = None, *, causes: Catalogue | None = None
) -> tuple[Hypothesis, ...]:
    """Return every single cause and pair possible on ``machine``; the shares sum to 1.

    Raises
    ------
    InputError
        The complaint is not one of ``complaints()``.
    """
    if complaint is not None and complaint not in complaints():
        hint = nearest(complaint, complaints())
        raise InputError(f"complaint {complaint!r} does not exist; {hint}")
    told = None if complaint is None else complaints()[complaint]
    found = [*_singles(machine, causes or catalogue()), *_pairs(machine, causes or catalogue())]
    raw = [share * _factor(group, machine, told) for group, share in found]
    total = math.fsum(raw)
    return tuple(
        Hypothesis(group, share / total) for (group, _), share in zip(found, raw, strict=True)
    )


def _singles(machine: Machine, known: Catalogue) -> Iterator[tuple[tuple[Cause, ...], float]]:
    for cause in known.possible(machine):
        yield (cause,), cause.share


def _pairs(machine: Machine, known: Catalogue) -> Iterator[tuple[tuple[Cause, ...], float]]:
    """Yield the pairs; the share of what the machine cannot have is not passed on."""
    for pair in known.pairs:
        first = known.get(pair.first)
        others = [known.get(name) for name in pair.second]
        total = math.fsum(other.share for other in others)
        for other in others:
            if total > 0.0 and first.possible(machine) and other.possible(machine):
                yield (first, other), pair.share * other.share / total


def _factor(group: tuple[Cause, ...], machine: Machine, told: Complaint | None) -> float:
    """Return the multiplier of a cause or pair: a pair takes the larger of its two."""
    heard = 1.0 if told is None else max(told.factor(cause) for cause in group)
    worn = any(cause.id in WORN for cause in group)
    return heard * (machine.battery_age if worn else 1.0)
