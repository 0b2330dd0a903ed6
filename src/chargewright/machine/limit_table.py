"""Builds a machine's limits from ``data/limits.toml``, its spec sheet and its battery."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from chargewright.errors import nearest
from chargewright.machine.fields import Table, data_path, read_toml
from chargewright.machine.layout import Chemistry, Layout, Regulator
from chargewright.machine.limit import ALT, REG, Limit, When
from chargewright.machine.model import Machine
from chargewright.machine.points import POINT_BY_WORD, Engine, Function, Load, Point, Warmth
from chargewright.machine.sources import source_of
from chargewright.machine.spec import SpecSheet

# Car service manuals of two makes, 1998-2009: volts at half the CCA after 15 s. From 21 C up
# the line stays level. A third make prints 8.0 V at -18 C.
LOAD_LINE_C = (-18.0, -12.0, -7.0, -1.0, 4.0, 10.0, 16.0, 21.0)
LOAD_LINE_V = (8.5, 8.7, 8.9, 9.1, 9.3, 9.4, 9.5, 9.6)

# Three quarters charged at rest: flooded 12.4 V (table 12.45 V), power-sport AGM table 12.6 V;
# gel as AGM (assumed); LiFePO4 13.0 V (assumed: below it the pack is under about half).
RESTED_V = {
    Chemistry.FLOODED: 12.4,
    Chemistry.AGM: 12.6,
    Chemistry.GEL: 12.6,
    Chemistry.LIFEPO4: 13.0,
}
# After a full charge and rest: car service manuals of 1998-2009 want 12.5 V (flooded), makers'
# AGM tables 12.7-12.8 V, gel column 12.8 V less 0.1, LiFePO4 charts 13.3 V.
CHARGED_V = {
    Chemistry.FLOODED: 12.5,
    Chemistry.AGM: 12.7,
    Chemistry.GEL: 12.7,
    Chemistry.LIFEPO4: 13.3,
}
DRAIN_LIMIT_A = 0.003  # assumed: manuals print 0.5 to 1.5 mA for street machines
SPEED_SHARE = 0.8  # a lowest charging voltage is asked from 80 % of the manual's speed (assumed)

Ends = tuple[float | None, float | None]


def load_line_v(temp_c: float) -> float:
    """Return the pass line of a load test [V] at the battery's temperature [C].

    >>> load_line_v(10.0), round(load_line_v(-4.0), 3)
    (9.4, 9.0)
    """
    return float(np.interp(temp_c, LOAD_LINE_C, LOAD_LINE_V))


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A figure for a limit: its ends, the speed it needs, and who says so."""

    ends: Ends
    source: str
    rpm_low: float | None = None
    per_krpm: bool = False


def _regulated_low(sheet: SpecSheet) -> Told | None:
    if sheet.regulated_v is None or sheet.regulated_v.low is None:
        return None
    rpm_low = None if sheet.regulated_rpm is None else SPEED_SHARE * sheet.regulated_rpm
    return Told(ends=(sheet.regulated_v.low, None), source=sheet.source, rpm_low=rpm_low)


def _regulated_high(sheet: SpecSheet) -> Told | None:
    if sheet.regulated_v is None or sheet.regulated_v.high is None:
        return None
    return Told(ends=(None, sheet.regulated_v.high), source=sheet.source)


def _ac(sheet: SpecSheet) -> Told | None:
    if sheet.ac_v is None or sheet.ac_rpm is None:
        return None
    per_krpm = sheet.ac_v.divided(sheet.ac_rpm / 1000.0)
    return Told(ends=(per_krpm.low, per_krpm.high), source=sheet.source, per_krpm=True)


def _ohm(sheet: SpecSheet) -> Told | None:
    if sheet.stator_ohm is None:
        return None
    return Told(ends=(sheet.stator_ohm.low, sheet.stator_ohm.high), source=sheet.source)


def _charge(sheet: SpecSheet) -> Told | None:
    if sheet.charge_a is None:
        return None
    ends = (sheet.charge_a.low, sheet.charge_a.high)
    return Told(ends=ends, source=sheet.source, rpm_low=sheet.charge_rpm)


def _light_low(sheet: SpecSheet) -> Told | None:
    if sheet.light_ac_v is None or sheet.light_ac_v.low is None or sheet.light_rpm is None:
        return None
    ends = (sheet.light_ac_v.low, None)
    return Told(ends=ends, source=sheet.source, rpm_low=SPEED_SHARE * sheet.light_rpm)


def _light_high(sheet: SpecSheet) -> Told | None:
    if sheet.light_ac_v is None or sheet.light_ac_v.high is None:
        return None
    return Told(ends=(None, sheet.light_ac_v.high), source=sheet.source)


def _light_ohm(sheet: SpecSheet) -> Told | None:
    if sheet.light_ohm is None:
        return None
    return Told(ends=(sheet.light_ohm.low, sheet.light_ohm.high), source=sheet.source)


def _field_ohm(sheet: SpecSheet) -> Told | None:
    if sheet.field_ohm is None:
        return None
    return Told(ends=(sheet.field_ohm.low, sheet.field_ohm.high), source=sheet.source)


def _drain(sheet: SpecSheet) -> Told | None:
    if sheet.drain_limit_ma is None:
        return None
    return Told(ends=(None, sheet.drain_limit_ma / 1000.0), source=sheet.source)


