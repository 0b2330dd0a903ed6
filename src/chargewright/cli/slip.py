"""Asks about a reading whose decimal point has probably slipped."""

from __future__ import annotations

from collections.abc import Callable

from chargewright.cli.screen import Screen, working
from chargewright.errors import ReadingError
from chargewright.jobs.quantity_text import format_shown
from chargewright.jobs.reading import Reading
from chargewright.jobs.reading_text import parse_reading
from chargewright.workbench import Job


def what_was_meant(
    job: Job, reading: Reading, screen: Screen, ask: Callable[[str], str]
) -> Reading | None:
    """Return the reading to take: as typed, or with its point moved; None for neither.

    The technician decides; nothing is corrected silently.
    """
    with working("Looking at the reading"):
        other = job.slip(reading)
    if other is None or reading.shown is None:
        return reading
    typed, moved = format_shown(reading.shown), format_shown(other)
    screen.line(f"{typed} would be odd here. Meant {moved} or {typed}?", "bold yellow")
    screen.rows([["1", moved], ["2", f"{typed}, as typed"]])
    while True:
        line = ask("1 or 2 (Enter: take neither): ")
        if line.lower() in ("q", "quit", "stop"):
            raise EOFError
        if not line:
            return None
        if line == "2" or _same(line, reading):
            return reading
        corrected = parse_reading(moved, reading.function)
        swapped = reading.model_copy(update={"shown": corrected})
        if line == "1" or _same(line, swapped):
            return swapped
        screen.line(f"{line[:40]!r}: expected 1, 2 or Enter.", "yellow")


def _same(line: str, reading: Reading) -> bool:
    """Tell whether a line typed again is the same figure."""
    try:
        shown = parse_reading(line, reading.function)
    except ReadingError:
        return False
    own = reading.shown
    return own is not None and (shown.value, shown.qualifier) == (own.value, own.qualifier)
