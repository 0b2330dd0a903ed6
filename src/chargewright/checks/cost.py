"""Minutes of a check from where the machine stands: access once, change of mode, its own time."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from chargewright.checks.access import AccessTree
from chargewright.checks.catalogue import Check
from chargewright.checks.modes import Mode, Part, SwitchMinutes, switch
from chargewright.machine.points import Engine, Function, State, Warmth


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """What this workshop's minutes are made of: the machine's covers and the changes of mode.

    ``charge`` is the act that charges the battery; a check that wants a charged battery
    pays for it when nobody has done it yet.
    """

    access: AccessTree
    switches: SwitchMinutes
    charge: Check


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """Where the machine stands: what is open, and its mode."""

    open: frozenset[str] = frozenset()
    mode: Mode = field(default_factory=Mode)


@dataclass(frozen=True, slots=True)
class Cost:
    """Minutes of attention in all, why each of them, and hours nobody has to stand by."""

    total: float
    parts: tuple[Part, ...]
    wait_h: float = 0.0


def goal_mode(check: Check, mode: Mode) -> Mode:
    """Return the mode in which ``check`` is read, starting from ``mode``.

    What the check does not ask for stays as it is. After the hours on a charger the engine
    is off and cold, and the battery charged.
    """
    if check.is_act:
        return replace(mode, engine=Engine.OFF, warmth=Warmth.COLD, charged=True)
    charges_first = check.charged is True and not mode.charged
    return Mode(
        engine=check.state.engine,
        warmth=check.warmth or (Warmth.COLD if charges_first else mode.warmth),
        plug_in=check.state.plug_in,
        battery_in=check.state.battery_in,
        charged=mode.charged if check.charged is None else check.charged,
    )


def way(start: Mode, goal: Mode, effort: Effort) -> Cost:
    """Return the cost of changing the mode, charging included; infinite when there is no way.

    A battery once charged cannot be read as it was found.
    """
    if start.charged and not goal.charged:
        why = "the battery has been charged: its state as found can no longer be read"
        return Cost(math.inf, ((why, math.inf),))
    if start.charged == goal.charged:
        parts = switch(start, goal, effort.switches)
        return Cost(_total(parts), parts)
    after_charge = goal_mode(effort.charge, start)
    parts = (
        (effort.charge.title, effort.charge.minutes),
        *switch(after_charge, goal, effort.switches),
    )
    return Cost(_total(parts), parts, effort.charge.wait_h)


def needs(check: Check, mode: Mode, effort: Effort) -> frozenset[str]:
    """Return the openings a check asks for, those of charging first included."""
    charges = goal_mode(check, mode).charged and not mode.charged
    return check.needs | effort.charge.needs if charges else check.needs


def minutes(check: Check, situation: Situation, effort: Effort) -> Cost:
    """Return what ``check`` costs from ``situation``; ``total`` is the sum of its parts.

    Infinite when the reading can no longer be had (see ``way``). An act on a battery that
    is charged already costs nothing.
    """
    goal = goal_mode(check, situation.mode)
    change = way(situation.mode, goal, effort)
    openings = effort.access.to_open(needs(check, situation.mode, effort), situation.open)
    parts: list[Part] = [(f"open and close: {o.title}", o.total_min) for o in openings]
    parts += change.parts
    if not check.is_act:
        parts.append((check.title, check.minutes))
    return Cost(_total(parts), tuple(parts), change.wait_h + (0 if check.is_act else check.wait_h))


def after(check: Check, situation: Situation, effort: Effort) -> Situation:
    """Return where the machine stands once ``check`` has been done."""
    wanted = needs(check, situation.mode, effort)
    return Situation(
        open=situation.open | effort.access.closure(wanted),
        mode=goal_mode(check, situation.mode),
    )


def state_in(check: Check, situation: Situation) -> State:
    """Return the state the machine is read in when ``check`` is done from ``situation``.

    A look tells the same on a battery charged and on a warm engine, and ohms and diodes the same
    on a battery charged: what has been answered so stays answered.
    """
    if check.function is Function.LOOK:
        return check.state
    goal = goal_mode(check, situation.mode)
    if check.function in (Function.OHM, Function.DIODE):
        return replace(check.state, warmth=goal.warmth)
    return replace(check.state, warmth=goal.warmth, battery_charged=goal.charged)


def _total(parts: tuple[Part, ...] | list[Part]) -> float:
    return math.fsum(cost_min for _, cost_min in parts)
