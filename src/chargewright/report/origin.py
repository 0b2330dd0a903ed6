"""What an answer was made from, so that another workshop can make it again."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from pathlib import Path

from chargewright.jobs.shelf import model_fingerprint
from chargewright.workbench import Job

SHOWN = 12  # hexadecimal digits people compare


@cache
def shipped_catalogue() -> bytes:
    """Return a hash of every shipped data file: classes, causes, limits, checks, meters, prices."""
    digest = hashlib.sha256()
    for room in ("machine", "checks", "meters", "diagnosis"):
        folder = Path(str(files("chargewright").joinpath(room, "data")))
        for path in sorted(folder.rglob("*.toml")):
            digest.update(path.relative_to(folder).as_posix().encode() + path.read_bytes())
    return digest.digest()


def catalogue_fingerprint(job: Job) -> str:
    """Return a hash of all data behind a job's answer, a workshop's own files included."""
    digest = hashlib.sha256(shipped_catalogue())
    for path in (job.workshop.checks_file, job.workshop.prices_file):
        digest.update(b"none" if path is None else path.read_bytes())
    return digest.hexdigest()


def code_fingerprint() -> str:
    """Return a hash of the model's own code and data."""
    return model_fingerprint()
