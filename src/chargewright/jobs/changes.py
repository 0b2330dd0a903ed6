"""What differs between two states of a card, one entry a thing, and the record of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlalchemy import Connection, func, insert, select

from chargewright.jobs.card import JobCard
from chargewright.jobs.tables import changes

TOLD_APART = frozenset({"readings", "opened", "done", "repairs", "confirmed_cause"})
FOLLOWS = frozenset({"decision", "proved", "versions"})  # from the rest of the card
HEAD = tuple(name for name in JobCard.model_fields if name not in TOLD_APART | FOLLOWS)


class Kind(StrEnum):
    """What a change is about."""

    BEGUN = "begun"
    HEAD = "head"
    READING = "reading"
    READING_CHANGED = "reading_changed"
    READING_GONE = "reading_gone"
    OPENED = "opened"
    DONE = "done"
    REPAIR = "repair"
    CONFIRMED = "confirmed"
    PHOTO = "photo"
    PHOTO_GONE = "photo_gone"
    REMOVED = "removed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change to a job; ``seq`` counts through all jobs, ``at`` is UTC, ISO 8601."""

    seq: int
    job_id: str
    revision: int
    kind: str
    what: str
    at: str


def differences(old: JobCard | None, new: JobCard) -> list[tuple[Kind, str]]:
    """Return what is other on ``new`` (advice and versions left out, which follow from the rest).

    The second of each pair names the reading, cover, act, repair, cause or field.
    """
    if old is None:
        return [(Kind.BEGUN, new.machine.class_id), *((Kind.READING, r.id) for r in new.readings)]
    found = [(Kind.HEAD, name) for name in HEAD if getattr(old, name) != getattr(new, name)]
    before, after = ({one.id: one for one in card.readings} for card in (old, new))
    found += [(Kind.READING_GONE, key) for key in before if key not in after]
    for key, reading in after.items():
        if key not in before:
            found.append((Kind.READING, key))
        elif before[key] != reading:
            found.append((Kind.READING_CHANGED, key))
    for kind, name in ((Kind.OPENED, "opened"), (Kind.DONE, "done"), (Kind.REPAIR, "repairs")):
        found += [(kind, _name(one)) for one in _either(getattr(old, name), getattr(new, name))]
    if old.confirmed_cause != new.confirmed_cause:
        found.append((Kind.CONFIRMED, new.confirmed_cause.cause if new.confirmed_cause else ""))
    return found


def _either(old: Sequence[object], new: Sequence[object]) -> list[object]:
    """Return what only one of the two holds."""
    return [one for one in new if one not in old] + [one for one in old if one not in new]


def _name(one: object) -> str:
    for field in ("act", "repair", "cause"):
        if named := getattr(one, field, None):
            return str(named)
    return str(one)


def note_changes(
    connection: Connection,
    job_id: str,
    revision: int,
    found: Iterable[tuple[Kind, str]],
    *,
    now: datetime,
) -> None:
    """Write changes into the record."""
    at = now.isoformat(timespec="microseconds")
    rows = [
        {"job_id": job_id, "revision": revision, "kind": kind.value, "what": what, "at": at}
        for kind, what in found
    ]
    if rows:
        connection.execute(insert(changes), rows)


def changes_after(
    connection: Connection, seq: int, *, job_id: str | None = None, most: int = 1000
) -> tuple[Change, ...]:
    """Return the changes after number ``seq``, of one job or of all, the earliest first."""
    query = select(changes).where(changes.c.seq > seq).order_by(changes.c.seq).limit(most)
    if job_id is not None:
        query = query.where(changes.c.job_id == job_id)
    return tuple(Change(**row) for row in connection.execute(query).mappings())


def last_change(connection: Connection) -> int:
    """Return the number of the newest change; 0 before the first."""
    return int(connection.execute(select(func.max(changes.c.seq))).scalar() or 0)


def changed_since(
    connection: Connection, job_id: str, revision: int, kind: Kind
) -> tuple[str, ...]:
    """Return what one kind of change was about after ``revision`` of a job, the earliest first."""
    query = (
        select(changes.c.what)
        .where(changes.c.job_id == job_id, changes.c.revision > revision)
        .where(changes.c.kind == kind.value)
        .order_by(changes.c.seq)
    )
    return tuple(connection.execute(query).scalars())


def taken_back(connection: Connection, job_id: str, reading_id: str) -> bool:
    """Tell whether a reading was on the card and was taken off it."""
    query = (
        select(changes.c.kind)
        .where(changes.c.job_id == job_id, changes.c.what == reading_id)
        .where(changes.c.kind.in_((Kind.READING, Kind.READING_GONE)))
        .order_by(changes.c.seq.desc())
        .limit(1)
    )
    return connection.execute(query).scalar() == Kind.READING_GONE
