"""A killed service loses no reading that it had acknowledged."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

KILLS = 200
HERE = Path(__file__)


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_a_service_killed_under_load_loses_nothing_it_acknowledged(tmp_path: Path) -> None:
    """SIGKILL at a random moment while four phones send readings, two hundred times."""
    paths = (HERE.parents[2] / "src", HERE.parents[1])
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(map(str, paths))}
    run = subprocess.run(
        [sys.executable, str(HERE.with_name("kill_service.py")), str(tmp_path), str(KILLS), "6"],
        env=environment,
        capture_output=True,
        text=True,
        timeout=880,
        check=False,
    )
    assert run.returncode == 0, run.stderr[-2000:]
    kills = [json.loads(line) for line in run.stdout.splitlines()]
    assert len(kills) == KILLS
    assert all(acknowledged > 0 for acknowledged, _ in kills)
    assert sum(lost for _, lost in kills) == 0
