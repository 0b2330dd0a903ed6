"""A job at work: readings, steps, what was done, what it was, photos."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request, Response

from chargewright.errors import InputError
from chargewright.jobs.card import Act, Repair
from chargewright.jobs.parts import Line, Utc, Word
from chargewright.jobs.photos import get_photo, list_photos, put_photo, remove_photo
from chargewright.web.context import Here
from chargewright.web.models import (
    Assessed,
    CheckLine,
    Covers,
    Glance,
    NewAct,
    NewCause,
    NewReading,
    NewRepair,
    Photo,
    Question,
    ReadingChange,
    ReadingKept,
    Revision,
    Step,
)
from chargewright.web.reckon import check_lines
from chargewright.web.routes_jobs import JobPath
from chargewright.web.strict import strictly
from chargewright.workbench import Job

router = APIRouter(tags=["work"])
CoversSent = Annotated[Covers, strictly(Covers)]
NewActSent = Annotated[NewAct, strictly(NewAct)]
NewCauseSent = Annotated[NewCause, strictly(NewCause)]
NewReadingSent = Annotated[NewReading, strictly(NewReading)]
NewRepairSent = Annotated[NewRepair, strictly(NewRepair)]
ReadingChangeSent = Annotated[ReadingChange, strictly(ReadingChange)]
Seen = Annotated[int, Query(ge=0, le=2**53)]
Wait = Annotated[float, Query(ge=0, le=30)]
WordPath = Annotated[Word, Path()]
PICTURE = {"schema": {"type": "string", "format": "binary"}}
PICTURES: dict[str, Any] = {
    "content": dict.fromkeys(("image/jpeg", "image/png", "image/webp"), PICTURE)
}


@router.get("/jobs/{job}/assessment", response_model=Assessed, responses={202: {"model": Assessed}})
async def get_assessment(
    here: Here, job: JobPath, revision: Seen = 0, wait_s: Wait = 20.0
) -> Response:
    """Return the assessment of ``revision`` or later as soon as it is there; 202 when not yet."""
    _, stored = await here.read(lambda: here.store.load_with_revision(job))
    wanted = min(revision, stored) if revision else stored
    text = await here.answers.assessed(job, wanted, wait_s)
    if text is not None:
        return _ready(text)  # checked where it was made
    none = Assessed(job=job, revision=stored, assessment=None, bench=None, error=None)
    return _ready(none.model_dump_json(), 202)


@router.get("/jobs/{job}/glance", response_model=Glance, responses={202: {"model": Glance}})
async def get_glance(here: Here, job: JobPath, revision: Seen = 0, wait_s: Wait = 5.0) -> Response:
    """Return what can be said at once of ``revision`` or later; 202 when there is nothing."""
    _, stored = await here.read(lambda: here.store.load_with_revision(job))
    text = await here.answers.glance(job, min(revision, stored) if revision else stored, wait_s)
    if text is not None:
        return _ready(text)
    return _ready(Glance(job=job, revision=stored, glance=None).model_dump_json(), 202)


@router.get("/jobs/{job}/checks")
async def get_checks(here: Here, job: JobPath) -> list[CheckLine]:
    """List every check of this machine, with the reason where it cannot be done now."""

    def work() -> list[CheckLine]:
        return [
            CheckLine(**line)
            for line in check_lines(Job(here.store.load(job), workshop=here.ledger.workshop))
        ]

    return await here.read(work)


@router.get("/jobs/{job}/steps/{check}", response_model=Step)
async def get_step(here: Here, job: JobPath, check: WordPath) -> Response:
    """Return any check as the step to do next, with what it would read."""
    found = await here.answers.ask("step", job, check)
    return _ready(json.dumps(found, allow_nan=False))


@router.post("/jobs/{job}/readings", status_code=201, responses={200: {"model": ReadingKept}})
async def put_reading(
    here: Here, job: JobPath, sent: NewReadingSent, response: Response
) -> ReadingKept:
    """Put a reading on the card; answered when it is on the disk. Again: 200."""
    kept = await here.write(lambda: here.ledger.put_reading(job, sent))
    if not kept.saved.changed:
        response.status_code = 200
    here.answers.want(job, kept.saved.revision)
    return ReadingKept(
        revision=kept.saved.revision,
        reading=kept.reading,
        new=kept.saved.changed,
        since=list(kept.since),
    )


@router.post("/jobs/{job}/readings/question")
async def question_reading(here: Here, job: JobPath, sent: NewReadingSent) -> Question:
    """Tell whether the decimal point of a reading has probably slipped; nothing is stored."""
    reading = await here.read(lambda: here.ledger.preview(job, sent))
    told = await here.answers.ask("question", job, reading.model_dump_json())
    return Question(reading=reading, **told)


@router.patch("/jobs/{job}/readings/{reading}")
async def change_reading(
    here: Here, job: JobPath, reading: WordPath, sent: ReadingChangeSent
) -> Revision:
    """Exclude a reading with a reason, take it in again (null), or change its note."""
    return await here.alter(job, lambda: here.ledger.change_reading(job, reading, sent))


@router.delete("/jobs/{job}/readings/{reading}")
async def drop_reading(here: Here, job: JobPath, reading: WordPath) -> Revision:
    """Undo a reading: take it off the card for good."""
    return await here.alter(job, lambda: here.ledger.drop_reading(job, reading))


@router.post("/jobs/{job}/opened")
async def open_covers(here: Here, job: JobPath, sent: CoversSent) -> Revision:
    """Note covers as open, with all that lies before them."""
    return await here.alter(job, lambda: here.ledger.open_covers(job, sent.covers))


@router.delete("/jobs/{job}/opened/{cover}")
async def close_cover(here: Here, job: JobPath, cover: WordPath) -> Revision:
    """Note a cover as closed again."""
    return await here.alter(job, lambda: here.ledger.close_cover(job, cover))


@router.post("/jobs/{job}/acts")
async def note_act(here: Here, job: JobPath, sent: NewActSent) -> Revision:
    """Note something done, as charging the battery."""
    act = Act(act=sent.act, at=sent.at, note=sent.note)
    return await here.alter(job, lambda: here.ledger.note_act(job, act))


@router.delete("/jobs/{job}/acts")
async def drop_act(here: Here, job: JobPath, at: Annotated[Utc, Query()]) -> Revision:
    """Take back what was noted as done at that time."""
    return await here.alter(job, lambda: here.ledger.drop_act(job, at))


@router.post("/jobs/{job}/repairs")
async def note_repair(here: Here, job: JobPath, sent: NewRepairSent) -> Revision:
    """Note a repair."""
    if sent.cause is None and sent.repair is None:
        raise InputError("expected 'cause' or 'repair' to say what was put right")
    repair = Repair(cause=sent.cause, repair=sent.repair, at=sent.at, note=sent.note)
    return await here.alter(job, lambda: here.ledger.note_repair(job, repair))


@router.delete("/jobs/{job}/repairs")
async def drop_repair(here: Here, job: JobPath, at: Annotated[Utc, Query()]) -> Revision:
    """Take back the repairs noted at that time."""
    return await here.alter(job, lambda: here.ledger.drop_repair(job, at))


@router.put("/jobs/{job}/confirmed-cause")
async def confirm_cause(here: Here, job: JobPath, sent: NewCauseSent) -> Revision:
    """Say what it was in the end; confirmed jobs teach the workshop."""
    return await here.alter(job, lambda: here.ledger.confirm(job, sent))


@router.delete("/jobs/{job}/confirmed-cause")
async def drop_cause(here: Here, job: JobPath) -> Revision:
    """Take back what it was."""
    return await here.alter(job, lambda: here.ledger.confirm(job, None))


@router.get("/jobs/{job}/photos")
async def get_photos(here: Here, job: JobPath) -> list[Photo]:
    """List the photos of a job."""

    def work() -> list[Photo]:
        here.store.load_with_revision(job)
        return [Photo(**asdict(one)) for one in list_photos(here.store, job)]

    return await here.read(work)


@router.put(
    "/jobs/{job}/photos/{photo}",
    status_code=201,
    responses={200: {"model": Revision}},
    openapi_extra={"requestBody": {"required": True, **PICTURES}},
)
async def keep_photo(
    here: Here,
    job: JobPath,
    photo: WordPath,
    request: Request,
    response: Response,
    reading: Annotated[Word | None, Query()] = None,
    note: Annotated[Line, Query()] = "",
) -> Revision:
    """Keep a photo, sent as the body; its type is told by its bytes. Again: 200."""
    data = await request.body()

    def work() -> Revision:
        new = put_photo(here.store, job, photo, data, reading_id=reading, note=note)
        return Revision(revision=here.store.load_with_revision(job)[1], changed=new)

    kept = await here.write(work)
    if not kept.changed:
        response.status_code = 200
    return kept


@router.get("/jobs/{job}/photos/{photo}", response_class=Response, responses={200: PICTURES})
async def send_photo(here: Here, job: JobPath, photo: WordPath) -> Response:
    """Return a photo."""
    mime, data = await here.read(lambda: get_photo(here.store, job, photo))
    headers = {
        "Content-Security-Policy": "default-src 'none'; sandbox",
        "Cache-Control": "private, max-age=31536000, immutable",
    }
    return Response(data, media_type=mime, headers=headers)


@router.delete("/jobs/{job}/photos/{photo}", status_code=204)
async def drop_photo(here: Here, job: JobPath, photo: WordPath) -> None:
    """Remove a photo."""
    await here.write(lambda: remove_photo(here.store, job, photo))


def _ready(text: str, status: int = 200) -> Response:
    """Return JSON that was made by a worker, as it is."""
    return Response(text, status, {"Cache-Control": "no-store"}, "application/json")
