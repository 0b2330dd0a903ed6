"""Reads the checks, cautions and openings from their data files, and a workshop's changes.

A workshop's own file has the same tables. An entry with a known id changes the fields it
gives; an entry with a new id is added and must be complete:

    [[check]]                 [[access]]             [switch]
    id = "rest_v"             id = "seat"            warm_up = 8
    minutes = 3               open_min = 4
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path

from chargewright.checks.access import AccessTree, Opening
from chargewright.checks.catalogue import Catalogue, Check, select
from chargewright.checks.cautions import MAKER_FIRST
from chargewright.checks.cost import Effort
from chargewright.checks.entry import Entry, Table, entries, merged, read_toml
from chargewright.checks.modes import SwitchMinutes
from chargewright.checks.parse import expand_legs, parse_check
from chargewright.errors import InputError, nearest
from chargewright.machine.layout import Layout
from chargewright.machine.speeds import Speeds

DATA = Path(__file__).parent / "data"
SECTIONS = frozenset({"check", "access", "switch", "kind", "caution", "class"})
OPENING_FIELDS = ("id", "title", "open_min", "close_min", "parent")
LONGEST_MIN = 1000.0  # nothing in this trade takes longer than two working days
DEFAULT_KIND = "motorcycle"


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """Everything the data files say, for one kind of machine."""

    kind: str
    checks: tuple[Check, ...]
    cautions: Mapping[str, str]
    effort: Effort

    def catalogue(
        self, layout: Layout, speeds: Speeds, *, lights_always_on: bool = False
    ) -> Catalogue:
        """Return the checks that exist on ``layout``, their speeds as numbers."""
        return select(self.checks, layout, speeds, lights_always_on=lights_always_on)


def catalogue(layout: Layout, speeds: Speeds, *, lights_always_on: bool = False) -> Catalogue:
    """Return the shipped checks that exist on a machine of this layout and these speeds."""
    return load_book().catalogue(layout, speeds, lights_always_on=lights_always_on)


def kinds() -> tuple[str, ...]:
    """Return the kinds of machine that ``data/access.toml`` knows."""
    return tuple(_table(_shipped("access.toml"), "kind", "access.toml"))


def kind_of(machine_class: str, own: Path | None = None) -> str:
    """Return the kind of machine, for its covers, that a class belongs to.

    A class that ``data/access.toml`` and the workshop's ``own`` file do not name is a
    motorcycle.

    >>> kind_of("outboard-three-phase"), kind_of("sport-600-1000")
    ('outboard', 'motorcycle')
    """
    classes = _single("class", "access.toml", read_toml(own) if own else {}, str(own or ""))
    return classes.text(machine_class) if classes.has(machine_class) else DEFAULT_KIND


def load_book(kind: str = DEFAULT_KIND, own: Path | None = None) -> Book:
    """Return the book for a kind of machine, changed by a workshop's ``own`` file if given.

    Raises ``InputError`` naming file, entry, field, value and what was expected.
    """
    return _shipped_book(kind) if own is None else _book(kind, read_toml(own), str(own))


@cache
def _shipped_book(kind: str) -> Book:
    return _book(kind, {}, "")


def _book(kind: str, changes: Table, file: str) -> Book:
    for section in changes:
        if section not in SECTIONS:
            raise InputError(f"{file}: section {section!r}; {nearest(section, SECTIONS)}")
    cautions = _cautions(changes, file)
    access = _access(kind, changes, file)
    checks = _checks(changes, file, access, cautions)
    effort = _effort(checks, access, changes, file)
    return Book(kind=kind, checks=checks, cautions=cautions, effort=effort)


@cache
def _shipped(name: str) -> Table:
    return read_toml(DATA / name)


def _table(tables: Table, name: str, file: str) -> Table:
    value = tables.get(name, {})
    if not isinstance(value, dict):
        raise InputError(f"{file}: {name}: expected one table headed [{name}]")
    return value


def _single(name: str, shipped: str, changes: Table, file: str) -> Entry:
    """Return the table ``[name]`` of a shipped file with the changes put over it."""
    table = _table(_shipped(shipped), name, shipped)
    base = Entry(kind="section", id=name, table=table, file=shipped, files={})
    return base.changed_by(_table(changes, name, file), file)


def _cautions(changes: Table, file: str) -> dict[str, str]:
    entry = _single("caution", "cautions.toml", changes, file)
    return {name: entry.text(name) for name in entry.table}


def _access(kind: str, changes: Table, file: str) -> AccessTree:
    shipped = "access.toml"
    base = entries(_shipped(shipped), "access", shipped)
    known = _single("kind", shipped, changes, file)
    if kind not in known.table:
        raise InputError(f"kind of machine {kind!r}: {nearest(kind, known.table)}")
    own = known.inside(kind)
    own.only(("multiplier", "access"))
    multiplier = own.number("multiplier", low=0.1, high=20.0, default=1.0)
    special = own.inside("access")
    for name in special.table:
        if name not in {entry.id for entry in base}:
            special.fail(name, f"no such opening, {nearest(name, [e.id for e in base])}")
    scaled = [_scaled(entry, multiplier, special) for entry in base]
    openings = tuple(map(_opening, merged(scaled, entries(changes, "access", file))))
    try:
        return AccessTree(openings)
    except InputError as error:
        raise InputError(f"{file or shipped}: {error}") from error


def _scaled(entry: Entry, multiplier: float, special: Entry) -> Entry:
    """Return the opening of one kind of machine: its own figures, else the general ones scaled."""
    figures = {
        field: entry.number(field, low=0.0, high=LONGEST_MIN) * multiplier
        for field in ("open_min", "close_min")
    }
    own = special.inside(entry.id)
    return entry.changed_by({**figures, **own.table}, own.file)


def _opening(entry: Entry) -> Opening:
    entry.only(OPENING_FIELDS)
    return Opening(
        id=entry.id,
        title=entry.text("title"),
        open_min=entry.number("open_min", low=0.0, high=LONGEST_MIN),
        close_min=entry.number("close_min", low=0.0, high=LONGEST_MIN),
        parent=entry.text("parent") if entry.has("parent") else None,
    )


def _checks(
    changes: Table, file: str, access: AccessTree, cautions: Mapping[str, str]
) -> tuple[Check, ...]:
    shipped = "checks.toml"
    base = expand_legs(entries(_shipped(shipped), "check", shipped))
    added = expand_legs(entries(changes, "check", file))
    known = frozenset(cautions) - {MAKER_FIRST}
    return tuple(parse_check(entry, frozenset(access.ids), known) for entry in merged(base, added))


def _effort(checks: tuple[Check, ...], access: AccessTree, changes: Table, file: str) -> Effort:
    entry = _single("switch", "access.toml", changes, file)
    names = [field.name for field in fields(SwitchMinutes)]
    entry.only(names)
    figures = {name: entry.number(name, low=0.0, high=LONGEST_MIN) for name in names}
    acts = [check for check in checks if check.is_act]
    if len(acts) != 1:
        raise InputError(
            f"{file or 'checks.toml'}: {len(acts)} checks with function 'act' "
            f"({', '.join(act.id for act in acts)}); expected one, charging the battery"
        )
    return Effort(access=access, switches=SwitchMinutes(**figures), charge=acts[0])
