"""Generic classes of machine, one TOML file each, on top of ``data/classes/common.toml``."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from chargewright.errors import InputError, nearest
from chargewright.machine.fields import Table, data_path, read_toml
from chargewright.machine.layout import (
    ChargeTo,
    Layout,
    Lighting,
    Regulator,
    Sense,
    Winding,
)
from chargewright.machine.parameters import NAMES
from chargewright.machine.scatter import Kind, Scatter, leg_families, read_scatter
from chargewright.machine.sources import source_of
from chargewright.machine.spec import SpecSheet, read_spec
from chargewright.machine.speeds import Speeds
from chargewright.machine.winding import Stator

COMMON = "common"
WINDING_FAMILIES = ("emf_v_per_krpm", "winding_ohm", "winding_h")


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineClass:
    """One class as its file tells it, before a spec sheet narrows it.

    ``scatter`` has every column but the windings', which follow from ``stator`` and layout;
    ``spec`` are the class's usual limits.
    """

    id: str
    title: str
    layout: Layout
    speeds: Speeds
    stator: Stator
    scatter: dict[str, Scatter]
    spec: SpecSheet
    lights_always_on: bool


def class_ids() -> tuple[str, ...]:
    """Return the ids of the classes that come with the program, sorted."""
    names = (path.stem for path in data_path("classes").glob("*.toml"))
    return tuple(sorted(name for name in names if name != COMMON))


@cache
def read_class(class_id: str) -> MachineClass:
    """Return a class by its id; ``InputError`` names the nearest ids when it is unknown."""
    if class_id not in class_ids():
        hint = nearest(class_id, class_ids())
        raise InputError(f"machine class {class_id!r} does not exist; {hint}")
    return class_from_file(data_path("classes", f"{class_id}.toml"))


def class_from_file(path: Path) -> MachineClass:
    """Return the class in a file of one's own.

    Raises
    ------
    InputError
        Names file, field, value and what was expected.
    """
    top = read_toml(path)
    top.only(
        ("id", "title", "lights_always_on", "layout", "speeds", "alternator", "spec", "scatter")
    )
    class_id = top.text("id")
    if class_id != path.stem:
        raise top.fail("id", f"{path.stem!r}, the name of the file")
    scatter = dict(_common())
    scatter.update(_columns(top.table("scatter")))
    return MachineClass(
        id=class_id,
        title=top.text("title"),
        layout=_layout(top.table("layout")),
        speeds=_speeds(top.table("speeds")),
        stator=_stator(top.table("alternator")),
        scatter=scatter,
        spec=_spec(top.table("spec")),
        lights_always_on=top.flag("lights_always_on"),
    )


@cache
def _common() -> dict[str, Scatter]:
    """Return the scatter all classes share; it has every column but the windings'."""
    top = read_toml(data_path("classes", f"{COMMON}.toml"))
    top.only(("scatter",))
    found = _columns(top.table("scatter"))
    windings = {f"{family}_{leg}" for family in WINDING_FAMILIES for leg in "abc"}
    missing = sorted(set(NAMES) - windings - set(found))
    if missing:
        raise InputError(f"{top.where}, [scatter]: no entry for {', '.join(missing)}")
    return found


def _columns(table: Table) -> dict[str, Scatter]:
    """Return scatter by column; an entry of a leg family counts for its three columns."""
    families = {k: v for k, v in leg_families().items() if k not in WINDING_FAMILIES}
    in_family = {name for group in leg_families().values() for name in group}
    table.only((*families, *(name for name in NAMES if name not in in_family)))
    found: dict[str, Scatter] = {}
    for field in table.values:
        scatter = read_scatter(table.table(field))
        if scatter.each and field not in families:
            raise table.table(field).fail("each", "no such field: this part is not one of three")
        found.update(dict.fromkeys(families.get(field, (field,)), scatter))
    return found


def _layout(table: Table) -> Layout:
    table.only(("winding", "regulator", "mosfet", "sense", "charge_to", "lighting"))
    return Layout(
        winding=table.word("winding", Winding),
        regulator=table.word("regulator", Regulator),
        mosfet=table.flag("mosfet"),
        sense=table.word("sense", Sense),
        charge_to=table.word("charge_to", ChargeTo),
        lighting=table.word("lighting", Lighting) if table.has("lighting") else Lighting.BATTERY,
    )


def _speeds(table: Table) -> Speeds:
    table.only(("idle_rpm", "mid_rpm", "high_rpm", "idle_rel_sd"))
    return Speeds(
        table.number("idle_rpm", "rpm", low=200, high=5000),
        table.number("mid_rpm", "rpm", low=500, high=12000),
        table.number("high_rpm", "rpm", low=500, high=15000),
        table.number("idle_rel_sd", low=0.0, high=0.5),
    )


def _stator(table: Table) -> Stator:
    fields = ("pair_v_per_krpm", "pair_ohm", "output_a")
    table.only(fields)
    parts = {field: read_scatter(table.table(field)) for field in fields}
    for field, part in parts.items():
        if part.kind is not Kind.LOGNORMAL:
            raise table.table(field).fail("dist", "'lognormal'")
    return Stator(**parts)


def _spec(table: Table) -> SpecSheet:
    source = source_of(table.text("source"), table.where).key
    rest = {field: value for field, value in table.values.items() if field != "source"}
    return replace(read_spec(Table(rest, table.where)), source=source)