FROM_SPEC: dict[str, Callable[[SpecSheet], Told | None]] = {
    "regulated_low_v": _regulated_low,
    "regulated_high_v": _regulated_high,
    "ac_v": _ac,
    "stator_ohm": _ohm,
    "charge_a": _charge,
    "drain_a": _drain,
    "light_low_v": _light_low,
    "light_high_v": _light_high,
    "light_ohm": _light_ohm,
    "field_ohm": _field_ohm,
}


def _from_battery(word: str, machine: Machine) -> Ends:
    if word == "load_line_v":
        return load_line_v(machine.typical()["ambient_c"]), None
    table = RESTED_V if word == "rested_v" else CHARGED_V
    # Not knowing the chemistry, only what would be low for every one of them counts as low.
    return min(table[chemistry] for chemistry in machine.chemistries), None


FROM_BATTERY = ("load_line_v", "rested_v", "charged_v")
_FIELDS = (
    *("id", "title", "function", "plus", "minus", "unit", "source", "low", "high", "from"),
    *("one_way", "same_leg", "engine", "plug_in", "key_on", "charged", "warmth", "load"),
    *("rest_h_low", "full_field", "winding", "field", "passive"),
)


def build_limits(
    machine: Machine, sheets: Sequence[SpecSheet], *, path: Path | None = None
) -> tuple[Limit, ...]:
    """Return the limits of ``machine``; of ``sheets`` the first that has a figure counts.

    ``path`` is a limits file of one's own. Raises ``InputError`` naming file and field.
    """
    rows = _rows(path or data_path("limits.toml"))
    found = (_limit(row, machine, sheets) for row in rows)
    return tuple(limit for limit in found if limit is not None)


@cache
def _rows(path: Path) -> tuple[Table, ...]:
    top = read_toml(path)
    top.only(("limit",))
    rows = top.tables("limit")
    for row in rows:
        row.only(_FIELDS)
    return rows


def _limit(row: Table, machine: Machine, sheets: Sequence[SpecSheet]) -> Limit | None:
    if not _suits(row, machine.layout):
        return None
    plus, minus = _points(row, "plus", machine), _points(row, "minus", machine)
    told = _told(row, machine, sheets)
    if told is None or not plus or not minus:
        return None
    return Limit(
        id=row.text("id"),
        title=row.text("title"),
        function=row.word("function", Function),
        plus=plus,
        minus=minus,
        when=_when(row, told.rpm_low),
        unit=row.text("unit"),
        source=told.source,
        low=told.ends[0],
        high=told.ends[1],
        per_krpm=told.per_krpm,
        one_way=row.has("one_way") and row.flag("one_way"),
        same_leg=row.has("same_leg") and row.flag("same_leg"),
    )


def _told(row: Table, machine: Machine, sheets: Sequence[SpecSheet]) -> Told | None:
    if not row.has("from"):
        low = row.number("low") if row.has("low") else None
        high = row.number("high") if row.has("high") else None
        if low is None and high is None:
            raise row.fail("high", "low, high or from")
        return Told(ends=(low, high), source=source_of(row.text("source"), row.where).key)
    word = row.text("from")
    if word in FROM_BATTERY:
        source = source_of(row.text("source"), row.where).key
        return Told(ends=_from_battery(word, machine), source=source)
    if word not in FROM_SPEC:
        raise row.fail("from", nearest(word, (*FROM_SPEC, *FROM_BATTERY)))
    if word.startswith("regulated") and machine.layout.regulator is Regulator.NONE:
        return None
    for sheet in sheets:
        if (told := FROM_SPEC[word](sheet)) is not None:
            return told
    if word == "drain_a":
        return Told(ends=(None, DRAIN_LIMIT_A), source="drain-assumed")
    return None


def _suits(row: Table, layout: Layout) -> bool:
    """Tell whether a limit is about this kind of circuit.

    ``winding`` lists kinds of winding, ``field`` asks for a field coil or for none, ``passive``
    for rectifier junctions that conduct without being fired.
    """
    if row.has("winding") and layout.winding.value not in row.texts("winding"):
        return False
    if row.has("field") and row.flag("field") is not layout.field:
        return False
    fired = layout.regulator is Regulator.SERIES and not layout.mosfet
    return not (row.has("passive") and row.flag("passive") and fired)


def _points(row: Table, field: str, machine: Machine) -> frozenset[Point]:
    """Return the points a word stands for, as far as the layout has them."""
    word = row.text(field)
    groups = {"alt": ALT, "reg": REG}
    if word not in groups and word not in POINT_BY_WORD:
        raise row.fail(field, nearest(word, (*groups, *POINT_BY_WORD)))
    points = groups.get(word) or frozenset({POINT_BY_WORD[word]})
    return frozenset(point for point in points if not machine.layout.lacks(point))


def _when(row: Table, rpm_low: float | None) -> When:
    def flag(field: str) -> bool | None:
        return row.flag(field) if row.has(field) else None

    return When(
        engine=row.word("engine", Engine),
        rpm_low=rpm_low,
        plug_in=flag("plug_in"),
        key_on=flag("key_on"),
        charged=flag("charged"),
        warmth=row.word("warmth", Warmth) if row.has("warmth") else None,
        load=row.word("load", Load) if row.has("load") else Load.NONE,
        rest_h_low=row.number_or("rest_h_low", 0.0, "h", low=0.0),
        full_field=row.has("full_field") and row.flag("full_field"),
    )
