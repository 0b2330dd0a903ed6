"""One battery or energy question asked for a job, kept with its answer.

The answer stands as numbers (``result``) and as it was told (``said``), so that a later program
can show it without working it out again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Annotated, Any

from pydantic import Field

from chargewright.energy.words import plain
from chargewright.jobs.parts import FreeDict, Line, Part, Utc, Word
from chargewright.version import __version__

MOST_LINE = 200  # characters of a line on a card


class EnergyResult(Part):
    """What was asked (``kind``, ``inputs``) and what came out."""

    id: Word
    kind: Annotated[Word, Field(description="The question: battery, charge, storage, ...")]
    at: Utc
    inputs: FreeDict = Field(default_factory=dict)
    result: FreeDict = Field(default_factory=dict)
    said: Annotated[tuple[Line, ...], Field(description="The answer as it was told.")] = ()
    versions: dict[str, Line] = Field(default_factory=dict)


def energy_result(
    kind: str,
    *,
    inputs: Mapping[str, Any],
    result: Mapping[str, Any],
    said: Sequence[str],
    at: datetime,
    taken: Iterable[str] = (),
) -> EnergyResult:
    """Return an answer of the energy room in the form a card keeps.

    ``inputs`` and ``result`` may hold the room's own dataclasses; inputs not given (None, empty)
    are left out. The id, kind and time, is none of ``taken``.
    """
    used = set(taken)
    stem = f"{kind}-{at:%y%m%d-%H%M%S}"  # two workshops asking the same do not meet in one id
    name, number = stem, 1
    while name in used:
        number += 1
        name = f"{stem}-{number}"
    given = {name: plain(value) for name, value in inputs.items()}
    return EnergyResult(
        id=name,
        kind=kind,
        at=at.replace(microsecond=0),
        inputs={name: value for name, value in given.items() if value not in (None, [], "")},
        result={name: plain(value) for name, value in result.items()},
        said=tuple(_one_line(text) for text in said),
        versions={"chargewright": __version__},
    )


def _one_line(text: str) -> str:
    """Return a text that a card's line can hold: printable, cut where it is too long."""
    clean = "".join(c if c.isprintable() else " " for c in " ".join(text.split()))
    return clean if len(clean) <= MOST_LINE else clean[: MOST_LINE - 3].rstrip() + "..."
