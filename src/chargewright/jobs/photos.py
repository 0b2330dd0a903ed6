"""Photos of a job, kept in the store: told by their bytes, never by a name."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import UTC

from sqlalchemy import delete, insert, select

from chargewright.errors import ConflictError, InputError, MissingError
from chargewright.jobs.changes import Kind, note_changes
from chargewright.jobs.rows import get_job
from chargewright.jobs.store import JobStore
from chargewright.jobs.tables import photos

MAX_PHOTO_BYTES = 8_000_000
MOST_PHOTOS = 100  # of one job; assumed

_LINE = ("id", "mime", "size", "reading_id", "note", "at")


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoLine:
    """One photo without its picture."""

    id: str
    mime: str
    size: int
    reading_id: str | None
    note: str
    at: str


def mime_of(data: bytes) -> str:
    """Return the type of a picture by its first bytes; ``InputError`` for any other content.

    Signatures: JPEG (ISO/IEC 10918-1), PNG (ISO/IEC 15948), WebP (RIFF container).
    """
    if data.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp"
    raise InputError("photo: these bytes are no picture; expected JPEG, PNG or WebP")


def put_photo(
    store: JobStore,
    job_id: str,
    photo_id: str,
    data: bytes,
    *,
    reading_id: str | None = None,
    note: str = "",
) -> bool:
    """Keep a photo; False when the same one is there already.

    Raises ``InputError`` for what is no picture or too large, ``ConflictError`` when another
    picture has the id.
    """
    if len(data) > MAX_PHOTO_BYTES:
        raise InputError(f"photo of {len(data)} bytes: expected at most {MAX_PHOTO_BYTES}")
    row = {
        "job_id": job_id,
        "id": photo_id,
        "mime": mime_of(data),
        "size": len(data),
        "digest": hashlib.sha256(data).hexdigest(),
        "reading_id": reading_id,
        "note": note,
        "data": data,
    }
    with store.writing() as connection:
        _, revision = get_job(connection, job_id)
        mine = select(photos.c.id, photos.c.digest).where(photos.c.job_id == job_id)
        known = {one.id: one.digest for one in connection.execute(mine)}
        if photo_id in known:
            if known[photo_id] == row["digest"]:
                return False
            raise ConflictError(f"photo {photo_id!r} is here already and is another picture")
        if len(known) >= MOST_PHOTOS:
            raise InputError(f"job {job_id!r} has {len(known)} photos: expected at most that many")
        now = store.now().astimezone(UTC)
        row["at"] = now.isoformat(timespec="seconds")
        connection.execute(insert(photos), row)
        note_changes(connection, job_id, revision, [(Kind.PHOTO, photo_id)], now=now)
    return True


def list_photos(store: JobStore, job_id: str) -> tuple[PhotoLine, ...]:
    """Return the photos of a job, the earliest first."""
    query = (
        select(*(photos.c[name] for name in _LINE))
        .where(photos.c.job_id == job_id)
        .order_by(photos.c.at, photos.c.id)
    )
    with store.reading() as connection:
        return tuple(PhotoLine(**row) for row in connection.execute(query).mappings())


def get_photo(store: JobStore, job_id: str, photo_id: str) -> tuple[str, bytes]:
    """Return type and bytes of a photo. Raises ``MissingError``."""
    query = select(photos.c.mime, photos.c.data).where(
        photos.c.job_id == job_id, photos.c.id == photo_id
    )
    with store.reading() as connection:
        row = connection.execute(query).one_or_none()
    if row is None:
        raise MissingError(f"job {job_id!r} has no photo {photo_id!r}")
    return row.mime, row.data


def remove_photo(store: JobStore, job_id: str, photo_id: str) -> None:
    """Delete a photo; nothing happens when it is gone already."""
    query = delete(photos).where(photos.c.job_id == job_id, photos.c.id == photo_id)
    with store.writing() as connection:
        _, revision = get_job(connection, job_id)
        if connection.execute(query).rowcount:
            found = [(Kind.PHOTO_GONE, photo_id)]
            note_changes(connection, job_id, revision, found, now=store.now().astimezone(UTC))
