"""Jobs: the list, beginning one, its head, its card, and what happens to it live."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Header, Path, Query, Response
from fastapi.responses import StreamingResponse

from chargewright.jobs.case import case_from
from chargewright.jobs.codec import card_dict, pretty_json
from chargewright.jobs.parts import JobId
from chargewright.jobs.photos import list_photos
from chargewright.jobs.store import JobStore
from chargewright.web.context import Context, Here
from chargewright.web.hub import Event
from chargewright.web.models import (
    HeadChange,
    JobLineOut,
    JobList,
    JobPage,
    MachineOut,
    MeterOut,
    NewJob,
    Photo,
    Revision,
)
from chargewright.web.strict import strictly

router = APIRouter(tags=["jobs"])
HeadChangeSent = Annotated[HeadChange, strictly(HeadChange)]
NewJobSent = Annotated[NewJob, strictly(NewJob)]
JobPath = Annotated[JobId, Path(description="The job's id.")]
STREAM: dict[int | str, dict[str, Any]] = {
    200: {"content": {"text/event-stream": {"schema": {"type": "string"}}}}
}


@router.get("/jobs")
async def list_jobs(
    here: Here,
    search: Annotated[str, Query(max_length=100)] = "",
    machine: Annotated[str | None, Query(max_length=200)] = None,
    limit: Annotated[int, Query(ge=1, le=500)] = 50,
    offset: Annotated[int, Query(ge=0, le=10**9)] = 0,
) -> JobList:
    """List jobs, the last saved first."""
    lines = await here.read(lambda: here.store.list(search=search, machine=machine))
    shown = [JobLineOut(**asdict(line)) for line in lines[offset : offset + limit]]
    return JobList(total=len(lines), jobs=shown)


@router.post("/jobs", status_code=201, responses={200: {"model": JobPage}})
async def begin_job(here: Here, new: NewJobSent, response: Response) -> JobPage:
    """Begin a job. The same body with the same id again answers 200."""
    saved = await here.write(lambda: here.ledger.begin(new))
    if not saved.changed:
        response.status_code = 200
    here.answers.want(saved.card.id, saved.revision)
    return await here.read(lambda: job_page(here, saved.card.id))


@router.post("/jobs/import", status_code=201)
async def import_job(
    here: Here,
    card: dict[str, Any],
    on_conflict: Literal["refuse", "replace", "merge"] = "refuse",
) -> JobPage:
    """Take in a card from elsewhere."""

    def work() -> str:
        return here.store.import_job(card, on_conflict=on_conflict).id

    job = await here.write(work)
    here.answers.forget(job)
    return await here.read(lambda: job_page(here, job))


@router.get("/jobs/{job}")
async def get_job(here: Here, job: JobPath) -> JobPage:
    """Return a job as it stands."""
    return await here.read(lambda: job_page(here, job))


@router.patch("/jobs/{job}")
async def change_job(here: Here, job: JobPath, sent: HeadChangeSent) -> Revision:
    """Change fields of the head that nobody else has changed since they were seen."""
    return await here.alter(job, lambda: here.ledger.change_head(job, sent))


@router.delete("/jobs/{job}", status_code=204)
async def remove_job(
    here: Here, job: JobPath, revision: Annotated[int, Query(ge=1, le=2**53)]
) -> None:
    """Remove a job with its readings and photos, unless it has changed since ``revision``."""
    await here.write(lambda: here.store.remove(job, expected_revision=revision))
    here.answers.forget(job)


@router.get(
    "/jobs/{job}/card",
    response_class=Response,
    responses={200: {"content": {"application/json": {"schema": {"type": "object"}}}}},
)
async def get_card(here: Here, job: JobPath) -> Response:
    """Return the card as a file, to send to another workshop."""
    text = await here.read(lambda: pretty_json(here.store.load(job)))
    return attachment(text, "application/json", f"{job}.json")


@router.get(
    "/jobs/{job}/readings.csv",
    response_class=Response,
    responses={200: {"content": {"text/csv": {"schema": {"type": "string"}}}}},
)
async def get_readings(here: Here, job: JobPath) -> Response:
    """Return the readings of a job as CSV."""
    text = await here.read(lambda: readings_csv(here.store, job))
    return attachment(text, "text/csv; charset=utf-8", f"{job}.csv")


@router.get("/jobs/{job}/events", response_class=StreamingResponse, responses=STREAM)
async def job_events(
    here: Here,
    job: JobPath,
    last_event_id: Annotated[str | None, Header(max_length=20)] = None,
) -> StreamingResponse:
    """Send what happens to a job, as it happens."""
    _, revision = await here.read(lambda: here.store.load_with_revision(job))
    page = {"job": job, "revision": revision, "change": "now", "what": "", "at": ""}
    first = [Event("job", json.dumps(page))]
    if (known := here.answers.known(job)) is not None:
        first.append(Event("assessment", known))
    here.answers.want(job, revision)
    return _stream(here, job, first, last_event_id)


@router.get("/events", response_class=StreamingResponse, responses=STREAM)
async def all_events(
    here: Here, last_event_id: Annotated[str | None, Header(max_length=20)] = None
) -> StreamingResponse:
    """Send which jobs change, as it happens."""
    return _stream(here, None, [], last_event_id)


def _stream(
    here: Context, job: str | None, first: list[Event], last: str | None
) -> StreamingResponse:
    after = int(last) if last is not None and last.isascii() and last.isdigit() else None
    events = here.hub.listen(job, first, after=after, heartbeat_s=here.settings.heartbeat_s)
    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(events, media_type="text/event-stream", headers=headers)


def job_page(here: Context, job: str) -> JobPage:
    """Return a job with its machine and meter in words."""
    card, revision = here.store.load_with_revision(job)
    case = case_from(card, here.ledger.workshop)
    machine = case.machine
    return JobPage(
        id=card.id,
        revision=revision,
        card=card_dict(card),
        machine=MachineOut(
            class_id=machine.class_id,
            title=machine.title,
            kind=case.book.kind,
            lights_always_on=machine.lights_always_on,
            speeds_rpm={word: machine.speeds.rpm(word) for word in ("idle", "mid", "high")},
            chemistry=machine.chemistries[0].value,
        ),
        meter=MeterOut(
            id=case.meter.id,
            title=case.meter.title,
            functions=[function.value for function in case.meter.functions],
        ),
        photos=[Photo(**asdict(one)) for one in list_photos(here.store, job)],
    )


def attachment(text: str | bytes, media_type: str, name: str) -> Response:
    """Return a file to be kept; job ids hold nothing that needs quoting."""
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(text, media_type=media_type, headers=headers)


CSV_FIELDS = (
    *("id", "at", "stage", "check", "function", "plus", "minus", "engine", "rpm", "warmth"),
    *("qualifier", "value", "value_max", "unit", "sign", "text", "note", "excluded"),
)


def readings_csv(store: JobStore, job: str) -> str:
    """Return the readings of a job as CSV with a header, values in V, ohm or A."""
    out = io.StringIO()
    writer = csv.DictWriter(out, CSV_FIELDS, extrasaction="ignore", lineterminator="\r\n")
    writer.writeheader()
    for reading in store.load(job).readings:
        row = reading.model_dump(mode="json")
        row |= {name: row["state"][name] for name in ("engine", "rpm", "warmth")}
        writer.writerow({key: _cell(value) for key, value in (row | (row["shown"] or {})).items()})
    return out.getvalue()


def _cell(value: object) -> object:
    """Return a cell that no spreadsheet takes for a formula."""
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@"):
        return "'" + value
    return value
