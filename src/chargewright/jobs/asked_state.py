"""The state a check asks for, as a card writes it, and what of it was otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from pydantic import ValidationError

from chargewright.checks.catalogue import Check
from chargewright.errors import InputError
from chargewright.jobs.parts import SpeedWord
from chargewright.jobs.reading import CardState, Reading
from chargewright.jobs.refusal import refusal
from chargewright.machine.points import State


def otherwise(asked: CardState, fields: Mapping[str, Any]) -> CardState:
    """Return a state with the fields that were otherwise; a speed alone takes the range away."""
    if not fields:
        return asked
    told = dict(fields)
    engine = told.get("engine", asked.engine.value)
    if engine != asked.engine.value:
        raise InputError(
            f"the check is read with the engine {asked.engine.value}, given {engine}: that is "
            "another reading"
        )
    if "rpm" in told:
        told.setdefault("rpm_max", None)
    kept = asked.model_dump(mode="json")
    try:
        return CardState.model_validate({**kept, **told})
    except ValidationError as error:
        raise refusal(error, Reading, source="machine state") from None


def card_state(state: State, check: Check) -> CardState:
    """Return a state as the card writes it, speeds as words where the check has a word."""
    rpm = check.speed if isinstance(check.speed, str) else state.rpm
    return CardState(
        engine=state.engine,
        rpm=cast("float | SpeedWord | None", rpm),
        rpm_max=state.rpm_max,
        rpm_rel_u=state.rpm_rel_u,
        key_on=state.key_on,
        lights_on=state.lights_on,
        plug_in=state.plug_in,
        battery_in=state.battery_in,
        warmth=state.warmth,
        load=state.load,
        battery_charged=state.battery_charged,
        rest_h=state.rest_h,
        full_field=state.full_field,
    )
