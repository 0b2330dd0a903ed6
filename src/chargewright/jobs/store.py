"""The workshop's jobs in one SQLite file: saved whole, found again, followed over the years."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, Self

from sqlalchemy import Connection, Engine, or_, select, update
from sqlalchemy.exc import SQLAlchemyError

from chargewright.errors import ConflictError, StoreError
from chargewright.jobs.card import JobCard
from chargewright.jobs.codec import (
    canonical_json,
    card_dict,
    card_from_dict,
    pretty_json,
    rechecked,
)
from chargewright.jobs.database import open_database, store_error
from chargewright.jobs.history import Track, machine_key, tracks
from chargewright.jobs.lesson_book import LessonBook
from chargewright.jobs.merge import merge_cards
from chargewright.jobs.rows import decision_kind, find_job, get_job, put_job, remove_job
from chargewright.jobs.tables import jobs, machines, readings

OnConflict = Literal["refuse", "replace", "merge"]


def _now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """One line of the list of jobs."""

    id: str
    title: str
    machine: str
    class_id: str
    confirmed_cause: str | None
    created: str
    updated: str
    revision: int
    decision: str | None = None
    reading_count: int = 0


@dataclass(frozen=True, slots=True)
class Saved:
    """A card as it is stored now, and whether this call changed it."""

    card: JobCard
    revision: int
    changed: bool


class JobStore:
    """Job cards in the SQLite file ``path``, which is created when missing.

    Safe to use from several threads and processes. ``clock`` gives the time of a save.
    Methods raise StoreError when the file cannot be read or written.
    """

    def __init__(self, path: str | Path, *, clock: Callable[[], datetime] = _now) -> None:
        self.path = Path(path)
        self._clock = clock
        self._turn = threading.Lock()
        self._engine = open_database(self.path)
        self.lessons = LessonBook(self.reading, self.writing)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close all connections to the file."""
        self._engine.dispose()

    def save(self, card: JobCard, *, expected_revision: int | None = None) -> int:
        """Save the card, replacing an earlier state of the same job; return its revision.

        With ``expected_revision`` (0 for a job that must be new) the save is refused with
        StoreError when somebody else saved the job in the meantime.
        """
        card = rechecked(card)
        with self.writing() as connection:
            return put_job(connection, card, now=self._clock(), expected_revision=expected_revision)

    def load(self, job_id: str) -> JobCard:
        """Return the card of a job. Raises StoreError when there is none of this id."""
        with self.reading() as connection:
            return get_job(connection, job_id)[0]

    def load_with_revision(self, job_id: str) -> tuple[JobCard, int]:
        """Return the card and the revision to hand back to ``save``."""
        with self.reading() as connection:
            return get_job(connection, job_id)

    def update(self, job_id: str, change: Callable[[JobCard], JobCard]) -> JobCard:
        """Load, ``change`` and save one job with nobody in between; return the new card."""
        return self.alter(job_id, lambda card, _connection: change(card)).card

    def alter(self, job_id: str, change: Callable[[JobCard, Connection], JobCard]) -> Saved:
        """As ``update``; ``change`` may look into the store, too. An equal card is not saved."""
        with self.writing() as connection:
            before, revision = get_job(connection, job_id)
            card = change(before, connection)
            if card.id != job_id:
                raise StoreError(f"job {job_id!r}: a change must keep the id, given {card.id!r}")
            if card == before:
                return Saved(before, revision, changed=False)
            card = rechecked(card)
            revision = put_job(connection, card, now=self._clock())
        return Saved(card, revision, changed=True)

    def keep_advice(self, job_id: str, revision: int, advice: Mapping[str, Any]) -> bool:
        """Put ``decision`` and ``proved`` of an assessment of ``revision`` on the card.

        They follow from the rest of the card, so this makes no new revision. False when the
        job has gone on since.
        """
        with self.writing() as connection:
            found = find_job(connection, job_id)
            if found is None or found[1] != revision:
                return False
            raw = {**card_dict(found[0]), **{k: v for k, v in advice.items() if v is not None}}
            card = card_from_dict(raw, source=f"job {job_id}")
            row = {"card": pretty_json(card), "decision": decision_kind(card)}
            connection.execute(update(jobs).where(jobs.c.id == job_id).values(row))
        return True

    def remove(self, job_id: str, *, expected_revision: int | None = None) -> None:
        """Delete a job with its readings and photos.

        Raises MissingError when there is none of this id, ConflictError when it is at another
        revision than expected.
        """
        with self.writing() as connection:
            _, revision = get_job(connection, job_id)
            if expected_revision not in (None, revision):
                raise ConflictError(
                    f"job {job_id!r} is at revision {revision}, expected {expected_revision}: "
                    "somebody has worked on it since",
                    yours=expected_revision,
                    here=revision,
                )
            remove_job(connection, job_id, now=self._clock())

    def list(self, *, search: str = "", machine: str | None = None) -> tuple[JobLine, ...]:
        """Return one line per job, the last saved first.

        ``search`` keeps those with the text in id, title, machine or class; ``machine`` those
        of one machine.
        """
        query = (
            select(
                jobs.c.id,
                jobs.c.title,
                jobs.c.class_id,
                jobs.c.confirmed_cause,
                jobs.c.created,
                jobs.c.updated,
                jobs.c.revision,
                jobs.c.decision,
                jobs.c.reading_count,
                machines.c.label.label("machine"),
            )
            .join_from(jobs, machines, isouter=True)
            .order_by(jobs.c.updated.desc(), jobs.c.id)
        )
        if search:
            columns = (jobs.c.id, jobs.c.title, machines.c.label, jobs.c.class_id)
            query = query.where(or_(*(one.icontains(search, autoescape=True) for one in columns)))
        if machine is not None:
            query = query.where(machines.c.key == machine_key(machine))
        with self.reading() as connection:
            rows = connection.execute(query).mappings().all()
        return tuple(JobLine(**{**row, "machine": row["machine"] or ""}) for row in rows)

    def history(self, machine_label: str) -> tuple[Track, ...]:
        """Return what was measured on one machine, each kind of check in order of time.

        The label is compared without regard to case and spaces; an unknown one gives ().
        """
        query = (
            select(readings, jobs.c.created)
            .join_from(readings, jobs)
            .join(machines)
            .where(machines.c.key == machine_key(machine_label))
        )
        with self.reading() as connection:
            rows = connection.execute(query).mappings().all()
        return tracks(dict(row) for row in rows)

    def export_job(self, job_id: str) -> dict[str, Any]:
        """Return the job card as plain JSON data, complete."""
        return card_dict(self.load(job_id))

    def import_job(self, raw: Mapping[str, Any], *, on_conflict: OnConflict = "refuse") -> JobCard:
        """Check and save a card that came from elsewhere; return it as stored.

        When the store holds a different card of the same id: ``refuse`` raises StoreError,
        ``replace`` takes the new one, ``merge`` joins both (see ``merge_cards``).
        Raises InputError when ``raw`` is no valid card.
        """
        card = card_from_dict(raw, source="imported card")
        with self.writing() as connection:
            stored = find_job(connection, card.id)
            if stored is not None:
                if canonical_json(stored[0]) == canonical_json(card):
                    return stored[0]
                if on_conflict == "refuse":
                    raise ConflictError(
                        f"job {card.id!r} is here already and differs; import it with 'merge' "
                        "or 'replace', or give it another id"
                    )
                if on_conflict == "merge":
                    card = merge_cards(stored[0], card)
            put_job(connection, card, now=self._clock())
        return card

    def backup(self, path: str | Path) -> None:
        """Copy the whole store, as it is at one moment, to a new file ``path``."""
        target = Path(path)
        if target.exists():
            raise StoreError(f"{target} exists already; choose a new name for the backup")
        try:
            with (
                closing(sqlite3.connect(self.path)) as source,
                closing(sqlite3.connect(target)) as copy,
            ):
                source.backup(copy)
        except sqlite3.Error as error:
            raise StoreError(f"{target}: the backup cannot be written: {error}") from error

    def now(self) -> datetime:
        """Return the time by the store's clock."""
        return self._clock()

    def reading(self) -> AbstractContextManager[Connection]:
        """Return a transaction that only reads."""
        return self._begun(self._engine.execution_options(read_only=True))

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Return a transaction that writes, with nobody in between."""
        # Threads queue here: the file's own lock is taken by whoever asks at the right moment,
        # and on a slow disk one of many can ask in vain for longer than it has patience.
        with self._turn, self._begun(self._engine) as connection:
            yield connection

    @contextmanager
    def _begun(self, engine: Engine) -> Iterator[Connection]:
        try:
            with engine.begin() as connection:
                yield connection
        except SQLAlchemyError as error:
            raise store_error(self.path, error) from error
