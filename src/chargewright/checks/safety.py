"""What is refused, and why: dangerous or impossible ways to take a reading.

One small rule per danger. A reason says what could happen and what to do instead.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from chargewright.checks.catalogue import Check, has_point
from chargewright.circuit.wires import wires
from chargewright.errors import UnsafeCheckError
from chargewright.machine.layout import FIELD_POINTS, LIGHTING_POINTS, Chemistry, Layout
from chargewright.machine.points import POINT_TITLES, Engine, Function, Load, Point, State

RESISTANCE = frozenset({Function.OHM, Function.DIODE})
CURRENT = frozenset({Function.DC_A, Function.CLAMP_A})
STATOR = frozenset({Point.ALT_A, Point.ALT_B, Point.ALT_C})
LEADS = STATOR | {Point.REG_A, Point.REG_B, Point.REG_C}
ALTERNATOR = STATOR | {Point.LIGHT_COIL, Point.FIELD_POS, Point.FIELD_NEG}
"""All points on the alternator's side of the plug."""
BEYOND_PLUG = ALTERNATOR | LEADS | {Point.LIGHT_REG, Point.REG_FIELD}
"""All points on either side of the plug: for them it matters whether it is apart."""
FULL_FIELD_RPM = 3500.0  # above it nothing holds the volts of a fully fed field (assumed)
POSITIVE = frozenset({Point.BATTERY_POS, Point.FUSE_OUT, Point.REG_OUT, Point.REG_SENSE})
"""Points at the battery's positive side whatever the key does."""
NEGATIVE = (
    frozenset({Point.BATTERY_NEG, Point.FRAME, Point.REG_BODY, Point.STARTER_POS})
    | LIGHTING_POINTS
    | (FIELD_POINTS - {Point.REG_SUPPLY})
)
"""Points at its negative side; a starter's, lamp's or field's terminal is, through its winding."""
LITHIUM_CHARGE_LOWEST_C = 0.0  # lithium iron phosphate cell sheets: charge at 0 to 45 C


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One reading as asked for; a look may have no points."""

    function: Function
    plus: Point | None
    minus: Point | None
    state: State
    layout: Layout

    @property
    def pair(self) -> frozenset[Point]:
        """Both points, without their order."""
        return frozenset(point for point in (self.plus, self.minus) if point is not None)

    @property
    def same(self) -> bool:
        """Whether both probes touch the same point."""
        return self.plus is not None and self.plus is self.minus


def reason(
    function: Function, plus: Point | None, minus: Point | None, state: State, *, layout: Layout
) -> str | None:
    """Return why this reading must not or cannot be taken, or None when it may be."""
    asked = Asked(function=function, plus=plus, minus=minus, state=state, layout=layout)
    return next((why for rule in RULES if (why := rule(asked)) is not None), None)


def refuse(
    function: Function, plus: Point | None, minus: Point | None, state: State, *, layout: Layout
) -> None:
    """Raise ``UnsafeCheckError`` with the reason when the reading is dangerous or impossible."""
    why = reason(function, plus, minus, state, layout=layout)
    if why is not None:
        raise UnsafeCheckError(why)


def refuse_check(check: Check, layout: Layout) -> None:
    """Raise ``UnsafeCheckError`` when a catalogue check cannot be done as it is written."""
    if check.function is not None:
        refuse(check.function, check.plus, check.minus, check.state, layout=layout)


def refuse_charging(chemistry: Chemistry, ambient_c: float, *, bulged: bool = False) -> None:
    """Raise ``UnsafeCheckError`` when the battery must not be put on a charger now."""
    if bulged:
        raise UnsafeCheckError(
            "charging a bulged, leaking or frozen battery can burst it: replace it instead"
        )
    if chemistry is Chemistry.LIFEPO4 and ambient_c < LITHIUM_CHARGE_LOWEST_C:
        raise UnsafeCheckError(
            f"charging a lithium iron phosphate battery at {ambient_c:g} °C plates lithium and "
            "can short it inside: bring it into a room above 0 °C first"
        )


def _points(asked: Asked) -> str | None:
    if asked.function is Function.LOOK:
        return None
    for point in (asked.plus, asked.minus):
        if point is None:
            return f"{asked.function.value} needs two test points: give both probes a place"
        if not has_point(asked.layout, point):
            return f"this machine has no {POINT_TITLES[point]}: choose a point it has"
    if asked.same and asked.function is not Function.OHM:
        return (
            "both probes on one point read nothing: move one of them "
            "(only the ohms of the meter's own leads are read that way)"
        )
    return None


def _speed(asked: Asked) -> str | None:
    state = asked.state
    if state.engine is not Engine.RUNNING:
        if state.rpm is None and state.rpm_max is None:
            return None
        return "a speed is given but the engine is not running: leave it out, or say running"
    if state.rpm is not None and not state.rpm > 0:
        return f"engine running at {state.rpm:g} rpm contradicts itself: give the speed, or none"
    if state.rpm_max is not None and (state.rpm is None or state.rpm_max < state.rpm):
        return (
            f"a speed range up to {state.rpm_max:g} rpm needs a lower end below it: "
            "give the lower speed too"
        )
    return None


def _full_field(asked: Asked) -> str | None:
    state = asked.state
    if not state.full_field:
        return None
    if not asked.layout.field:
        return "this machine has no field coil to feed: its rotor has magnets"
    if state.engine is Engine.CRANKING or (state.engine is Engine.OFF and state.plug_in):
        return "a full-field test is read with the engine running, or off with the plug apart"
    if state.engine is Engine.RUNNING and (state.rpm_max or state.rpm or 0.0) > FULL_FIELD_RPM:
        return (
            f"with the field fully fed nothing holds the volts down: stay below"
            f" {FULL_FIELD_RPM:g} rpm and off again within seconds"
        )
    return None


def _engine_and_load(asked: Asked) -> str | None:
    state = asked.state
    if state.load is Load.NONE:
        return None
    if state.engine is not Engine.OFF:
        return (
            "a load test with the engine turning tests alternator and battery together: "
            "switch the engine off first"
        )
    if state.load is Load.HEADLAMP and not state.battery_in:
        return "the headlamp cannot load a battery whose lead is off: put the lead on first"
    return None


def _battery_off(asked: Asked) -> str | None:
    if asked.state.battery_in or asked.state.engine is Engine.OFF:
        return None
    if asked.state.engine is Engine.CRANKING:
        return "with the battery lead off the starter cannot turn: put the lead on first"
    return (
        "running with the battery off lets the alternator's open voltage, 100 V and more, into "
        "lamps and control units: leave the battery on, or stop the engine first"
    )


def _live_resistance(asked: Asked) -> str | None:
    if asked.function not in RESISTANCE or asked.same:
        return None
    state = asked.state
    instead = "engine off, key off, no load, then measure"
    if state.engine is not Engine.OFF:
        return f"ohms and diode ranges on a turning engine can destroy the meter: {instead}"
    if state.key_on or state.load is not Load.NONE:
        return f"ohms and diode ranges on a live circuit read wrong and can blow: {instead}"
    return None


def _resistance_across_battery(asked: Asked) -> str | None:
    if asked.function not in RESISTANCE or asked.same:
        return None
    to_start = asked.pair == {Point.BATTERY_POS, Point.STARTER_POS}
    across = bool(asked.pair & POSITIVE) and bool(asked.pair & NEGATIVE)
    at_post = Point.BATTERY_NEG in asked.pair
    if not across or not (asked.state.battery_in or at_post):
        return None
    what = "the starter relay's open contact" if to_start else "the battery"
    return (
        f"the meter would stand across {what} with its full voltage on an ohms or diode range "
        "and can be damaged: take the negative lead off and measure from frame or body"
    )


def _series_current(asked: Asked) -> str | None:
    if asked.function is not Function.DC_A:
        return None
    state = asked.state
    if state.engine is not Engine.OFF:
        return (
            "the starter or the charging current would run through the meter and blow its fuse "
            "or burn it: use a clamp"
        )
    if state.key_on or state.load is not Load.NONE:
        return "with the key on more flows than a meter in series carries: key off, or a clamp"
    if asked.pair == {Point.BATTERY_POS, Point.STARTER_POS}:
        return (
            "a meter bridging the starter relay makes the starter turn through it: "
            "measure key-off current in the battery's negative lead"
        )
    return None


def _not_a_wire(asked: Asked) -> str | None:
    if asked.function not in CURRENT or asked.pair in map(frozenset, wires(asked.layout)):
        return None
    if asked.function is Function.CLAMP_A:
        return (
            f"no single wire joins {_names(asked)}: put the clamp round one wire and name its ends"
        )
    return (
        f"a meter on amperes is a short circuit: from {_names(asked)} it would carry all the "
        "source gives; open one wire and put the meter in its place"
    )


def _names(asked: Asked) -> str:
    return " to ".join(POINT_TITLES[p] for p in (asked.plus, asked.minus) if p is not None)


RULES: tuple[Callable[[Asked], str | None], ...] = (
    _points,
    _speed,
    _full_field,
    _engine_and_load,
    _battery_off,
    _live_resistance,
    _resistance_across_battery,
    _series_current,
    _not_a_wire,
)
