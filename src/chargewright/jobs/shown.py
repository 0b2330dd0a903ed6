"""What the meter showed, as the technician gave it: a figure, a bound, a range or a sign.

Values are in volts, ohms or amperes; other multiples are converted once, where text
is read (``reading_text.py``).
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, model_validator

from chargewright.jobs.parts import Line, Part, Positive
from chargewright.machine.points import Function
from chargewright.meters import shown as meters


class Qualifier(StrEnum):
    """How the figure is meant."""

    EXACT = "exact"  # as displayed
    ABOUT = "about"  # remembered, or read from a moving display
    AT_LEAST = "at_least"
    AT_MOST = "at_most"
    BETWEEN = "between"  # wandered between two figures
    OVERLOAD = "overload"  # OL: beyond the meter's range, or open
    CONTINUITY = "continuity"  # the meter beeped; no figure was noted
    NONE = "none"  # nothing usable was shown


class Unit(StrEnum):
    """Unit of the value."""

    V = "V"
    OHM = "ohm"
    A = "A"


UNIT_OF = {function: Unit(function.unit) for function in Function if function.unit}

# Least and greatest value anybody can have read, per function. Assumed, and wide: 12 V machines,
# open-circuit alternators up to 400 V, cranking up to 1000 A, ohmmeters up to 100 megohm. A little
# below zero is possible on ohms once the leads are nulled.
LIMITS: dict[Function, tuple[float, float]] = {
    Function.DC_V: (-100.0, 100.0),
    Function.AC_V: (0.0, 400.0),
    Function.OHM: (-1.0, 1e8),
    Function.DIODE: (0.0, 10.0),
    Function.DC_A: (-100.0, 100.0),
    Function.CLAMP_A: (-1000.0, 1000.0),
}

# How the room of meters calls the same; NONE has no counterpart, for it says nothing.
METER_KINDS: dict[Qualifier, meters.Kind] = {
    Qualifier.EXACT: "value",
    Qualifier.ABOUT: "about",
    Qualifier.AT_LEAST: "at_least",
    Qualifier.AT_MOST: "at_most",
    Qualifier.BETWEEN: "between",
    Qualifier.OVERLOAD: "overload",
    Qualifier.CONTINUITY: "continuity",
}

ONE_FIGURE = frozenset({Qualifier.EXACT, Qualifier.ABOUT, Qualifier.AT_LEAST, Qualifier.AT_MOST})


class Shown(Part):
    """What stood on the display. ``lsd`` is the place of the last digit typed, in ``unit``.

    Example: 461 mV is ``Shown(value=0.461, unit="V", lsd=0.001, text="461 mV")``.
    """

    value: Annotated[
        float | None, Field(description="The figure, or the lower one of a range, in `unit`.")
    ] = None
    value_max: Annotated[
        float | None, Field(description="The upper figure when qualifier is between.")
    ] = None
    qualifier: Qualifier = Qualifier.EXACT
    unit: Unit
    lsd: Annotated[
        Positive | None, Field(description="Place of the last digit typed, in `unit`.")
    ] = None
    text: Annotated[Line, Field(description="The reading as it was typed.")] = ""

    @model_validator(mode="after")
    def _figures_fit_qualifier(self) -> Self:
        word = self.qualifier
        if word in ONE_FIGURE or word is Qualifier.BETWEEN:
            if self.value is None:
                raise ValueError(f"qualifier '{word}' needs a value")
        elif self.value is not None:
            raise ValueError(f"qualifier '{word}' has no figure, but value is {self.value:g}")
        if (self.value_max is not None) != (word is Qualifier.BETWEEN):
            raise ValueError(
                f"value_max is {self.value_max} with qualifier '{word}'; "
                "it belongs to 'between', and only there"
            )
        if self.value is not None and self.value_max is not None and self.value > self.value_max:
            raise ValueError(f"value {self.value:g} is above value_max {self.value_max:g}")
        return self

    def for_meter(self) -> meters.Shown | None:
        """Return the reading as the room of meters judges it, or None when nothing was shown."""
        kind = METER_KINDS.get(self.qualifier)
        if kind is None:
            return None
        return meters.Shown(
            kind=kind, value=self.value or 0.0, value_max=self.value_max, lsd=self.lsd or 0.0
        )


def out_of_limits(value: float, function: Function) -> str | None:
    """Return one line saying why ``value`` [V, ohm or A] cannot be a reading, or None."""
    low, high = LIMITS[function]
    if low <= value <= high:
        return None
    unit = UNIT_OF[function]
    hint = (
        "is the unit missing, as mV?"
        if function is Function.DIODE
        else (
            "is the decimal point missing?" if value > high else "are the probes or the sign right?"
        )
    )
    return f"{value:g} {unit} on {function} is outside {low:g} to {high:g} {unit}; {hint}"
