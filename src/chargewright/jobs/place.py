"""Where the workshop's store is kept."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from chargewright.errors import StoreError

STORE_VARIABLE = "CHARGEWRIGHT_STORE"
STORE_NAME = "jobs.sqlite"


def default_store() -> Path:
    """Return where the store is kept when nobody says otherwise: the user's data folder."""
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or "~/AppData/Local"
    elif sys.platform == "darwin":
        base = "~/Library/Application Support"
    else:
        base = os.environ.get("XDG_DATA_HOME") or "~/.local/share"
    try:
        return Path(base).expanduser() / "chargewright" / STORE_NAME
    except RuntimeError as error:
        raise StoreError(
            f"no home folder for the job store: give --store a path ({error})"
        ) from error


def workshop_store() -> Path | None:
    """Return the workshop's store where there is one: the variable's, else the usual place's."""
    named = os.environ.get(STORE_VARIABLE)
    try:
        path = Path(named) if named else default_store()
    except StoreError:
        return None
    return path if path.is_file() else None
