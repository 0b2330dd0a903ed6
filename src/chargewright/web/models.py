"""What goes in and out of the service as JSON, as far as it is not the library's own."""

from __future__ import annotations

from typing import Annotated, Any, Generic, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, JsonValue

from chargewright.jobs.card import Battery, Complaint, Confirmation
from chargewright.jobs.parts import (
    FreeDict,
    JobId,
    Line,
    NotNegative,
    Part,
    Text,
    Utc,
    Word,
)
from chargewright.jobs.reading import MeterUse, Reading, Stage
from chargewright.jobs.shown import Shown

T = TypeVar("T")
Typed = Annotated[str, Field(max_length=200, description="What was typed: 12.6, 461 mV, OL, yes.")]
ReadingId = Annotated[Word, Field(description="Made by the phone; same id, same reading.")]
Count = Annotated[int, Field(ge=0, le=2**53)]


class Out(BaseModel):
    """An answer."""

    model_config = ConfigDict(extra="forbid")


class ErrorBody(BaseModel):
    """What went wrong, in words and for programs."""

    code: str
    message: str
    field: str | None = None
    yours: JsonValue = None
    here: JsonValue = None
    revision: int | None = None
    retry_after_s: int | None = None


class ErrorAnswer(BaseModel):
    """The one form of all errors."""

    error: ErrorBody


class Service(Out):
    """Which service this is, and how this phone stands to it."""

    program: str
    api: Literal[1] = 1
    paired: bool
    home: Annotated[bool, Field(description="Asked from the machine that serves.")]
    secure: bool
    max_photo_bytes: int
    max_body_bytes: int


class JobLineOut(Out):
    """One line of the list of jobs."""

    id: str
    title: str
    machine: str
    class_id: str
    confirmed_cause: str | None
    created: str
    updated: str
    revision: int
    decision: Annotated[
        str | None, Field(description="A decision's kind, or repaired or proved; null at first.")
    ]
    reading_count: int


class JobList(Out):
    """A stretch of the list, and how many there are in all."""

    total: int
    jobs: list[JobLineOut]


class NewJob(Part):
    """A job to begin. Only the class, or a spec sheet that names one, is needed."""

    id: JobId | None = None
    class_id: Annotated[
        Word | None, Field(validation_alias="class", serialization_alias="class")
    ] = None
    label: Line = ""
    title: Line = ""
    complaint: Complaint = Field(default_factory=Complaint)
    battery: Battery = Field(default_factory=Battery)
    meter: MeterUse | None = None
    ambient_c: Annotated[float, Field(ge=-40, le=55)] = 20.0
    spec: FreeDict = Field(default_factory=dict)
    sheet: Annotated[Word | None, Field(description="An own spec sheet, copied into the job.")] = (
        None
    )
    mileage_km: NotNegative | None = None
    engine_h: NotNegative | None = None


class MachineOut(Out):
    """The machine of a job in words."""

    class_id: str
    title: str
    kind: str
    lights_always_on: bool
    speeds_rpm: dict[str, float]
    chemistry: str


class MeterOut(Out):
    """The meter of a job in words."""

    id: str
    title: str
    functions: list[str]


class Photo(Out):
    """A photo without its picture."""

    id: str
    mime: str
    size: int
    reading_id: str | None
    note: str
    at: str


class JobPage(Out):
    """A job as it stands."""

    id: str
    revision: int
    card: Annotated[dict[str, Any], Field(description="The job card, see job-card.schema.json.")]
    machine: MachineOut
    meter: MeterOut
    photos: list[Photo]


class Change(Part, Generic[T]):
    """A field as it was seen, and what it should be."""

    was: T
    now: T


class HeadChange(Part):
    """Changes to the head of a card; a field left out stays."""

    title: Change[Line] | None = None
    label: Change[Line] | None = None
    notes: Change[Text] | None = None
    complaint: Change[Complaint] | None = None
    battery: Change[Battery] | None = None
    meter: Change[MeterUse | None] | None = None
    ambient_c: Change[Annotated[float, Field(ge=-40, le=55)]] | None = None
    spec: Change[FreeDict] | None = None
    mileage_km: Change[NotNegative | None] | None = None
    engine_h: Change[NotNegative | None] | None = None


