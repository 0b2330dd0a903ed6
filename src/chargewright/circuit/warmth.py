"""A machine whose warmth nobody noted: each unit somewhere between ambient and hot.

How far is the unit's own deviate ``warmth_z``, spread evenly, and the same for all its readings of
unknown warmth. What a hot machine has in place of a cold one's is taken as far along.
"""

from __future__ import annotations

from dataclasses import replace

from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import INDEX, Array, column
from chargewright.machine.points import State, Warmth

FROM_TO = (  # (cold, hot): the hot column moves towards the cold one
    ("ambient_c", "stator_hot_c"),
    ("ambient_c", "magnet_hot_c"),
    ("ambient_c", "regulator_hot_c"),
    ("stator_leak_s", "stator_leak_hot_s"),
    ("cut_min", "cut_min_hot"),
)
FROM_NOTHING = ("setpoint_hot_shift_v", "surface_v")  # a cold machine has none of these


def as_warm_as_it_is(params: Array, state: State) -> tuple[Array, State]:
    """Return parameters (n, COUNT) and a hot state that together stand for unknown warmth.

    Both come back as they are when the warmth is known. Faults that a hot machine shows grow
    evenly with the temperature (assumed: where they set in is not known).
    """
    if state.warmth is not Warmth.UNKNOWN:
        return params, state
    share = ndtr(column(params, "warmth_z"))
    moved = params.copy()
    for cold, hot in FROM_TO:
        low, high = column(params, cold), column(params, hot)
        moved[:, INDEX[hot]] = low + share * (high - low)
    for name in FROM_NOTHING:
        if name != "surface_v" or not state.battery_charged:
            moved[:, INDEX[name]] *= share
    return moved, replace(state, warmth=Warmth.HOT)
