"""Where compiled code is kept, and what happens where it cannot be."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import chargewright
from chargewright.circuit import compiled, running

PACKAGE = Path(chargewright.__file__).parent
needs_numba = pytest.mark.skipif(not compiled.HAVE_NUMBA, reason="numba is not installed")


def answer(code: str, **environment: str) -> str:
    """Return what a new process prints."""
    there = {**os.environ, **environment}
    done = subprocess.run(
        [sys.executable, "-c", code], env=there, capture_output=True, text=True, check=True
    )
    return done.stdout.strip()


@needs_numba
def test_nowhere_to_keep_code(tmp_path: Path) -> None:
    """An installation without any writable cache still loads; its code is just not kept."""
    shutil.copytree(
        PACKAGE, tmp_path / "chargewright", ignore=shutil.ignore_patterns("__pycache__")
    )
    (tmp_path / "chargewright" / "circuit" / "__pycache__").write_text("a file, not a folder")
    found = answer(
        "import chargewright.circuit.running as r; print(type(r.solve_some._cache).__name__)",
        PYTHONPATH=str(tmp_path),
        HOME="/proc/nowhere",
        XDG_CACHE_HOME="/proc/nowhere",
        NUMBA_CACHE_DIR="",
    )
    assert found == "NullCache"


@needs_numba
def test_kept_code_lapses_with_any_file() -> None:
    """The stamp of kept code names every source of the room."""
    stamp = str(running.solve_some._cache._cache_file._source_stamp)
    for source in (PACKAGE / "circuit").glob("*.py"):
        assert source.name in stamp


def test_switched_off_by_the_environment() -> None:
    """CHARGEWRIGHT_PLAIN=1 solves without numba and without loading it into the solver."""
    found = answer(
        "import numpy as np\n"
        "from chargewright.circuit import compiled\n"
        "from tests.circuit.machine_m import machine_m, solve\n"
        "amps, _ = solve([machine_m(3000)], [(3, 1)], current=True)\n"
        "print(compiled.HAVE_NUMBA, amps[0, 0, 0])",
        CHARGEWRIGHT_PLAIN="1",
        PYTHONPATH=os.pathsep.join([str(PACKAGE.parent), str(Path(__file__).parents[2])]),
    )
    switched, amps = found.split()
    assert switched == "False"
    assert float(amps) == pytest.approx(26.08, rel=0.02)  # reference table, 3000 rpm


@pytest.mark.parametrize("n", [0, 1, 63, 64, 129, 1000])
def test_every_machine_once(n: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Slices of a batch cover it exactly, whatever its size."""
    monkeypatch.setattr(compiled, "cores", lambda: 3)
    count = np.zeros(n, dtype=int)

    def one_more(part: slice) -> None:
        count[part] += 1

    compiled.on_all_cores(one_more, n)
    assert (count == 1).all()
