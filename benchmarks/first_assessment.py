"""Time and memory of a first assessment, and of the same with its belief kept.

    python -m benchmarks.first_assessment

Each line is a process of its own, timed from its start; the solver's compiled code is on disk
already after the first. The ratio is against a process that only imports NumPy.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DEMO = Path(__file__).parents[1] / "examples" / "demo-job.json"
ONE = """
import json, resource, sys
from chargewright import open_job
card = json.loads(sys.argv[1])
found = open_job(card).assess()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(f"{peak:.0f} MB {found.decision.value}")
"""


def timed(*arguments: str, shelf: str) -> tuple[float, str]:
    """Return (seconds, output) of one Python process."""
    started = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", *arguments],
        capture_output=True,
        text=True,
        check=True,
        env={"CHARGEWRIGHT_CACHE": shelf, "PATH": "/usr/bin:/bin", "HOME": str(Path.home())},
    )
    return time.perf_counter() - started, done.stdout.strip()


def main() -> None:
    """Print the table."""
    card = json.loads(DEMO.read_text(encoding="utf-8"))
    timed(ONE, json.dumps(card), shelf="off")
    unit = min(timed("import numpy", shelf="off")[0] for _ in range(3))
    for count in (0, 3, 6, 10):
        given = json.dumps(card | {"readings": card["readings"][:count]})
        with tempfile.TemporaryDirectory() as shelf:
            first, told = timed(ONE, given, shelf=shelf)
            again = min(timed(ONE, given, shelf=shelf)[0] for _ in range(3))
        print(
            f"{count:2d} readings: first {first:5.2f} s ({first / unit:4.0f} x), "
            f"kept {again:4.2f} s ({again / unit:3.1f} x), {told}",
            flush=True,
        )


if __name__ == "__main__":
    main()
