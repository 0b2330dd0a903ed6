"""Lessons: what a closed job leaves behind, without anything about the customer or the machine.

A lesson is class, causes, and how the cause was confirmed, under a hash of the job's id and time
of creation, so that a job known to two workshops counts once. Only classes and causes of the
program's own lists are taken: the card's free words never leave.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from chargewright.errors import InputError, nearest
from chargewright.jobs.card import Confirmation, JobCard
from chargewright.jobs.parts import iso
from chargewright.machine.cause_file import catalogue
from chargewright.machine.classes import class_ids

LESSONS_VERSION = 1
HASH_LENGTH = 32  # hexadecimal digits: 128 bits of SHA-256
MOST_LESSONS = 200_000  # assumed: more than any chain of workshops closes in years
_HASH = re.compile(rf"[0-9a-f]{{{HASH_LENGTH}}}")
_FIELDS = ("class", "causes", "by", "jobs")


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Lesson:
    """One closed job. ``causes`` are sorted; ``job`` is the hash."""

    job: str
    class_id: str
    causes: tuple[str, ...]
    by: Confirmation


def job_hash(job_id: str, created: str) -> str:
    """Return the hash of a job by its id and the time of creation as the card writes it."""
    return hashlib.sha256(f"{job_id}\n{created}".encode()).hexdigest()[:HASH_LENGTH]


def lesson_of(card: JobCard) -> Lesson | None:
    """Return what a card teaches: None while open, invented, or told in words nobody knows."""
    told = card.confirmed_cause
    if told is None or card.invented:
        return None
    return lesson_from(
        job=job_hash(card.id, iso(card.created)),
        class_id=card.machine.class_id,
        causes=(told.cause, *told.also),
        by=told.by,
    )


def lesson_from(
    *, job: str, class_id: str, causes: Iterable[str], by: Confirmation
) -> Lesson | None:
    """Return the lesson, or None when class or causes are not of the program's lists."""
    known = {cause.id for cause in catalogue().causes}
    names = tuple(sorted(set(causes)))
    if class_id not in class_ids() or not names or not set(names) <= known:
        return None
    return Lesson(job=job, class_id=class_id, causes=names, by=by)


def merged(*groups: Iterable[Lesson]) -> tuple[Lesson, ...]:
    """Return all lessons, each job once, in one order.

    Where two differ on a job, the surer confirmation counts, then the first in the alphabet: so
    neither the order of merging nor merging twice changes the result.
    """
    rank = {kind: number for number, kind in enumerate(Confirmation)}
    best: dict[str, Lesson] = {}
    for lesson in (one for group in groups for one in group):
        held = best.get(lesson.job)
        key = (rank[lesson.by], lesson.class_id, lesson.causes)
        if held is None or key < (rank[held.by], held.class_id, held.causes):
            best[lesson.job] = lesson
    return tuple(best[job] for job in sorted(best))


def lessons_dict(lessons: Iterable[Lesson]) -> dict[str, Any]:
    """Return the form in which lessons travel: counts by class and cause, jobs as hashes."""
    groups: dict[tuple[str, tuple[str, ...], str], list[str]] = {}
    for one in merged(lessons):
        groups.setdefault((one.class_id, one.causes, one.by.value), []).append(one.job)
    return {
        "lessons_version": LESSONS_VERSION,
        "counts": [
            {"class": class_id, "causes": list(causes), "by": by, "jobs": sorted(jobs)}
            for (class_id, causes, by), jobs in sorted(groups.items())
        ],
    }


def lessons_from_dict(raw: Mapping[str, Any], *, source: str = "lessons") -> tuple[Lesson, ...]:
    """Return the lessons of a file; ``InputError`` names the place, the value and what fits.

    Classes and causes that this program does not know are passed over: a newer one may.
    """
    version = raw.get("lessons_version")
    if version != LESSONS_VERSION:
        raise InputError(f"{source}: lessons_version {version!r}, expected {LESSONS_VERSION}")
    counts = raw.get("counts")
    if not isinstance(counts, list) or set(raw) != {"lessons_version", "counts"}:
        raise InputError(f"{source}: expected 'lessons_version' and 'counts', a list")
    found: list[Lesson] = []
    for number, group in enumerate(counts):
        found += _group(group, f"{source}: counts[{number}]")
        if len(found) > MOST_LESSONS:
            raise InputError(f"{source}: more than {MOST_LESSONS} jobs, expected fewer")
    return merged(found)


def _group(group: object, where: str) -> list[Lesson]:
    if not isinstance(group, dict) or set(group) != set(_FIELDS):
        raise InputError(f"{where}: expected an object with {', '.join(_FIELDS)}")
    words = [kind.value for kind in Confirmation]
    if group["by"] not in words:
        raise InputError(
            f"{where}.by: {group['by']!r} is unknown; {nearest(str(group['by']), words)}"
        )
    causes, jobs = group["causes"], group["jobs"]
    if not isinstance(causes, list) or not all(isinstance(name, str) for name in causes):
        raise InputError(f"{where}.causes: expected a list of cause ids")
    if not isinstance(jobs, list) or not all(
        isinstance(job, str) and _HASH.fullmatch(job) for job in jobs
    ):
        raise InputError(f"{where}.jobs: expected hashes of {HASH_LENGTH} hexadecimal digits")
    by = Confirmation(group["by"])
    told = (
        lesson_from(job=job, class_id=str(group["class"]), causes=causes, by=by) for job in jobs
    )
    return [one for one in told if one is not None]
