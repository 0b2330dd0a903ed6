"""The job card: one JSON document that holds everything known about one job.

``card_version`` 2. The published schema is made from these classes (``schema.py``);
fields, units and rules for people are in ``docs/job-card.md``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationError, model_validator

from chargewright.jobs.energy_result import EnergyResult, energy_result
from chargewright.jobs.parts import (
    FreeDict,
    JobId,
    Line,
    NotNegative,
    Part,
    Positive,
    Text,
    Utc,
    Word,
    twice,
)
from chargewright.jobs.proved import ProvedRepair
from chargewright.jobs.reading import MeterUse, Reading, Stage
from chargewright.jobs.refusal import refusal
from chargewright.machine.layout import Chemistry

CARD_VERSION = 2


class Machine(Part):
    """The machine on the stand: its generic class, and what the workshop calls this one."""

    class_id: Annotated[
        Word,
        Field(
            validation_alias="class",
            serialization_alias="class",
            description="Id of a generic machine class.",
        ),
    ]
    label: Annotated[
        Line, Field(description="What the workshop knows it by: plate, colour, peg on the key.")
    ] = ""
    spec: FreeDict = Field(
        default_factory=dict,
        description="Values of this machine's manual that differ from its class.",
    )
    mileage_km: NotNegative | None = None
    engine_h: Annotated[NotNegative | None, Field(description="Engine hours.")] = None


class CcaStandard(StrEnum):
    """The standard behind the cold-cranking figure printed on the battery."""

    EN = "en"
    SAE = "sae"
    DIN = "din"
    IEC = "iec"
    JIS = "jis"
    MCA = "mca"  # marine: at 0 C


class Battery(Part):
    """The battery as its label says; null where nobody looked."""

    chemistry: Chemistry | None = None
    capacity_ah: Annotated[Positive | None, Field(le=400)] = None
    cca_a: Annotated[Positive | None, Field(le=2000)] = None
    cca_standard: CcaStandard | None = None
    age_years: Annotated[NotNegative | None, Field(le=50)] = None


class Complaint(Part):
    """Why the machine came in: a word the prior knows, and the customer's own words."""

    kind: Word | None = None
    text: Text = ""


class Act(Part):
    """Something done to the machine that is no repair, as charging its battery."""

    act: Word
    at: Utc | None = None
    note: Text = ""


class Repair(Part):
    """A part renewed or put right: the cause it was meant for, or a repair's own id."""

    cause: Word | None = None
    repair: Word | None = None
    at: Utc | None = None
    note: Text = ""

    @model_validator(mode="after")
    def _says_what(self) -> Self:
        if self.cause is None and self.repair is None:
            raise ValueError("expected 'cause' or 'repair' to say what was put right")
        return self


class Confirmation(StrEnum):
    """How sure the confirmed cause is, best first."""

    MEASURED_AFTER_REPAIR = "measured_after_repair"
    FIX_REPORTED = "fix_reported"
    FOUND = "found"  # seen or measured on the part itself
    INFERRED = "inferred"


class ConfirmedCause(Part):
    """What it was in the end; only such jobs teach the workshop's prior."""

    cause: Word
    also: Annotated[tuple[Word, ...], Field(description="Further causes present with it.")] = ()
    by: Confirmation = Confirmation.INFERRED
    note: Text = ""


class JobCard(Part):
    """One job, complete: it can be sent to another workshop and read there without loss."""

    card_version: Literal[2] = 2
    id: JobId
    created: Utc
    title: Line = ""
    invented: Annotated[bool, Field(description="True for demonstration data.")] = False
    machine: Machine
    battery: Battery = Field(default_factory=Battery)
    meter: Annotated[MeterUse | None, Field(description="Null when nobody said which.")] = None
    complaint: Complaint = Field(default_factory=Complaint)
    ambient_c: Annotated[float, Field(ge=-40, le=55)] = 20.0
    readings: tuple[Reading, ...] = ()
    opened: Annotated[
        tuple[Word, ...], Field(description="Ids of access steps that are open now.")
    ] = ()
    done: tuple[Act, ...] = ()
    repairs: tuple[Repair, ...] = ()
    energy: Annotated[
        tuple[EnergyResult, ...],
        Field(description="Results of the battery and energy questions asked for this job."),
    ] = ()
    decision: Annotated[
        FreeDict | None, Field(description="Snapshot of what the program advised.")
    ] = None
    proved: Annotated[
        ProvedRepair | None, Field(description="How far readings after the repair prove it.")
    ] = None
    confirmed_cause: ConfirmedCause | None = None
    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] = 0
    notes: Text = ""
    versions: dict[str, Line] = Field(
        default_factory=dict,
        description="Versions of program and data behind the decision.",
    )

    @model_validator(mode="after")
    def _ids_once(self) -> Self:
        if name := twice(reading.id for reading in self.readings):
            raise ValueError(f"reading id '{name}' occurs twice; each reading needs its own id")
        if name := twice(result.id for result in self.energy):
            raise ValueError(f"energy id '{name}' occurs twice; each result needs its own id")
        if name := twice(self.opened):
            raise ValueError(f"opened names '{name}' twice")
        return self

    @property
    def evidence(self) -> tuple[Reading, ...]:
        """Readings that speak about the fault: not excluded, not taken after the repair."""
        return tuple(reading for reading in self.readings if reading.counts)

    @property
    def proof(self) -> tuple[Reading, ...]:
        """Readings taken after the repair and not excluded."""
        return tuple(
            reading
            for reading in self.readings
            if reading.stage is Stage.AFTER_REPAIR and reading.excluded is None
        )

    def changed(self, **fields: object) -> JobCard:
        """Return a checked copy with ``fields`` replaced.

        Raises InputError naming the field when the result is no valid card.
        """
        kept = {name: getattr(self, name) for name in type(self).model_fields}
        try:
            return JobCard.model_validate(kept | fields)
        except ValidationError as error:
            raise refusal(error, JobCard, source=f"job {self.id}") from None


def with_energy(
    card: JobCard,
    kind: str,
    *,
    inputs: Mapping[str, Any],
    result: Mapping[str, Any],
    said: Sequence[str],
    at: datetime | None = None,
) -> JobCard:
    """Return the card with one answer of the energy room added.

    The same question with the same answer replaces the earlier one, so asking twice does not
    fill the card. ``at`` is the time of asking, now when None.
    """
    new = energy_result(
        kind,
        inputs=inputs,
        result=result,
        said=said,
        at=at or datetime.now(UTC),
        taken=[one.id for one in card.energy],
    )
    fresh = (new.kind, new.inputs, new.result)
    others = [one for one in card.energy if (one.kind, one.inputs, one.result) != fresh]
    same = [one for one in card.energy if one not in others]
    if same:
        new = new.model_copy(update={"id": same[0].id})
    return card.changed(energy=(*others, new))
