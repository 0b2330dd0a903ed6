"""Battery and energy: the seven questions of the command line, under the same names."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter

from chargewright.energy import asked
from chargewright.web.context import Context, Here
from chargewright.web.strict import strictly

Json = dict[str, Any]
Battery = Annotated[asked.Battery, strictly(asked.Battery)]
Charge = Annotated[asked.Charge, strictly(asked.Charge)]
Storage = Annotated[asked.Storage, strictly(asked.Storage)]
Drain = Annotated[asked.Drain, strictly(asked.Drain)]
Budget = Annotated[asked.Budget, strictly(asked.Budget)]
Ride = Annotated[asked.Ride, strictly(asked.Ride)]
ChooseBattery = Annotated[asked.ChooseBattery, strictly(asked.ChooseBattery)]

router = APIRouter(tags=["energy"], prefix="/energy")


async def _answer(here: Context, question: asked.Asked) -> Json:
    found: Json = await here.answers.reckon("energy", question)
    return found


@router.post("/battery")
async def battery(here: Here, question: Battery) -> Json:
    """Is this battery good, flat or done?"""
    return await _answer(here, question)


@router.post("/charge")
async def charge(here: Here, question: Charge) -> Json:
    """How to charge a battery, and when not to."""
    return await _answer(here, question)


@router.post("/storage")
async def storage(here: Here, question: Storage) -> Json:
    """How long can it stand?"""
    return await _answer(here, question)


@router.post("/drain")
async def drain(here: Here, question: Drain) -> Json:
    """Judge a key-off current and plan the fuse search."""
    return await _answer(here, question)


@router.post("/budget")
async def budget(here: Here, question: Budget) -> Json:
    """Does the alternator carry the loads?"""
    return await _answer(here, question)


@router.post("/ride")
async def ride(here: Here, question: Ride) -> Json:
    """Days of commuting: will it still start?"""
    return await _answer(here, question)


@router.post("/choose-battery")
async def choose_battery(here: Here, question: ChooseBattery) -> Json:
    """What must a new battery be able to do, and does lithium fit?"""
    return await _answer(here, question)
