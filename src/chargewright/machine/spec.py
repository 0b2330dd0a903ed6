"""The figures a service manual prints for one type of machine.

Any subset may be given. Resistances and volts are those between two alternator leads, as
manuals print them; ``conditioning.py`` turns them into windings.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from chargewright.errors import InputError
from chargewright.machine.fields import Table, read_toml
from chargewright.machine.layout import ChargeTo, Lighting, Regulator, Sense, Winding

SPEC_SHEET = "spec-sheet"  # key in sources.toml of what the user typed in


@dataclass(frozen=True, slots=True)
class Range:
    """Allowed values from ``low`` to ``high``; ``None`` leaves that side open."""

    low: float | None = None
    high: float | None = None

    @property
    def both(self) -> tuple[float, float] | None:
        """Both ends, or ``None`` when one side is open."""
        return None if self.low is None or self.high is None else (self.low, self.high)

    def divided(self, divisor: float) -> Range:
        """Return the range with both ends divided."""
        low = None if self.low is None else self.low / divisor
        return Range(low, None if self.high is None else self.high / divisor)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecSheet:
    """What a service manual says; ``None`` where it says nothing.

    ``stator_ohm`` [ohm] between two leads at ``stator_ohm_at_c`` [C]; ``ac_v`` [V rms] between
    two unplugged leads at ``ac_rpm``; ``regulated_v`` [V] at the battery at ``regulated_rpm``;
    ``rated_a`` [A] at ``rated_rpm`` (watts are divided by 14 V when read); ``charge_a`` [A]
    into a charged battery at ``charge_rpm``; ``drain_limit_ma`` [mA] key off; ``field_ohm`` [ohm]
    of a field coil at 20 C; ``light_ohm`` [ohm] of a lighting coil at 20 C; ``light_ac_v`` [V AC]
    at the headlamp, alight, at ``light_rpm``.
    """

    stator_ohm: Range | None = None
    stator_ohm_at_c: float = 20.0
    ac_v: Range | None = None
    ac_rpm: float | None = None
    regulated_v: Range | None = None
    regulated_rpm: float | None = None
    rated_a: float | None = None
    rated_rpm: float | None = None
    charge_a: Range | None = None
    charge_rpm: float | None = None
    drain_limit_ma: float | None = None
    idle_rpm: float | None = None
    poles: int | None = None
    winding: Winding | None = None
    regulator: Regulator | None = None
    mosfet: bool | None = None
    sense: Sense | None = None
    charge_to: ChargeTo | None = None
    lighting: Lighting | None = None
    field_ohm: Range | None = None
    light_ohm: Range | None = None
    light_ac_v: Range | None = None
    light_rpm: float | None = None
    lights_always_on: bool | None = None
    source: str = SPEC_SHEET

    @classmethod
    def from_dict(cls, data: Mapping[str, object], where: str = "spec sheet") -> SpecSheet:
        """Return the spec sheet of a job card.

        Raises
        ------
        InputError
            Names field, value and what was expected with its unit.
        """
        return read_spec(Table(data, where))

    @classmethod
    def from_toml(cls, path: Path) -> SpecSheet:
        """Return the spec sheet of a TOML file; raises as ``from_dict``."""
        return read_spec(read_toml(path))


WATT_VOLT = 14.0  # rated watts are taken at 14 V (common practice, no source)
FIELDS = (
    *("stator_ohm", "stator_ohm_at_c", "ac_v", "ac_rpm", "regulated_v", "regulated_rpm"),
    *("rated_a", "rated_w", "rated_rpm", "charge_a", "charge_rpm", "drain_limit_ma", "idle_rpm"),
    *("poles", "winding", "regulator", "mosfet", "sense", "charge_to", "lights_always_on"),
    *("lighting", "field_ohm", "light_ohm", "light_ac_v", "light_rpm"),
)


def read_spec(table: Table, source: str = SPEC_SHEET) -> SpecSheet:
    """Return the spec sheet in a table; a range without its speed is refused."""
    table.only(FIELDS)
    speeds = (("ac_v", "ac_rpm"), ("charge_a", "charge_rpm"), ("light_ac_v", "light_rpm"))
    for figure, speed in speeds:
        if table.has(figure) and not table.has(speed):
            raise table.fail(speed, f"the speed in rpm at which {figure} holds")
    if table.has("rated_a") and table.has("rated_w"):
        raise InputError(f"{table.where}: give rated_a or rated_w, not both")
    if (table.has("rated_a") or table.has("rated_w")) and not table.has("rated_rpm"):
        raise table.fail("rated_rpm", "the speed in rpm at which the rated output holds")
    return SpecSheet(
        stator_ohm=_range(table, "stator_ohm", "ohm", 1e-3, 100.0),
        stator_ohm_at_c=table.number_or("stator_ohm_at_c", 20.0, "C", low=-30.0, high=150.0),
        ac_v=_range(table, "ac_v", "V", 0.5, 400.0),
        ac_rpm=_rpm(table, "ac_rpm"),
        regulated_v=_range(table, "regulated_v", "V", 10.0, 20.0),
        regulated_rpm=_rpm(table, "regulated_rpm"),
        rated_a=_rated_a(table),
        rated_rpm=_rpm(table, "rated_rpm"),
        charge_a=_range(table, "charge_a", "A", 0.01, 100.0),
        charge_rpm=_rpm(table, "charge_rpm"),
        drain_limit_ma=_optional(table, "drain_limit_ma", "mA", 0.01, 1000.0),
        idle_rpm=_rpm(table, "idle_rpm"),
        poles=_poles(table),
        winding=table.word("winding", Winding) if table.has("winding") else None,
        regulator=table.word("regulator", Regulator) if table.has("regulator") else None,
        mosfet=table.flag("mosfet") if table.has("mosfet") else None,
        sense=table.word("sense", Sense) if table.has("sense") else None,
        charge_to=table.word("charge_to", ChargeTo) if table.has("charge_to") else None,
        lighting=table.word("lighting", Lighting) if table.has("lighting") else None,
        field_ohm=_range(table, "field_ohm", "ohm", 0.1, 100.0),
        light_ohm=_range(table, "light_ohm", "ohm", 1e-3, 100.0),
        light_ac_v=_range(table, "light_ac_v", "V", 5.0, 40.0),
        light_rpm=_rpm(table, "light_rpm"),
        lights_always_on=table.flag("lights_always_on") if table.has("lights_always_on") else None,
        source=source,
    )


def _optional(table: Table, field: str, unit: str, low: float, high: float) -> float | None:
    return table.number(field, unit, low=low, high=high) if table.has(field) else None


def _rpm(table: Table, field: str) -> float | None:
    return _optional(table, field, "rpm", 100.0, 20000.0)


def _rated_a(table: Table) -> float | None:
    if table.has("rated_w"):
        return table.number("rated_w", "W", low=5.0, high=3000.0) / WATT_VOLT
    return _optional(table, "rated_a", "A", 0.5, 200.0)


def _poles(table: Table) -> int | None:
    if not table.has("poles"):
        return None
    poles = table.number("poles", low=2, high=48)
    if poles % 2:
        raise table.fail("poles", "an even number of poles (twice the pole pairs)")
    return int(poles)


def _range(table: Table, field: str, unit: str, low: float, high: float) -> Range | None:
    """Return a range given as [low, high] or as a table.

    The table holds ``min`` and/or ``max``, or ``nominal`` with ``plus_minus`` (same unit) or
    ``plus_minus_percent``.
    """
    if not table.has(field):
        return None
    if isinstance(table.values[field], list):
        ends = table.numbers(field)
        if len(ends) != 2:
            raise table.fail(field, f"[lowest, highest] in {unit}")
        found = Range(*ends)
    else:
        found = _range_table(table.table(field), unit)
    for end in (found.low, found.high):
        if end is not None and not low <= end <= high:
            raise table.fail(field, f"ends from {low:g} to {high:g} {unit}")
    if found.both is not None and not found.both[0] < found.both[1]:
        raise table.fail(field, f"lowest below highest, in {unit}")
    return found


def _range_table(inner: Table, unit: str) -> Range:
    inner.only(("min", "max", "nominal", "plus_minus", "plus_minus_percent"))
    if inner.has("nominal"):
        if inner.has("min") or inner.has("max"):
            raise inner.fail("nominal", "either min and max or nominal with its tolerance")
        nominal = inner.number("nominal", unit)
        if inner.has("plus_minus") == inner.has("plus_minus_percent"):
            raise inner.fail("plus_minus", f"plus_minus in {unit} or plus_minus_percent, just one")
        if inner.has("plus_minus"):
            tolerance = inner.number("plus_minus", unit, low=0.0)
        else:
            tolerance = nominal * inner.number("plus_minus_percent", "%", low=0.0, high=99.0) / 100
        return Range(nominal - tolerance, nominal + tolerance)
    if not inner.has("min") and not inner.has("max"):
        raise inner.fail("min", f"min and/or max in {unit}, or nominal with its tolerance")
    return Range(
        inner.number("min", unit) if inner.has("min") else None,
        inner.number("max", unit) if inner.has("max") else None,
    )
