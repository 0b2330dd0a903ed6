"""What a workshop has made its own, kept in the store: meters, spec sheets, loads, prices."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection, RowMapping, delete, insert, select, update

from chargewright.errors import ConflictError, MissingError, nearest
from chargewright.jobs.store import JobStore
from chargewright.jobs.tables import papers


class PaperKind(StrEnum):
    """What a paper is."""

    METER = "meter"
    SHEET = "sheet"
    LOADS = "loads"
    PRICES = "prices"


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """One paper; ``body`` is JSON-ready data, checked by whoever uses it."""

    kind: PaperKind
    name: str
    revision: int
    updated: str
    body: dict[str, Any]


def list_papers(store: JobStore, kind: PaperKind) -> tuple[Paper, ...]:
    """Return the papers of one kind by name."""
    query = select(papers).where(papers.c.kind == kind.value).order_by(papers.c.name)
    with store.reading() as connection:
        return tuple(_paper(row) for row in connection.execute(query).mappings())


def find_paper(store: JobStore, kind: PaperKind, name: str) -> Paper | None:
    """Return a paper, or None."""
    with store.reading() as connection:
        return _find(connection, kind, name)


def get_paper(store: JobStore, kind: PaperKind, name: str) -> Paper:
    """Return a paper. Raises ``MissingError`` that names the nearest."""
    found = find_paper(store, kind, name)
    if found is None:
        known = [one.name for one in list_papers(store, kind)]
        hint = nearest(name, known) if known else "there is none yet"
        raise MissingError(f"no {kind.value} of your own called {name!r}; {hint}")
    return found


def put_paper(
    store: JobStore, kind: PaperKind, name: str, body: Mapping[str, Any], *, seen: int = 0
) -> Paper:
    """Keep a paper, new or in place of the revision ``seen``; one that is equal stays.

    Raises ``ConflictError`` with both sides when somebody else has changed it.
    """
    with store.writing() as connection:
        stored = _find(connection, kind, name)
        if stored is not None and stored.body == dict(body):
            return stored
        present = 0 if stored is None else stored.revision
        if present != seen:
            raise ConflictError(
                f"{kind.value} {name!r} is at revision {present}, expected {seen}: somebody else "
                "has changed it",
                yours=dict(body),
                here=None if stored is None else stored.body,
            )
        now = store.now().astimezone(UTC).isoformat(timespec="seconds")
        text = json.dumps(body, ensure_ascii=False, allow_nan=False)
        row = {"revision": present + 1, "updated": now, "body": text}
        if stored is None:
            connection.execute(insert(papers).values(kind=kind.value, name=name, **row))
        else:
            connection.execute(update(papers).where(*_is(kind, name)).values(row))
        return Paper(kind=kind, name=name, revision=present + 1, updated=now, body=dict(body))


def remove_paper(store: JobStore, kind: PaperKind, name: str) -> None:
    """Delete a paper; nothing happens when it is gone already."""
    with store.writing() as connection:
        connection.execute(delete(papers).where(*_is(kind, name)))


def _is(kind: PaperKind, name: str) -> tuple[Any, ...]:
    return papers.c.kind == kind.value, papers.c.name == name


def _find(connection: Connection, kind: PaperKind, name: str) -> Paper | None:
    row = connection.execute(select(papers).where(*_is(kind, name))).mappings().one_or_none()
    return None if row is None else _paper(row)


def _paper(row: RowMapping) -> Paper:
    return Paper(
        kind=PaperKind(row["kind"]),
        name=row["name"],
        revision=row["revision"],
        updated=row["updated"],
        body=json.loads(row["body"]),
    )
