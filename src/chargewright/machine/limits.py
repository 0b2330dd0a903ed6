"""Which limits a reading is judged by."""

from __future__ import annotations

from chargewright.machine.limit import Limit
from chargewright.machine.model import Machine
from chargewright.machine.points import Engine, Function, Point, State


def limits_for(
    machine: Machine, function: Function, *, plus: Point, minus: Point, state: State
) -> tuple[Limit, ...]:
    """Return the limits for this function, probe pair and state, ends as this meter reads them.

    Probes the other way round, and any two phases, are the same pair: signed limits come
    back turned round, those per 1000 rpm multiplied by the state's speed. Running without
    a known speed leaves out what depends on it. None fitting gives an empty tuple.
    """
    speed_known = state.engine is not Engine.RUNNING or state.rpm is not None
    return tuple(
        limit.at(plus, minus, state)
        for limit in machine.limits
        if limit.function is function
        and limit.fits(plus, minus)
        and limit.when.holds(state)
        and (speed_known or not limit.per_krpm)
    )
