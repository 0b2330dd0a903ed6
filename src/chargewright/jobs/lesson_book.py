"""The lessons in a store: those of its own jobs, those of other workshops, those taken out.

The store's own lessons are read from its cards whenever they are asked for, so a corrected card
teaches what it says now. Only what came from elsewhere, and what was taken out, has own rows.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import dataclass

from sqlalchemy import Connection, delete, func, insert, select
from sqlalchemy.dialects.sqlite import insert as sqlite_insert

from chargewright.errors import StoreError, nearest
from chargewright.jobs.card import Confirmation
from chargewright.jobs.lessons import Lesson, job_hash, lesson_from, merged
from chargewright.jobs.tables import jobs, lessons, taken_out

Door = Callable[[], AbstractContextManager[Connection]]


@dataclass(frozen=True, slots=True, kw_only=True)
class BookLine:
    """One lesson, and where it is from: ``job_id`` of the store's own, None of another's."""

    lesson: Lesson
    job_id: str | None
    counts: bool


class LessonBook:
    """Lessons behind one store. Methods raise StoreError when its file cannot be used."""

    def __init__(self, reading: Door, writing: Door) -> None:
        self._reading = reading
        self._writing = writing

    def lines(self) -> tuple[BookLine, ...]:
        """Return every lesson, the store's own first, also those taken out."""
        with self._reading() as connection:
            out = set(connection.execute(select(taken_out.c.job)).scalars())
            own = _own(connection)
            foreign = _foreign(connection)
        known = {lesson.job for lesson, _ in own}
        found: list[tuple[Lesson, str | None]] = [*own]
        found += [(lesson, None) for lesson in foreign if lesson.job not in known]
        return tuple(
            BookLine(lesson=lesson, job_id=job_id, counts=lesson.job not in out)
            for lesson, job_id in found
        )

    def counting(self) -> tuple[Lesson, ...]:
        """Return the lessons that count, each job once."""
        return merged(line.lesson for line in self.lines() if line.counts)

    def take_in(self, others: Iterable[Lesson]) -> int:
        """Add another workshop's lessons; return how many jobs were new here."""
        with self._writing() as connection:
            own = {lesson.job for lesson, _ in _own(connection)}
            before = {lesson.job: lesson for lesson in _foreign(connection)}
            after = {one.job: one for one in merged(before.values(), others)}
            rows = [
                {
                    "job": one.job,
                    "class_id": one.class_id,
                    "causes": "+".join(one.causes),
                    "by": one.by.value,
                }
                for job, one in after.items()
                if before.get(job) != one
            ]
            if rows:
                insertion = sqlite_insert(lessons)
                excluded = insertion.excluded
                connection.execute(
                    insertion.on_conflict_do_update(
                        index_elements=["job"],
                        set_={name: excluded[name] for name in ("class_id", "causes", "by")},
                    ),
                    rows,
                )
        return len(set(after) - set(before) - own)

    def take_out(self, name: str) -> BookLine:
        """Let a job, by its id or the beginning of its hash, count no longer; return its line."""
        return self._set(name, out=True)

    def put_back(self, name: str) -> BookLine:
        """Let a job that was taken out count again; return its line."""
        return self._set(name, out=False)

    def _set(self, name: str, *, out: bool) -> BookLine:
        line = self._find(name)
        job = line.lesson.job
        with self._writing() as connection:
            connection.execute(delete(taken_out).where(taken_out.c.job == job))
            if out:
                connection.execute(insert(taken_out).values(job=job))
        return BookLine(lesson=line.lesson, job_id=line.job_id, counts=not out)

    def _find(self, name: str) -> BookLine:
        lines = self.lines()
        found = [line for line in lines if name in (line.job_id, line.lesson.job)]
        if not found and len(name) >= 6:
            found = [line for line in lines if line.lesson.job.startswith(name)]
        if len(found) == 1:
            return found[0]
        if found:
            raise StoreError(f"{name!r} begins {len(found)} hashes; give more of it")
        known = [line.job_id or line.lesson.job for line in lines]
        hint = nearest(name, known) if known else "no closed job teaches anything yet"
        raise StoreError(f"no lesson of a job {name!r}; {hint}")


def _own(connection: Connection) -> list[tuple[Lesson, str]]:
    """Return the lessons of the store's own closed cards, with their ids, the oldest first."""
    told = func.json_extract  # a few hundred cards in a millisecond, without reading them whole
    query = (
        select(
            jobs.c.id,
            jobs.c.class_id,
            jobs.c.created,
            jobs.c.confirmed_cause,
            told(jobs.c.card, "$.confirmed_cause.by").label("by"),
            told(jobs.c.card, "$.confirmed_cause.also").label("also"),
            told(jobs.c.card, "$.invented").label("invented"),
        )
        .where(jobs.c.confirmed_cause.is_not(None))
        .order_by(jobs.c.created, jobs.c.id)
    )
    found: list[tuple[Lesson, str]] = []
    for row in connection.execute(query):
        also = _words(row.also)
        lesson = lesson_from(
            job=job_hash(row.id, row.created),
            class_id=row.class_id,
            causes=(row.confirmed_cause, *also),
            by=Confirmation(row.by or Confirmation.INFERRED.value),
        )
        if lesson is not None and not row.invented:
            found.append((lesson, row.id))
    return found


def _words(text: str | None) -> list[str]:
    return [] if text is None else [str(name) for name in json.loads(text)]


def _foreign(connection: Connection) -> list[Lesson]:
    rows = connection.execute(select(lessons).order_by(lessons.c.job))
    told = (
        lesson_from(
            job=row.job,
            class_id=row.class_id,
            causes=row.causes.split("+"),
            by=Confirmation(row.by),
        )
        for row in rows
    )
    return [one for one in told if one is not None]
