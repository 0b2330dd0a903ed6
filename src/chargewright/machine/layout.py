"""What kind of circuit a machine has: the facts that are the same for every unit of a type.

Numbers that vary from unit to unit are parameters (``parameters.py``), not layout.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Winding(StrEnum):
    """How the alternator's coils are joined."""

    STAR = "star"
    DELTA = "delta"
    SINGLE = "single"  # one coil, both ends brought out: leads A and B


class Regulator(StrEnum):
    """How charging is limited."""

    SHUNT = "shunt"  # shorts the phases to its body
    SERIES = "series"  # opens the path to its output
    NONE = "none"  # rectifier only


class Sense(StrEnum):
    """Where the regulator looks at the voltage it holds."""

    OUTPUT = "output"
    LEAD = "lead"  # a lead of its own from behind the main fuse


class ChargeTo(StrEnum):
    """Where the regulator's output lead ends."""

    HARNESS = "harness"  # behind the main fuse, which the charging current then crosses
    BATTERY = "battery"  # at the battery's positive clamp


class Chemistry(StrEnum):
    """Battery chemistry."""

    FLOODED = "flooded"
    AGM = "agm"
    GEL = "gel"
    LIFEPO4 = "lifepo4"


CHEMISTRIES = tuple(Chemistry)  # index = value of the ``chemistry`` parameter


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The circuit type of a machine. Example: ``Layout(winding=Winding.STAR)``."""

    winding: Winding = Winding.STAR
    regulator: Regulator = Regulator.SHUNT
    mosfet: bool = False  # regulator devices are MOSFETs (they conduct backwards) or thyristors
    sense: Sense = Sense.OUTPUT
    charge_to: ChargeTo = ChargeTo.HARNESS

    @property
    def phases(self) -> int:
        """Number of alternator leads carrying current: 3, or 2 for a single coil."""
        return 2 if self.winding is Winding.SINGLE else 3
