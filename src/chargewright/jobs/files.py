"""Job cards as files. A card is replaced in one step: whoever reads sees the old or the new one."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from chargewright.errors import InputError, StoreError
from chargewright.jobs.card import JobCard
from chargewright.jobs.codec import MAX_CARD_CHARS, card_from_json, pretty_json, rechecked

_MAX_BYTES = 4 * MAX_CARD_CHARS  # UTF-8 needs at most four bytes a character


def load_card(path: str | Path) -> JobCard:
    """Return the card in the file ``path``.

    Raises InputError when the file is missing, is no UTF-8 text or holds no valid card.
    """
    path = Path(path)
    try:
        if path.stat().st_size > _MAX_BYTES:
            raise InputError(f"{path}: file is too large for a job card")
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: byte {error.start} is not UTF-8, expected JSON text") from error
    return card_from_json(text, source=str(path))


def save_card(card: JobCard, path: str | Path) -> None:
    """Write the card to ``path`` so that a crash at any moment leaves the old or the new card.

    The text goes to a hidden file in the same folder, reaches the disk, and takes the place of
    the old one. Raises InputError for a card that could not be read back, StoreError when the
    folder cannot be written.
    """
    target = Path(os.path.realpath(path))  # a link stays a link
    data = pretty_json(rechecked(card)).encode("utf-8")
    draft = target.with_name(f".{target.name}.{secrets.token_hex(6)}.draft")
    try:
        _write_through(draft, data, mode_of=target)
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
