"""Joins two copies of one job card that were worked on in two places."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from chargewright.errors import InputError
from chargewright.jobs.card import JobCard
from chargewright.jobs.codec import card_dict, card_from_dict
from chargewright.jobs.refusal import short

_LISTS = ("readings", "opened", "done", "repairs", "energy")
# These follow from the rest and are made again after the merge.
_WRITTEN_ANEW = ("decision", "proved", "versions")


def merge_cards(ours: JobCard, theirs: JobCard) -> JobCard:
    """Return one card with the readings, acts and repairs of both, ours first.

    A field that only one side has filled in is taken from there. ``decision``, ``proved``
    and ``versions`` are dropped when they differ: what was made from half of the readings holds
    no longer.
    Raises InputError naming the field when both sides say different things.
    """
    if ours.id != theirs.id:
        raise InputError(f"cards {ours.id!r} and {theirs.id!r} are two jobs, expected one id")
    mine, other = card_dict(ours), card_dict(theirs)
    bare = card_dict(JobCard(id=ours.id, created=ours.created, machine=ours.machine))
    merged: dict[str, Any] = {}
    for name in [*mine, *(name for name in other if name not in mine)]:
        if name in _LISTS:
            merged[name] = _joined(mine[name], other[name], where=f"job {ours.id}: {name}")
        elif name in _WRITTEN_ANEW:
            if mine.get(name) == other.get(name):
                merged[name] = mine[name]
        else:
            merged[name] = _one_of(mine, other, bare, name=name, where=f"job {ours.id}: {name}")
    return card_from_dict(merged, source=f"job {ours.id}")


def _joined(mine: Sequence[Any], other: Sequence[Any], *, where: str) -> list[Any]:
    known = {item["id"]: item for item in mine if isinstance(item, dict) and "id" in item}
    joined = list(mine)
    for item in other:
        same_id = known.get(item["id"]) if isinstance(item, dict) and "id" in item else None
        if same_id is not None and same_id != item:
            raise InputError(
                f"{where}: {item['id']!r} differs in the two cards; "
                "give one of them another id, or make them equal"
            )
        if item not in joined:
            joined.append(item)
    return joined


def _one_of(
    mine: dict[str, Any], other: dict[str, Any], bare: dict[str, Any], *, name: str, where: str
) -> object:
    """Return the value both share, or that of the side that changed it from the bare card's."""
    left, right, untouched = mine.get(name), other.get(name), bare.get(name)
    if left == right or right == untouched:
        return left
    if left == untouched and name not in ("machine", "created"):
        return right
    raise InputError(f"{where}: given {short(left)} and {short(right)}, expected one of them")
