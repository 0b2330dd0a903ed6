"""Puts a backup in place of the store and keeps what was there."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from chargewright.errors import StoreError
from chargewright.jobs.store import JobStore


def restore_store(backup: Path, path: Path, *, now: datetime | None = None) -> Path | None:
    """Put the store in file ``backup`` at ``path``; return where the old one is kept.

    The backup is copied and opened before anything is touched. Raises ``StoreError`` when it is
    no store, is damaged, or the present store is in use.
    """
    if not backup.exists():
        raise StoreError(f"{backup}: no such file, expected a backup of a job store")
    draft = path.with_name(path.name + ".restoring")
    draft.unlink(missing_ok=True)
    try:
        with JobStore(backup) as store:
            store.list()
            store.backup(draft)
        _sound(draft, backup)
        kept = None
        if path.exists():
            stamp = (now or datetime.now(UTC)).strftime("%Y%m%d-%H%M%S")
            kept = path.with_name(f"{path.name}.before-{stamp}")
            _set_aside(path, kept)
        os.replace(draft, path)
    except OSError as error:
        raise StoreError(f"{path}: cannot be replaced: {error.strerror or error}") from error
    finally:
        draft.unlink(missing_ok=True)
    return kept


def _sound(copy: Path, backup: Path) -> None:
    try:
        with closing(sqlite3.connect(copy)) as connection:
            verdict = connection.execute("PRAGMA integrity_check").fetchone()[0]
    except sqlite3.Error as error:
        raise StoreError(f"{backup}: the backup is damaged: {error}") from error
    if verdict != "ok":
        raise StoreError(f"{backup}: the backup is damaged: {verdict}")


def _set_aside(path: Path, kept: Path) -> None:
    """Move the present store away whole, its journal folded in; refuse while it is in use."""
    try:
        with closing(sqlite3.connect(path, timeout=1.0, isolation_level=None)) as connection:
            connection.execute("PRAGMA locking_mode=EXCLUSIVE")
            connection.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.Error as error:
        raise StoreError(f"{path} is in use ({error}): stop the service first") from error
    os.replace(path, kept)
