"""Job cards as files. A card is replaced in one step: whoever reads sees the old or the new one."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path
from typing import Any

from chargewright.errors import InputError, StoreError
from chargewright.jobs.card import JobCard
from chargewright.jobs.codec import (
    MAX_CARD_CHARS,
    card_from_json,
    object_from_json,
    pretty_json,
    rechecked,
)

_MAX_BYTES = 4 * MAX_CARD_CHARS  # UTF-8 needs at most four bytes a character


def load_card(path: str | Path) -> JobCard:
    """Return the card in the file ``path``.

    Raises InputError when the file is missing, is no UTF-8 text or holds no valid card.
    """
    return card_from_json(_read_text(Path(path)), source=str(path))


def read_object(path: Path) -> dict[str, Any]:
    """Return the JSON object in a file; InputError as ``load_card``."""
    return object_from_json(_read_text(path), source=str(path))


def _read_text(path: Path) -> str:
    try:
        if path.stat().st_size > _MAX_BYTES:
            raise InputError(f"{path}: file is too large for a job card")
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: byte {error.start} is not UTF-8, expected JSON text") from error


def save_card(card: JobCard, path: str | Path) -> None:
    """Write the card to ``path`` so that a crash at any moment leaves the old or the new card.

    Raises InputError for a card that could not be read back, StoreError when the folder cannot
    be written.
    """
    write_text(pretty_json(rechecked(card)), path)


def write_text(text: str, path: str | Path) -> None:
    """Write ``text`` to ``path`` in one step.

    It goes to a hidden file in the same folder, reaches the disk, and takes the place of the
    old one. Raises StoreError when the folder cannot be written.
    """
    target = Path(os.path.realpath(path))  # a link stays a link
    draft = target.with_name(f".{target.name}.{secrets.token_hex(6)}.draft")
    try:
        _write_through(draft, text.encode("utf-8"), mode_of=target)
        os.replace(draft, target)
        _sync_folder(target.parent)
    except OSError as error:
        raise StoreError(f"{path}: cannot be written: {error.strerror or error}") from error
    finally:
        with contextlib.suppress(OSError):
            draft.unlink(missing_ok=True)


def _write_through(draft: Path, data: bytes, *, mode_of: Path) -> None:
    with open(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    if mode_of.exists():
        draft.chmod(mode_of.stat().st_mode & 0o777)


def _sync_folder(folder: Path) -> None:
    """Make the new name itself durable; Windows offers no such call and needs none."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
