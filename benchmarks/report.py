"""Time and size of each form of the report, as ratios to an empty page in the same run.

python -m benchmarks.report
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import typst

from chargewright import open_job
from chargewright.pictures.png import bundled_fonts
from chargewright.report.written import report_bytes

CARD = Path(__file__).parents[1] / "examples" / "demo-job.json"
MADE = datetime(2026, 8, 3, 12, 0, tzinfo=UTC)
RUNS = 9
EMPTY = b'#set document(title: "x")\n#set text(lang: "en", font: "Noto Sans")\nx'


def timed(make: Callable[[], bytes]) -> tuple[float, float, int]:
    """Return the first run's seconds, the median of the others, and the size in bytes."""
    seconds = []
    size = 0
    for _ in range(RUNS + 1):
        start = time.perf_counter()
        size = len(make())
        seconds.append(time.perf_counter() - start)
    return seconds[0], median(seconds[1:]), size


def empty_page() -> bytes:
    """Return a page with one letter."""
    made = typst.compile(
        EMPTY, format="pdf", pdf_standards="ua-1", font_paths=bundled_fonts(), timestamp=MADE
    )
    assert isinstance(made, bytes)
    return made


def main() -> None:
    """Print one line per form."""
    job = open_job(CARD)
    found = job.assess()
    _, base, size = timed(empty_page)
    print(f"empty page      {1e3 * base:7.1f} ms  {size / 1e3:6.1f} kB")
    forms = [(".pdf", "customer"), (".pdf", "workshop"), (".html", "customer")]
    for ending, reader in [*forms, (".html", "workshop"), (".json", None), (".csv", None)]:

        def make(ending: str = ending, reader: str | None = reader) -> bytes:
            return report_bytes(job, found, ending, reader=reader, made=MADE)

        first, usual, size = timed(make)
        name = f"{ending} {reader or ''}"
        print(
            f"{name:<15} {1e3 * usual:7.1f} ms  {size / 1e3:6.1f} kB  {usual / base:5.1f} empty "
            f"pages, first {1e3 * first:.0f} ms"
        )


if __name__ == "__main__":
    main()
