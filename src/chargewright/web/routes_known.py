"""What the program knows before any job: classes, causes, checks, points; and a machine's past."""

from __future__ import annotations

from dataclasses import asdict
from functools import cache
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query

from chargewright.checks.catalogue import Catalogue, has_point
from chargewright.checks.load import Book, kind_of, load_book
from chargewright.energy.loads import usual_loads
from chargewright.energy.words import plain
from chargewright.jobs.described import check_dict, machine_dict, past_text, track_title
from chargewright.jobs.parts import Word
from chargewright.machine.cause_file import catalogue as causes_known
from chargewright.machine.classes import class_ids, read_class
from chargewright.machine.conditioning import load_class
from chargewright.machine.points import POINT_TITLES, Point
from chargewright.machine.prior import complaints
from chargewright.web.context import Context, Here
from chargewright.web.models import Cover, Out

router = APIRouter(tags=["known"])
Class = Annotated[Word | None, Query(alias="class")]
Rows = list[dict[str, Any]]


class Titled(Out):
    """A word and its title."""

    id: str
    title: str


class ClassLine(Titled):
    """A machine class and its speeds."""

    speeds: dict[str, float]
    layout: dict[str, Any]


class MachineLine(Out):
    """A machine the workshop has had, by its label."""

    label: str
    jobs: int
    updated: str


@router.get("/classes")
def get_classes() -> list[ClassLine]:
    """List the machine classes."""
    return _classes()


@cache
def _classes() -> list[ClassLine]:
    found = []
    for name in class_ids():
        its = read_class(name)
        speeds = {
            "idle_rpm": its.speeds.rpm("idle"),
            "mid_rpm": its.speeds.rpm("mid"),
            "high_rpm": its.speeds.rpm("high"),
        }
        found.append(ClassLine(id=name, title=its.title, speeds=speeds, layout=plain(its.layout)))
    return found


@router.get("/classes/{class_id}")
def get_class(class_id: Annotated[Word, Path()]) -> dict[str, Any]:
    """Return a class with every figure and its source, limits and possible causes."""
    return machine_dict(load_class(class_id))


@router.get("/classes/{class_id}/loads")
def get_usual_loads(class_id: Annotated[Word, Path()]) -> Rows:
    """Return what a machine of this class usually draws."""
    return [asdict(load) for load in usual_loads(load_class(class_id))]


@router.get("/complaints")
def get_complaints() -> list[Titled]:
    """List what customers complain of."""
    return [Titled(id=one.id, title=one.title) for one in complaints().values()]


@router.get("/causes")
def get_causes(class_id: Class = None) -> Rows:
    """List the causes, those of one class when it is given."""
    known = causes_known()
    causes = known.causes if class_id is None else known.possible(load_class(class_id))
    return [
        {
            "id": cause.id,
            "title": cause.title,
            "component": cause.component.value,
            "repair": {
                "id": cause.repair.id,
                "title": cause.repair.title,
                "minutes": cause.repair.minutes,
                "parts_cost": cause.repair.parts_cost,
            },
        }
        for cause in causes
    ]


@router.get("/covers")
def get_covers(here: Here, class_id: Class = None) -> list[Cover]:
    """List the covers and what has to be moved out of the way."""
    access = _book(here, class_id).effort.access
    return [
        Cover(id=name, title=access.opening(name).title, minutes=access.opening(name).total_min)
        for name in access.ids
    ]


@router.get("/points")
def get_points(class_id: Class = None) -> list[Titled]:
    """List the test points, those of one class when it is given."""
    layout = None if class_id is None else read_class(class_id).layout
    return [
        Titled(id=point.word, title=POINT_TITLES[point])
        for point in Point
        if layout is None or has_point(layout, point)
    ]


@router.get("/checks")
def get_checks(here: Here, class_id: Class = None) -> Rows:
    """List the catalogue of checks, those of one class when it is given."""
    book = _book(here, class_id)
    return [check_dict(check, book) for check in _catalogue(book, class_id)]


@router.get("/checks/{check}")
def get_check(here: Here, check: Annotated[Word, Path()], class_id: Class = None) -> dict[str, Any]:
    """Return one check: points, state, how it is done, cautions."""
    book = _book(here, class_id)
    return check_dict(_catalogue(book, class_id).get(check), book)


@router.get("/machines")
async def get_machines(
    here: Here, search: Annotated[str, Query(max_length=100)] = ""
) -> list[MachineLine]:
    """List the machines that have jobs, the last worked on first."""
    lines = await here.read(lambda: here.store.list())
    found: dict[str, MachineLine] = {}
    for line in lines:
        if line.machine and search.casefold() in line.machine.casefold():
            known = found.get(line.machine)
            number = 1 if known is None else known.jobs + 1
            updated = line.updated if known is None else known.updated
            found[line.machine] = MachineLine(label=line.machine, jobs=number, updated=updated)
    return list(found.values())


@router.get("/history")
async def get_history(here: Here, machine: Annotated[str, Query(max_length=200)]) -> Rows:
    """Return what was measured on one machine over the years, like with like."""
    tracks = await here.read(lambda: here.store.history(machine))
    return [
        asdict(track)
        | {
            "title": track_title(track),
            "readings": [
                asdict(past) | {"text": past_text(past, track)} for past in track.readings
            ],
        }
        for track in tracks
    ]


def _book(here: Context, class_id: str | None) -> Book:
    own = here.settings.workshop.checks_file
    if class_id is None:
        return load_book(own=own)
    read_class(class_id)
    return load_book(kind_of(class_id, own), own)


def _catalogue(book: Book, class_id: str | None) -> Catalogue:
    if class_id is None:
        return Catalogue(book.checks)
    its = read_class(class_id)
    return book.catalogue(its.layout, its.speeds, lights_always_on=its.lights_always_on)
