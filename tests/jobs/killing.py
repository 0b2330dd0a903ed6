"""Starts ``kill_savers.py`` and returns what it saw."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).with_name("kill_savers.py")


def kill_savers(kind: str, folder: Path, *, times: int, seed: int) -> list[list[int]]:
    """Return (last acknowledged, found, characters of notes) of each kill, in order."""
    done = subprocess.run(
        [sys.executable, str(SCRIPT), kind, str(folder), str(times), str(seed)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        check=False,
        timeout=240,
    )
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]