class NewReading(Part):
    """A reading as it was typed: of a check, or free with function and both points."""

    id: ReadingId
    text: Typed
    check: Word | None = None
    function: Word | None = None
    plus: Word | None = None
    minus: Word | None = None
    state: Annotated[
        FreeDict, Field(description="Fields of a card's state that differ from the check's.")
    ] = Field(default_factory=dict)
    stage: Stage = Stage.FAULT
    at: Utc | None = None
    note: Text = ""
    seen_revision: Annotated[
        Count | None, Field(description="The revision the phone had when it was taken.")
    ] = None
    opened: Annotated[bool, Field(description="The covers the check needs are open now.")] = True
    confirmed: Annotated[bool, Field(description="Speaks of the fault in spite of a repair.")] = (
        False
    )


class ReadingKept(Out):
    """A reading that is on the disk. ``reading`` is null when it was taken back in the meantime."""

    revision: int
    reading: Reading | None
    new: bool
    since: Annotated[
        list[Reading], Field(description="Readings of others since the revision seen.")
    ]


class Question(Out):
    """Has the decimal point slipped?"""

    reading: Reading
    meant: Shown | None
    question: str | None


class ReadingChange(Part):
    """What may be changed about a reading; a field left out stays."""

    excluded: Annotated[Line, Field(min_length=1)] | None = None
    note: Text | None = None


class Covers(Part):
    """Covers that are open now."""

    covers: Annotated[list[Word], Field(max_length=50)]


class NewAct(Part):
    """Something done that is no repair."""

    act: Word = "charge_battery"
    at: Utc
    note: Text = ""


class NewRepair(Part):
    """A part renewed or put right."""

    repair: Word | None = None
    cause: Word | None = None
    at: Utc
    note: Text = ""


class NewCause(Part):
    """What it was in the end."""

    cause: Word
    also: Annotated[list[Word], Field(max_length=20)] = Field(default_factory=list)
    by: Confirmation = Confirmation.INFERRED
    note: Text = ""


class Revision(Out):
    """The job's revision after a change."""

    revision: int
    changed: bool


class Cover(Out):
    """A cover, or something moved out of the way."""

    id: str
    title: str
    minutes: float
    open: bool = False


class Probe(Out):
    """One line of where the meter goes."""

    label: str
    place: str


class Step(BaseModel):
    """A check as the bench shows it: a step of the assessment, and words."""

    model_config = ConfigDict(extra="allow")

    check: str
    title: str
    function: str
    plus: str | None
    minus: str | None
    unit: str | None
    state: dict[str, Any]
    minutes: float | None
    wait_h: float | None
    parts: list[dict[str, Any]]
    how: str
    cautions: list[str]
    expected: list[dict[str, Any]]
    total_min: float | None
    act_now_min: float | None
    dial: str
    probes: list[Probe]
    state_text: str
    covers: list[Cover]


class Bench(Out):
    """What is on the bench."""

    stage: Literal["check", "repair", "prove", "proved", "end"]
    repaired: Annotated[
        bool,
        Field(description="What is advised has been repaired, or nothing more is to be repaired."),
    ]
    proved: Annotated[bool, Field(description="Little doubt is left, nothing outside its limit.")]
    outside: Annotated[
        list[str], Field(description="Readings after the repair outside a limit, by id.")
    ]
    step: Step | None
    others: list[Step]


class Assessed(Out):
    """An assessment of one revision of a job; null while it is worked out."""

    job: str
    revision: int
    assessment: Annotated[dict[str, Any] | None, Field(description="See assessment.schema.json.")]
    bench: Bench | None
    error: ErrorBody | None


class Glance(Out):
    """What can be said at once: components, causes, readings with verdicts, which to repeat."""

    job: str
    revision: int
    glance: dict[str, Any] | None


class CheckLine(Out):
    """One check of a job's machine. ``refused`` says why it cannot be done now."""

    id: str
    title: str
    function: str
    plus: str | None
    minus: str | None
    state_text: str
    minutes: float | None
    wait_h: float
    refused: str | None
