"""Battery and energy: the seven questions of the command line, under the same names."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from chargewright.energy import asked
from chargewright.web.context import Context, Here

router = APIRouter(tags=["energy"], prefix="/energy")


async def _answer(here: Context, question: asked.Asked) -> dict[str, Any]:
    found: dict[str, Any] = await here.answers.reckon("energy", question)
    return found


@router.post("/battery")
async def battery(here: Here, question: asked.Battery) -> dict[str, Any]:
    """Is this battery good, flat or done?"""
    return await _answer(here, question)


@router.post("/charge")
async def charge(here: Here, question: asked.Charge) -> dict[str, Any]:
    """How to charge a battery, and when not to."""
    return await _answer(here, question)


@router.post("/storage")
async def storage(here: Here, question: asked.Storage) -> dict[str, Any]:
    """How long can it stand?"""
    return await _answer(here, question)


@router.post("/drain")
async def drain(here: Here, question: asked.Drain) -> dict[str, Any]:
    """Judge a key-off current and plan the fuse search."""
    return await _answer(here, question)


@router.post("/budget")
async def budget(here: Here, question: asked.Budget) -> dict[str, Any]:
    """Does the alternator carry the loads?"""
    return await _answer(here, question)


@router.post("/ride")
async def ride(here: Here, question: asked.Ride) -> dict[str, Any]:
    """Days of commuting: will it still start?"""
    return await _answer(here, question)


@router.post("/choose-battery")
async def choose_battery(here: Here, question: asked.ChooseBattery) -> dict[str, Any]:
    """What must a new battery be able to do, and does lithium fit?"""
    return await _answer(here, question)
