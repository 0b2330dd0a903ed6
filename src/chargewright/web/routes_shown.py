"""What is drawn and written: circuits, readings against their limits, reports, simulations."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Response

from chargewright.checks.cost import state_in
from chargewright.checks.safety import refuse
from chargewright.diagnosis.assess import judged
from chargewright.errors import InputError, MissingError, nearest
from chargewright.jobs.case import case_from, speeds_of
from chargewright.jobs.papers import PaperKind, find_paper
from chargewright.jobs.parts import Word
from chargewright.jobs.reading import CardState
from chargewright.machine.points import POINT_BY_WORD, Function, Point
from chargewright.meters.card import MeterCard
from chargewright.meters.load import load_meter, meter_ids
from chargewright.pictures.circuit import circuit_picture
from chargewright.pictures.reading import judged_picture
from chargewright.texts.catalogue import ENGLISH, languages, picture_words
from chargewright.texts.speech import speech
from chargewright.web.context import Context, Here
from chargewright.web.lanes import LONG
from chargewright.web.routes_jobs import JobPath, attachment
from chargewright.web.routes_work import WordPath
from chargewright.web.strict import strictly
from chargewright.web.would import WouldRead, with_sheet

router = APIRouter(tags=["shown"])
WouldReadSent = Annotated[WouldRead, strictly(WouldRead)]
Theme = Annotated[Literal["css", "light", "dark", "print"], Query()]
Size = Annotated[Literal["phone", "page"], Query()]
Language = Annotated[str, Query(max_length=20, json_schema_extra={"enum": [*languages()]})]
SVG: dict[str, Any] = {"content": {"image/svg+xml": {"schema": {"type": "string"}}}}
FORMS = {
    "pdf": "application/pdf",
    "html": "text/html; charset=utf-8",
    "json": "application/json",
    "csv": "text/csv; charset=utf-8",
}
BYTES: dict[str, Any] = {"type": "string", "format": "binary"}
FILES: dict[str, Any] = {
    "content": {
        name.partition(";")[0]: {"schema": {"type": "object"} if form == "json" else BYTES}
        for form, name in FORMS.items()
    }
}


@router.get("/jobs/{job}/steps/{check}/circuit.svg", response_class=Response, responses={200: SVG})
async def get_step_circuit(
    here: Here,
    job: JobPath,
    check: WordPath,
    theme: Theme = "css",
    size: Size = "phone",
    language: Language = ENGLISH,
) -> Response:
    """Draw the circuit with the probes of a check on it."""

    def work() -> str:
        case = case_from(here.store.load(job), here.ledger.workshop)
        one = case.catalogue.get(check)
        return circuit_picture(
            case.machine.layout,
            plus=one.plus,
            minus=one.minus,
            function=one.function,
            state=state_in(one, case.situation),
            look=one.sign,
            size=size,
            theme=theme,
            words=picture_words(language),
        )

    return svg(await here.read(work))


@router.get("/jobs/{job}/circuit.svg", response_class=Response, responses={200: SVG})
async def get_circuit(
    here: Here,
    job: JobPath,
    function: Annotated[Word, Query()],
    plus: Annotated[Word, Query()],
    minus: Annotated[Word, Query()],
    plug_in: bool = True,
    battery_in: bool = True,
    theme: Theme = "css",
    size: Size = "phone",
    language: Language = ENGLISH,
) -> Response:
    """Draw the circuit with a reading of one's own on it; what must not be measured is refused."""

    def work() -> str:
        case = case_from(here.store.load(job), here.ledger.workshop)
        kind, (red, black) = _function(function), (_point(plus), _point(minus))
        state = CardState(plug_in=plug_in, battery_in=battery_in).machine_state(
            speeds_of(case.machine)
        )
        if kind in (Function.OHM, Function.DIODE):
            refuse(kind, red, black, state, layout=case.machine.layout)
        return circuit_picture(
            case.machine.layout,
            plus=red,
            minus=black,
            function=kind,
            state=state,
            size=size,
            theme=theme,
            words=picture_words(language),
        )

    return svg(await here.read(work))


@router.get(
    "/jobs/{job}/readings/{reading}/picture.svg", response_class=Response, responses={200: SVG}
)
async def get_reading_picture(
    here: Here,
    job: JobPath,
    reading: WordPath,
    limit: Annotated[int, Query(ge=0, le=99, description="Which of its limits, from 0.")] = 0,
    theme: Theme = "css",
    size: Size = "phone",
    language: Language = ENGLISH,
) -> Response:
    """Draw a reading as a distribution against one of its limits."""

    def work() -> str:
        card = here.store.load(job)
        case = case_from(card, here.ledger.workshop)
        found = [one for one in judged(case) if one.answer.id == reading]
        if limit >= len(found):
            raise MissingError(
                f"reading {reading!r} of job {job!r} is judged by {len(found)} limits, "
                f"asked for number {limit}"
            )
        one = found[limit]
        return judged_picture(
            one,
            title=speech(language).said(one.answer.title),
            size=size,
            theme=theme,
            words=picture_words(language),
        )

    return svg(await here.read(work))


@router.get("/jobs/{job}/report.{form}", response_class=Response, responses={200: FILES})
async def get_report(
    here: Here,
    job: JobPath,
    form: Literal["pdf", "html", "json", "csv"],
    reader: Literal["customer", "workshop"] = "customer",
    paper: Literal["a4", "us-letter"] = "a4",
    language: Language = ENGLISH,
) -> Response:
    """Write the report: a page for the customer, all figures for a workshop, or data.

    Pages are written in ``language``; data are English, as programs read them.
    """
    data: bytes = await here.answers.ask(
        "report", job, f".{form}", reader, paper, language, lane=LONG
    )
    answer = attachment(data, FORMS[form], f"{job}-{reader}.{form}")
    if form == "html":  # its own styles and pictures stand inside it; nothing runs, nothing loads
        answer.headers["Content-Security-Policy"] = (
            "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"
        )
    return answer


@router.post("/simulate")
async def simulate(here: Here, asked: WouldReadSent) -> dict[str, Any]:
    """Tell what every check would read on a machine with a cause, and its waveforms."""
    meter, whole = await here.read(
        lambda: (_meter(here, asked.meter), with_sheet(asked, here.store))
    )
    found: dict[str, Any] = await here.answers.reckon("simulate", whole, meter)
    return found


def svg(text: str) -> Response:
    """Return a picture."""
    return Response(text, media_type="image/svg+xml", headers={"Cache-Control": "no-cache"})


def _function(word: str) -> Function:
    known = {one.value: one for one in Function}
    if word not in known:
        raise InputError(f"function {word!r} is unknown; {nearest(word, known)}")
    return known[word]


def _point(word: str) -> Point:
    if word not in POINT_BY_WORD:
        raise InputError(f"test point {word!r} is unknown; {nearest(word, POINT_BY_WORD)}")
    return POINT_BY_WORD[word]


def _meter(here: Context, name: str | None) -> MeterCard | None:
    if name is None:
        return None
    paper = None if name in meter_ids() else find_paper(here.store, PaperKind.METER, name)
    return load_meter(name if paper is None else paper.body)
