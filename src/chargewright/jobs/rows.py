"""Rows of the store: how a card becomes rows and a row a card, within a running transaction."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from chargewright.errors import ConflictError, InputError, MissingError, StoreError, nearest
from chargewright.jobs.card import JobCard
from chargewright.jobs.changes import Kind, differences, note_changes
from chargewright.jobs.codec import card_from_json, pretty_json
from chargewright.jobs.history import machine_key, reading_row
from chargewright.jobs.parts import iso
from chargewright.jobs.tables import jobs, machines, readings


def find_job(connection: Connection, job_id: str) -> tuple[JobCard, int] | None:
    """Return card and revision, or None. Raises StoreError for a damaged card."""
    query = select(jobs.c.card, jobs.c.revision).where(jobs.c.id == job_id)
    row = connection.execute(query).one_or_none()
    if row is None:
        return None
    try:
        return card_from_json(row.card, source=f"job {job_id}"), row.revision
    except InputError as error:
        raise StoreError(f"stored card cannot be used: {error}") from error


def get_job(connection: Connection, job_id: str) -> tuple[JobCard, int]:
    """Return card and revision. Raises MissingError, with the nearest id, when there is none."""
    found = find_job(connection, job_id)
    if found is None:
        known = connection.execute(select(jobs.c.id)).scalars().all()
        hint = nearest(job_id, known) if known else "the store is empty"
        raise MissingError(f"the store has no job {job_id!r}; {hint}")
    return found


def put_job(
    connection: Connection,
    card: JobCard,
    *,
    now: datetime,
    expected_revision: int | None = None,
) -> int:
    """Write the card and its readings in place of an earlier state; return the new revision.

    Raises ConflictError when ``expected_revision`` is given and the stored one differs.
    """
    query = select(jobs.c.revision, jobs.c.card).where(jobs.c.id == card.id)
    row = connection.execute(query).one_or_none()
    present = row.revision if row is not None else 0
    if expected_revision is not None and expected_revision != present:
        raise ConflictError(
            f"job {card.id!r} is at revision {present}, expected {expected_revision}: "
            "somebody else saved it; load it again"
        )
    values = _job_row(connection, card, now=now, revision=present + 1)
    if present:
        connection.execute(update(jobs).where(jobs.c.id == card.id).values(values))
        connection.execute(delete(readings).where(readings.c.job_id == card.id))
        drop_unused_machines(connection)
    else:
        connection.execute(insert(jobs).values(values))
    if card.readings:
        rows = [
            reading_row(reading, job_id=card.id, position=position)
            for position, reading in enumerate(card.readings)
        ]
        connection.execute(insert(readings), rows)
    found = differences(None if row is None else _stored(row.card), card)
    note_changes(connection, card.id, present + 1, found, now=now.astimezone(UTC))
    return present + 1


def _stored(text: str) -> JobCard | None:
    """Return the card as it was; None for a damaged one, which the new one replaces."""
    try:
        return card_from_json(text)
    except InputError:
        return None


def remove_job(connection: Connection, job_id: str, *, now: datetime) -> None:
    """Delete a job with its readings and photos. Raises MissingError when there is none."""
    _, revision = get_job(connection, job_id)
    connection.execute(delete(jobs).where(jobs.c.id == job_id))
    drop_unused_machines(connection)
    note_changes(connection, job_id, revision, [(Kind.REMOVED, "")], now=now.astimezone(UTC))


def drop_unused_machines(connection: Connection) -> None:
    """Forget machines that no job names any more."""
    used = select(jobs.c.machine_id).where(jobs.c.machine_id.is_not(None))
    connection.execute(delete(machines).where(machines.c.id.not_in(used)))


def _job_row(
    connection: Connection, card: JobCard, *, now: datetime, revision: int
) -> dict[str, Any]:
    return {
        "id": card.id,
        "machine_id": _machine_id(connection, card.machine.label),
        "title": card.title,
        "class_id": card.machine.class_id,
        "confirmed_cause": card.confirmed_cause.cause if card.confirmed_cause else None,
        "created": iso(card.created),
        "updated": now.astimezone(UTC).isoformat(timespec="microseconds"),  # sorts as text
        "revision": revision,
        "card_version": card.card_version,
        "card": pretty_json(card),
        "decision": decision_kind(card),
        "reading_count": len(card.readings),
    }


def decision_kind(card: JobCard) -> str | None:
    """Return where the job stands in a word: the decision's kind, `repaired` or `proved`."""
    if card.repairs:
        return "proved" if card.proved is not None and card.proved.proved else "repaired"
    kind = (card.decision or {}).get("kind")
    return kind if isinstance(kind, str) else None


def _machine_id(connection: Connection, label: str) -> int | None:
    key = machine_key(label)
    if not key:
        return None  # nameless machines have no history in common
    query = select(machines.c.id).where(machines.c.key == key)
    found = connection.execute(query).scalar()
    if found is None:
        connection.execute(insert(machines).values(key=key, label=label))
        found = connection.execute(query).scalar_one()
    return int(found)
