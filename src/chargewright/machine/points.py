"""Where a probe can be put, and how a machine stands while it is measured.

A check is two of these points, a meter function and a state; nothing in the program
knows a check by its name alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum


class Point(IntEnum):
    """A test point. The value is the point's column in every array of node voltages."""

    BATTERY_NEG = 0  # the post itself, not its clamp
    BATTERY_POS = 1
    FUSE_OUT = 2  # behind the main fuse: where the harness and its loads begin
    REG_OUT = 3  # the regulator's output terminal
    REG_BODY = 4  # the regulator's body, or its ground wire at the regulator
    FRAME = 5  # bare metal of frame or engine
    ALT_A = 6  # alternator side of the plug; single-phase machines use A and B
    ALT_B = 7
    ALT_C = 8
    REG_A = 9  # regulator side of the same plug
    REG_B = 10
    REG_C = 11
    REG_SENSE = 12  # the regulator's sense lead, where it has one
    STARTER_POS = 13  # the starter motor's terminal
    LIGHT_COIL = 14  # lighting coil's lead, alternator side of the plug; its other end is frame
    LIGHT_REG = 15  # the same lead behind the plug, where the AC regulator holds it down
    LAMP = 16  # the headlamp's terminal
    REG_FIELD = 17  # where the regulator feeds the field coil, its side of the plug
    FIELD_POS = 18  # the fed end of the field coil, alternator side of the plug
    FIELD_NEG = 19  # its other end; the plug joins it to frame
    REG_SUPPLY = 20  # where a field regulator takes what it feeds the field with

    @property
    def word(self) -> str:
        """The name used in cards and data files, as ``battery_pos``."""
        return self.name.lower()


POINT_BY_WORD = {point.word: point for point in Point}

POINT_TITLES = {
    Point.BATTERY_NEG: "battery negative post",
    Point.BATTERY_POS: "battery positive post",
    Point.FUSE_OUT: "behind the main fuse",
    Point.REG_OUT: "regulator output",
    Point.REG_BODY: "regulator body",
    Point.FRAME: "frame",
    Point.ALT_A: "alternator lead A, alternator side of the plug",
    Point.ALT_B: "alternator lead B, alternator side of the plug",
    Point.ALT_C: "alternator lead C, alternator side of the plug",
    Point.REG_A: "lead A, regulator side of the plug",
    Point.REG_B: "lead B, regulator side of the plug",
    Point.REG_C: "lead C, regulator side of the plug",
    Point.REG_SENSE: "sense lead at the regulator",
    Point.STARTER_POS: "starter motor terminal",
    Point.LIGHT_COIL: "lighting lead, alternator side of the plug",
    Point.LIGHT_REG: "lighting lead, regulator side of the plug",
    Point.LAMP: "headlamp terminal",
    Point.REG_FIELD: "field lead, regulator side of the plug",
    Point.FIELD_POS: "field lead, alternator side of the plug",
    Point.FIELD_NEG: "field ground lead, alternator side of the plug",
    Point.REG_SUPPLY: "regulator's supply terminal",
}


class Function(StrEnum):
    """What the meter's dial is set to."""

    DC_V = "dc_v"
    AC_V = "ac_v"
    OHM = "ohm"
    DIODE = "diode"
    DC_A = "dc_a"  # meter in series: the wire between the two points is opened
    CLAMP_A = "clamp_a"  # DC clamp round the wire that joins the two points
    LOOK = "look"  # no meter: eyes and fingers

    @property
    def unit(self) -> str:
        """Unit of what the display shows; empty for a look."""
        if self in (Function.DC_V, Function.AC_V, Function.DIODE):
            return "V"
        if self is Function.OHM:
            return "ohm"
        return "" if self is Function.LOOK else "A"


class Engine(StrEnum):
    """What the engine is doing."""

    OFF = "off"
    CRANKING = "cranking"
    RUNNING = "running"


class Warmth(StrEnum):
    """How warm alternator and regulator are."""

    COLD = "cold"  # at ambient
    HOT = "hot"  # after 15 minutes of riding or running
    UNKNOWN = "unknown"  # nobody noted it: anything between the two


class Load(StrEnum):
    """A deliberate load on the battery with the engine off."""

    NONE = "none"
    LOAD_TESTER = "load_tester"  # half the rated cold-cranking current for 15 s
    HEADLAMP = "headlamp"  # key on, lights on, for about a minute


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """The machine as it stands while one reading is taken.

    ``rpm`` is the nominal crankshaft speed while running; ``rpm_max`` makes it a range
    ("at any throttle"). ``rpm_rel_u`` is the relative standard uncertainty with which
    that speed is known (about 0.03 with a tachometer, 0.10 by ear).
    """

    engine: Engine = Engine.OFF
    rpm: float | None = None
    rpm_max: float | None = None
    rpm_rel_u: float = 0.05
    key_on: bool = False
    lights_on: bool = False
    plug_in: bool = True  # the plug between alternator and regulator
    battery_in: bool = True  # both battery leads on
    warmth: Warmth = Warmth.COLD
    load: Load = Load.NONE
    battery_charged: bool = False  # charged on a bench charger and rested before the reading
    rest_h: float = 1.0  # hours since the battery was last charged or loaded
    full_field: bool = False  # field fed by a jumper from the battery, past the regulator
