"""Lifts cards written by earlier versions to the present ``card_version``, step by step.

``UPGRADES[n]`` turns a card of version n into one of version n + 1. A step is never
changed once released: cards in the field rely on it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from chargewright.errors import InputError
from chargewright.jobs.refusal import short

RawCard = dict[str, Any]
Upgrade = Callable[[RawCard], RawCard]


def _nothing_changed(raw: RawCard) -> RawCard:
    """Version 2 only added: ``energy``, ``proved``, and the warmth ``unknown``."""
    return dict(raw)


UPGRADES: Mapping[int, Upgrade] = {1: _nothing_changed}


def upgraded(
    raw: RawCard, *, current: int, source: str, steps: Mapping[int, Upgrade] = UPGRADES
) -> RawCard:
    """Return ``raw`` as a card of version ``current``; the argument is left as it was.

    Raises InputError when the version is missing, unknown or newer than this program.
    """
    version = raw.get("card_version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise InputError(
            f"{source}: card_version: given {short(version)}, expected a whole number, "
            f"1 to {current}"
        )
    if version > current:
        raise InputError(
            f"{source}: card_version {version} was written by a newer program; "
            f"this one reads 1 to {current}, so update it first"
        )
    while version < current:
        raw = {**steps[version](raw), "card_version": version + 1}
        version += 1
    return raw
