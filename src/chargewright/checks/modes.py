"""How the machine stands between two checks, and the minutes to bring it from one to the next.

Modes act like openings with a switching cost (multimode test sequencing: Ruan, Tu, Pattipati
and Patterson-Hine, IEEE Trans. SMC-B 34, 2004). Throttle, key and lamp switch are free.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from chargewright.machine.points import Engine, Warmth

Part = tuple[str, float]  # why, minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """What costs minutes to change; the defaults are a machine as it is wheeled in."""

    engine: Engine = Engine.OFF
    warmth: Warmth = Warmth.COLD
    plug_in: bool = True
    battery_in: bool = True
    charged: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchMinutes:
    """Minutes of each change of mode; the values shipped are in ``data/access.toml``."""

    start: float
    crank: float
    warm_up: float
    cool_down: float
    plug: float
    battery_lead: float


def switch(start: Mode, goal: Mode, minutes: SwitchMinutes) -> tuple[Part, ...]:
    """Return the steps from ``start`` to ``goal`` with the minutes of each.

    Charging is not a switch but an act (``cost.py``): ``charged`` is ignored here. The
    engine stands still while a plug or a lead is taken off or put back.
    """
    parts: list[Part] = []
    if goal.warmth is Warmth.HOT and start.warmth is Warmth.COLD:
        running = replace(start, engine=Engine.RUNNING, plug_in=True, battery_in=True)
        parts += _joints(start, running, minutes)
        parts.append(("warm the engine up", minutes.warm_up))
        start = replace(running, warmth=Warmth.HOT)
    elif goal.warmth is Warmth.COLD and start.warmth is Warmth.HOT:
        parts.append(("let it cool down", minutes.cool_down))
        start = replace(start, engine=Engine.OFF)
    return (*parts, *_joints(start, goal, minutes))


def _joints(start: Mode, goal: Mode, minutes: SwitchMinutes) -> tuple[Part, ...]:
    """Return the steps for plug, battery lead and engine."""
    parts: list[Part] = []
    engine = start.engine
    if start.plug_in != goal.plug_in:
        why = "put the alternator plug back" if goal.plug_in else "take the alternator plug off"
        parts.append((why, minutes.plug))
        engine = Engine.OFF
    if start.battery_in != goal.battery_in:
        why = "battery negative lead on" if goal.battery_in else "battery negative lead off"
        parts.append((why, minutes.battery_lead))
        engine = Engine.OFF
    if goal.engine is Engine.RUNNING and engine is not Engine.RUNNING:
        parts.append(("start the engine", minutes.start))
    if goal.engine is Engine.CRANKING and engine is not Engine.CRANKING:
        parts.append(("keep the engine from starting", minutes.crank))
    return tuple(parts)
