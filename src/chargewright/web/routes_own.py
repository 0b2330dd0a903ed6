"""What a workshop makes its own: meters, spec sheets, loads, prices."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Path
from pydantic import Field

from chargewright.diagnosis.decisions import load_prices, prices_from
from chargewright.energy.loads import loads_from_dicts
from chargewright.energy.words import plain
from chargewright.errors import InputError
from chargewright.jobs.papers import (
    Paper,
    PaperKind,
    find_paper,
    get_paper,
    list_papers,
    put_paper,
    remove_paper,
)
from chargewright.jobs.parts import FreeDict, Part, Word
from chargewright.machine.classes import read_class
from chargewright.machine.conditioning import machine_of
from chargewright.machine.spec import SpecSheet
from chargewright.meters.load import DATA, load_meter, meter_ids
from chargewright.web.context import Context, Here
from chargewright.web.models import Out
from chargewright.web.own import PRICES
from chargewright.web.strict import strictly

router = APIRouter(tags=["own"])
Name = Annotated[Word, Path()]


class PaperIn(Part):
    """A paper to keep, and the revision it was made from (0 for a new one)."""

    document: FreeDict
    seen: Annotated[int, Field(ge=0, le=2**53)] = 0


class PaperOut(Out):
    """A paper. ``own`` is false for what comes with the program."""

    id: str
    title: str
    own: bool
    revision: int
    document: dict[str, Any]


def _out(paper: Paper) -> PaperOut:
    return PaperOut(
        id=paper.name,
        title=str(paper.body.get("title", paper.name)),
        own=True,
        revision=paper.revision,
        document=paper.body,
    )


def _shipped_meter(name: str) -> PaperOut:
    card = load_meter(name)
    document = tomllib.loads((DATA / f"{name}.toml").read_text("utf-8"))
    return PaperOut(id=name, title=card.title, own=False, revision=0, document=document)


async def _keep(
    here: Context, kind: PaperKind, name: str, sent: PaperInSent, check: Callable[[Any], object]
) -> PaperOut:
    def work() -> PaperOut:
        check(sent.document)
        return _out(put_paper(here.store, kind, name, sent.document, seen=sent.seen))

    return await here.write(work)


PaperInSent = Annotated[PaperIn, strictly(PaperIn)]


@router.get("/meters")
async def get_meters(here: Here) -> list[PaperOut]:
    """List the meter cards, shipped and own."""

    def work() -> list[PaperOut]:
        shipped = [_shipped_meter(name) for name in meter_ids()]
        return [*shipped, *(_out(one) for one in list_papers(here.store, PaperKind.METER))]

    return await here.read(work)


@router.get("/meters/{name}")
async def get_meter(here: Here, name: Name) -> PaperOut:
    """Return a meter card."""
    if name in meter_ids():
        return _shipped_meter(name)
    return await here.read(lambda: _out(get_paper(here.store, PaperKind.METER, name)))


@router.put("/meters/{name}")
async def put_meter(here: Here, name: Name, sent: PaperInSent) -> PaperOut:
    """Keep a meter card of one's own; its fields are those of a meter file."""
    if name in meter_ids():
        raise InputError(f"meter {name!r} comes with the program: choose another id")
    return await _keep(here, PaperKind.METER, name, sent, load_meter)


@router.delete("/meters/{name}", status_code=204)
async def drop_meter(here: Here, name: Name) -> None:
    """Remove a meter card of one's own; jobs keep their copy."""
    await here.write(lambda: remove_paper(here.store, PaperKind.METER, name))


def check_sheet(document: dict[str, Any]) -> None:
    """Raise ``InputError`` where a spec sheet (title, class, spec) cannot be used."""
    for field in document:
        if field not in ("title", "class", "spec"):
            raise InputError(f"spec sheet: unknown field {field!r}; known: class, spec, title")
    if not isinstance(document.get("title", ""), str):
        raise InputError("spec sheet: title: expected text")
    class_id, spec = document.get("class"), document.get("spec")
    if not isinstance(class_id, str) or not isinstance(spec, dict):
        raise InputError("spec sheet: expected 'class', a machine class, and 'spec', its fields")
    read_class(class_id)
    machine_of(class_id, SpecSheet.from_dict(spec, "spec") if spec else None)


