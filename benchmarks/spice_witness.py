"""Writes docs/validation/circuit.md: the running circuit against a circuit simulator.

Run from the root of the repository: ``python -m benchmarks.spice_witness``. Takes about ten
minutes on two cores; ``--cases`` and ``--switching`` make it shorter.
"""

from __future__ import annotations

import argparse
import subprocess
import time
from pathlib import Path

import numpy as np

from benchmarks import spice_ratio
from benchmarks.spice_witness_text import Findings, page
from tests.spice.batch import compare_all
from tests.spice.cases import bridge_causes, random_cases
from tests.spice.run import PROGRAM, available
from tests.spice.switching import study

PAGE = Path(__file__).parents[1] / "docs" / "validation" / "circuit.md"
SEED, SWITCHING_SEED = 2, 3
PER_CAUSE = 11


def version() -> str:
    """Return the simulator's name and version."""
    told = subprocess.run([PROGRAM, "--version"], capture_output=True, text=True, check=False)
    words = told.stdout.replace("*", " ").split()
    return next((word for word in words if word.startswith("ngspice")), PROGRAM)


def main() -> None:
    """Compare, time, and write the page."""
    parser = argparse.ArgumentParser(description="compare the running circuit with ngspice")
    parser.add_argument("--cases", type=int, default=PER_CAUSE * len(bridge_causes()))
    parser.add_argument("--switching", type=int, default=40)
    parser.add_argument("--page", type=Path, default=PAGE)
    asked = parser.parse_args()
    if not available():
        raise SystemExit(f"{PROGRAM} is not on the path: nothing to compare with")
    started = time.perf_counter()
    compared = compare_all(random_cases(asked.cases, SEED))
    spent = time.perf_counter() - started
    findings = Findings(
        version=version(),
        seed=SEED,
        compared=compared,
        compare_s=spent,
        switched=list(study(asked.switching, SWITCHING_SEED)),
        ratio=spice_ratio.measure(),
        numpy=np.__version__,
    )
    asked.page.parent.mkdir(parents=True, exist_ok=True)
    asked.page.write_text(page(findings))
    print(f"{asked.page}: {len(compared)} cases in {spent:.0f} s")


if __name__ == "__main__":
    main()
