"""How far a repair is proved: the checks asked for, what they read, the doubt that is left."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from chargewright.jobs.parts import Line, Part, Utc, Word

Chance = Annotated[float, Field(ge=0.0, le=1.0)]


class ProofRead(Part):
    """One check of the proof: the span of a sound machine, and the reading that answers it."""

    check: Word
    low: float
    high: float
    remaining: Annotated[
        Chance, Field(description="Doubt expected once this and the checks before it are good.")
    ]
    reading: Annotated[Word | None, Field(description="Id of the reading; null: not read yet.")] = (
        None
    )
    inside: Annotated[bool | None, Field(description="The reading lies in the span.")] = None


class ProvedRepair(Part):
    """The state of the proof of what was repaired."""

    at: Utc
    repairs: tuple[Word, ...]
    checks: tuple[ProofRead, ...] = ()
    remaining: Annotated[
        Chance | None, Field(description="Chance that a fault remains; null: nothing read yet.")
    ] = None
    proved: Annotated[bool, Field(description="That chance is below 2 %.")] = False
    versions: dict[str, Line] = Field(default_factory=dict)