@router.get("/sheets")
async def get_sheets(here: Here) -> list[PaperOut]:
    """List the spec sheets of one's own."""
    return await here.read(lambda: [_out(one) for one in list_papers(here.store, PaperKind.SHEET)])


@router.get("/sheets/{name}")
async def get_sheet(here: Here, name: Name) -> PaperOut:
    """Return a spec sheet."""
    return await here.read(lambda: _out(get_paper(here.store, PaperKind.SHEET, name)))


@router.put("/sheets/{name}")
async def put_sheet(here: Here, name: Name, sent: PaperInSent) -> PaperOut:
    """Keep a spec sheet: title, class and the figures of the manual."""
    return await _keep(here, PaperKind.SHEET, name, sent, check_sheet)


@router.delete("/sheets/{name}", status_code=204)
async def drop_sheet(here: Here, name: Name) -> None:
    """Remove a spec sheet; jobs keep their copy."""
    await here.write(lambda: remove_paper(here.store, PaperKind.SHEET, name))


def check_loads(document: dict[str, Any]) -> None:
    """Raise ``InputError`` where a list of loads (title, loads) cannot be used."""
    for field in document:
        if field not in ("title", "loads"):
            raise InputError(f"loads: unknown field {field!r}; known: loads, title")
    rows = document.get("loads")
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError("loads: expected 'loads', a list of objects with name, watts or amps")
    if not isinstance(document.get("title", ""), str):
        raise InputError("loads: title: expected text")
    loads_from_dicts(rows)


@router.get("/loads")
async def get_loads(here: Here) -> list[PaperOut]:
    """List the lists of loads."""
    return await here.read(lambda: [_out(one) for one in list_papers(here.store, PaperKind.LOADS)])


@router.get("/loads/{name}")
async def get_load_list(here: Here, name: Name) -> PaperOut:
    """Return a list of loads."""
    return await here.read(lambda: _out(get_paper(here.store, PaperKind.LOADS, name)))


@router.put("/loads/{name}")
async def put_loads(here: Here, name: Name, sent: PaperInSent) -> PaperOut:
    """Keep a list of loads."""
    return await _keep(here, PaperKind.LOADS, name, sent, check_loads)


@router.delete("/loads/{name}", status_code=204)
async def drop_loads(here: Here, name: Name) -> None:
    """Remove a list of loads."""
    await here.write(lambda: remove_paper(here.store, PaperKind.LOADS, name))


@router.get("/prices")
async def get_prices(here: Here) -> PaperOut:
    """Return what labour, a comeback and waiting cost."""

    def work() -> PaperOut:
        paper = find_paper(here.store, PaperKind.PRICES, PRICES)
        base = here.settings.workshop
        prices = base.prices or load_prices(base.prices_file)
        if paper is not None:
            prices = prices_from(paper.body)
        return PaperOut(
            id=PRICES,
            title="prices",
            own=paper is not None,
            revision=0 if paper is None else paper.revision,
            document=plain(prices),
        )

    return await here.read(work)


@router.put("/prices")
async def put_prices(here: Here, sent: PaperInSent) -> PaperOut:
    """Keep prices of one's own; jobs are assessed anew with them."""
    kept = await _keep(here, PaperKind.PRICES, PRICES, sent, prices_from)
    here.answers.forget()
    return kept


@router.delete("/prices", status_code=204)
async def drop_prices(here: Here) -> None:
    """Go back to the prices that come with the program."""
    await here.write(lambda: remove_paper(here.store, PaperKind.PRICES, PRICES))
    here.answers.forget()
