"""Reads ``data/causes.toml`` or a workshop's own file of causes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from chargewright.errors import InputError, nearest
from chargewright.machine.causes import (
    SEVERITIES,
    Catalogue,
    Cause,
    Change,
    Component,
    Needs,
    Op,
    Pair,
    Placement,
    Repair,
    Scale,
    Show,
    Spread,
)
from chargewright.machine.fields import Table, data_path, read_toml
from chargewright.machine.layout import Chemistry, Layout, Lighting, Regulator, Sense, Winding
from chargewright.machine.parameters import INDEX

_NEEDS = {
    "winding": Winding,
    "regulator": Regulator,
    "sense": Sense,
    "chemistry": Chemistry,
    "lighting": Lighting,
}


@cache
def catalogue(path: Path | None = None) -> Catalogue:
    """Return the catalogue of causes, the program's own or that of ``path``.

    Raises
    ------
    InputError
        Names file, cause, field, value and what was expected.
    """
    top = read_toml(path or data_path("causes.toml"))
    top.only(("repair", "cause", "pair"))
    repairs = {repair.id: repair for repair in map(_repair, top.tables("repair"))}
    tables = top.tables("cause")
    causes = tuple(_cause(table, repairs) for table in tables)
    _no_repeats(top, [cause.id for cause in causes])
    pairs = tuple(_pair(table, [c.id for c in causes]) for table in top.tables("pair"))
    _no_repeats(top, [" and ".join(sorted((p.first, s))) for p in pairs for s in p.second])
    return Catalogue(causes=causes, pairs=pairs)


def _no_repeats(top: Table, names: list[str]) -> None:
    for name in names:
        if names.count(name) > 1:
            raise InputError(f"{top.where}: {name!r} is given twice; expected once")


def _repair(table: Table) -> Repair:
    table.only(("id", "title", "parts_cost", "minutes"))
    return Repair(
        id=table.text("id"),
        title=table.text("title"),
        parts_cost=table.number("parts_cost", low=0.0),
        minutes=table.number("minutes", "min", low=0.0),
    )


def _cause(table: Table, repairs: Mapping[str, Repair]) -> Cause:
    table.only(
        (
            *("id", "title", "component", "repair", "share", "share_note", "placement"),
            *("needs", "soc", "words", "show", "change"),
        )
    )
    repair = table.text("repair")
    if repair not in repairs:
        raise table.fail("repair", nearest(repair, repairs))
    placement = table.word("placement", Placement)
    changes = table.tables("change") if table.has("change") else ()
    words, show = table.text("words"), _show(table)
    if ("{value}" in words) is not (show is not None):
        raise table.fail("words", "{value} in it exactly when 'show' tells its unit")
    if show is not None and not changes:
        raise table.fail("show", "a change whose value it shows")
    return Cause(
        id=table.text("id"),
        title=table.text("title"),
        component=table.word("component", Component),
        repair=repairs[repair],
        share=table.number("share", low=0.0),
        share_note=table.text("share_note"),
        placement=placement,
        changes=tuple(_change(change, placement) for change in changes),
        needs=_needs(table),
        soc=_soc(table),
        words=words,
        show=show,
    )


def _change(table: Table, placement: Placement) -> Change:
    table.only(("parameter", "op", "dist", "value", "low", "high", "severity", "scale"))
    spread = table.word("dist", Spread)
    if spread is Spread.FIXED:
        low = high = table.number("value")
    else:
        floor = 1e-12 if spread is Spread.LOGUNIFORM else -math.inf
        low, high = table.number("low", low=floor), table.number("high", low=floor)
    severity = table.number_or("severity", 0, low=0, high=SEVERITIES - 1)
    if severity != int(severity):
        raise table.fail("severity", f"a whole number from 0 to {SEVERITIES - 1}")
    change = Change(
        parameter=table.text("parameter"),
        op=table.word("op", Op),
        spread=spread,
        low=low,
        high=high,
        severity=int(severity),
        scale=table.word("scale", Scale) if table.has("scale") else Scale.PLAIN,
    )
    _check_parameter(table, change, placement)
    return change


def _check_parameter(table: Table, change: Change, placement: Placement) -> None:
    """Refuse a parameter that does not exist at one of the places."""
    for spot in placement.spots(Layout()):
        for place in spot:
            try:
                name = change.parameter.format(**place)
            except (KeyError, ValueError, IndexError):
                raise table.fail(
                    "parameter", f"only what placement {placement.value!r} fills in"
                ) from None
            if name not in INDEX:
                raise table.fail("parameter", nearest(name, INDEX))


def _needs(table: Table) -> Needs:
    needs = table.table_or_empty("needs")
    needs.only(_NEEDS)
    found: dict[str, frozenset[str]] = {}
    for field in needs.values:
        known = [member.value for member in _NEEDS[field]]
        words = needs.texts(field)
        for word in words:
            if word not in known:
                raise needs.fail(field, nearest(word, known))
        found[field] = frozenset(words)
    return Needs(**found)


def _soc(table: Table) -> tuple[float, float] | None:
    if not table.has("soc"):
        return None
    soc = table.table("soc")
    soc.only(("low", "high"))
    low = soc.number("low", low=-0.06, high=1.0)
    return low, soc.number("high", low=low, high=1.0)


def _show(table: Table) -> Show | None:
    if not table.has("show"):
        return None
    show = table.table("show")
    show.only(("unit", "factor", "offset", "reciprocal"))
    return Show(
        unit=show.text("unit"),
        factor=show.number_or("factor", 1.0),
        offset=show.number_or("offset", 0.0),
        reciprocal=show.has("reciprocal") and show.flag("reciprocal"),
    )


def _pair(table: Table, causes: list[str]) -> Pair:
    table.only(("first", "second", "share", "note"))
    first, second = table.text("first"), table.texts("second")
    for field, names in (("first", (first,)), ("second", second)):
        for name in names:
            if name not in causes:
                raise table.fail(field, nearest(name, causes))
    if first in second:
        raise table.fail("second", f"causes other than first = {first!r}")
    share = table.number("share", low=0.0)
    return Pair(first=first, second=second, share=share, note=table.text("note"))
