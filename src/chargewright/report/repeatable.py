"""A job worked out from its card alone, so that a report's figures can be repeated elsewhere.

A belief that grew reading by reading at the bench has refined its population on the way and
carries other sampling noise than one that took in all readings at once; only the latter can be
made again from the card, the program and the seed.
"""

from __future__ import annotations

import contextlib

from chargewright.jobs.shelf import Shelf
from chargewright.workbench import Job

FOLDER = "reports"  # beside the beliefs of the bench, never mixed with them
KEPT = 3  # about 50 MB each


def from_card_alone(job: Job) -> Job:
    """Return the same card as a job whose belief takes in all its readings at once."""
    whole = Job(job.card, job.path, workshop=job.workshop)
    if whole.shelf is not None:
        whole.shelf = Shelf(whole.shelf.folder / FOLDER)
        _trim(whole.shelf)
    return whole


def _trim(shelf: Shelf) -> None:
    """Drop the oldest kept beliefs; one more may be written next."""
    with contextlib.suppress(OSError):
        files = sorted(shelf.folder.glob("*.npz"), key=lambda path: path.stat().st_mtime)
        for old in files[: -(KEPT - 1)]:
            old.unlink(missing_ok=True)
