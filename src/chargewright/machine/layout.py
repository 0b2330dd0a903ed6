"""What kind of circuit a machine has: the facts that are the same for every unit of a type.

Numbers that vary from unit to unit are parameters (``parameters.py``), not layout.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from chargewright.errors import InputError
from chargewright.machine.points import Point


class Winding(StrEnum):
    """How the alternator's coils are joined."""

    STAR = "star"
    DELTA = "delta"
    SINGLE = "single"  # one coil, both ends brought out: leads A and B
    HALF_WAVE = "half_wave"  # one coil, one end on the frame: lead A alone, one diode


class Regulator(StrEnum):
    """How charging is limited."""

    SHUNT = "shunt"  # shorts the phases to its body
    SERIES = "series"  # opens the path to its output
    FIELD = "field"  # feeds the rotor's field coil for the share of time that is needed
    NONE = "none"  # rectifier only


class Sense(StrEnum):
    """Where the regulator looks at the voltage it holds."""

    OUTPUT = "output"
    LEAD = "lead"  # a lead of its own from behind the main fuse


class ChargeTo(StrEnum):
    """Where the regulator's output lead ends."""

    HARNESS = "harness"  # behind the main fuse, which the charging current then crosses
    BATTERY = "battery"  # at the battery's positive clamp


class Lighting(StrEnum):
    """What feeds the headlamp."""

    BATTERY = "battery"  # the harness, with all other loads
    COIL = "coil"  # a lighting coil of its own, alternating, held down by an AC regulator


class Chemistry(StrEnum):
    """Battery chemistry."""

    FLOODED = "flooded"
    AGM = "agm"
    GEL = "gel"
    LIFEPO4 = "lifepo4"


_P = Point
SECOND_LEG = frozenset({_P.ALT_B, _P.REG_B})
THIRD_LEG = frozenset({_P.ALT_C, _P.REG_C})
LIGHTING_POINTS = frozenset({_P.LIGHT_COIL, _P.LIGHT_REG, _P.LAMP})
FIELD_POINTS = frozenset({_P.REG_SUPPLY, _P.REG_FIELD, _P.FIELD_POS, _P.FIELD_NEG})

CHEMISTRIES = tuple(Chemistry)  # index = value of the ``chemistry`` parameter


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The circuit type of a machine. Example: ``Layout(winding=Winding.STAR)``."""

    winding: Winding = Winding.STAR
    regulator: Regulator = Regulator.SHUNT
    mosfet: bool = False  # regulator devices are MOSFETs (they conduct backwards) or thyristors
    sense: Sense = Sense.OUTPUT
    charge_to: ChargeTo = ChargeTo.HARNESS
    lighting: Lighting = Lighting.BATTERY

    def __post_init__(self) -> None:
        if self.winding is Winding.HALF_WAVE and self.regulator is Regulator.SHUNT:
            raise InputError(
                "winding 'half_wave' with regulator 'shunt': expected 'series' (a thyristor in"
                " place of the diode) or 'none' (a diode alone)"
            )
        if self.field and (not self.three_phase or self.lighting is Lighting.COIL):
            raise InputError(
                f"regulator 'field' with winding {self.winding.value!r}, lighting"
                f" {self.lighting.value!r}: expected 'star' or 'delta', lamps on the battery"
            )

    @property
    def phases(self) -> int:
        """Number of alternator leads: 3; 2 for a single coil; 1 where its other end is frame."""
        return {Winding.SINGLE: 2, Winding.HALF_WAVE: 1}.get(self.winding, 3)

    def lacks(self, point: Point) -> str | None:
        """Return why a machine of this layout has no such test point, or None where it has."""
        if point in THIRD_LEG and self.winding is Winding.SINGLE:
            return "its alternator has two leads, A and B"
        if point in SECOND_LEG | THIRD_LEG and self.half_wave:
            return "its charging coil has one lead, A, and its other end on the frame"
        if point is Point.REG_SENSE and self.sense is not Sense.LEAD:
            return "its regulator has no sense lead"
        if point in LIGHTING_POINTS and not self.lighting_coil:
            return "its lamps burn on the battery"
        if point in FIELD_POINTS and not self.field:
            return "its rotor has magnets, no field coil"
        return None

    @property
    def three_phase(self) -> bool:
        """Whether there are three windings."""
        return self.winding in (Winding.STAR, Winding.DELTA)

    @property
    def half_wave(self) -> bool:
        """Whether one end of the charging coil is the frame and one diode does the rest."""
        return self.winding is Winding.HALF_WAVE

    @property
    def field(self) -> bool:
        """Whether the rotor is a field coil instead of magnets."""
        return self.regulator is Regulator.FIELD

    @property
    def lighting_coil(self) -> bool:
        """Whether the headlamp burns on a coil of its own."""
        return self.lighting is Lighting.COIL
