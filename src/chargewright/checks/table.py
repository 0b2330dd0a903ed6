"""The catalogue as a page of documentation: ``docs/checks.md`` is what ``page()`` returns.

Write it anew with ``python -c "from chargewright.checks.table import write; write()"``.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from chargewright.checks.catalogue import Check
from chargewright.checks.load import Book, kinds, load_book
from chargewright.checks.word import FUNCTION_WORDS
from chargewright.machine.points import Engine, Load, Point

DOCS = Path("docs/checks.md")

HEAD = """# Checks

What the program can ask for: a meter function, two test points and a state of the machine.
Red goes on the first point, black on the second; polarity is chosen so that a machine that
charges (or cranks) reads positive. Minutes are attention, without opening covers and without
changing how the machine stands; all minutes are assumed (common practice, no source).
A machine shows only the checks it has the points for.

The maker's service manual, local codes and licensed practice come before anything said here.

This page is made from the data files by `chargewright.checks.table`; do not edit it by hand.
"""

OWN_FILE = """## A workshop's own figures

A file of the same form changes what it gives and adds what is new. An entry with a known id
changes only the fields it has; one with a new id must be complete.

```toml
[switch]
warm_up = 8            # minutes

[[access]]
id = "seat"
open_min = 4

[[check]]
id = "rest_v"
minutes = 2

[[check]]
id = "lamp_v"
title = "Volts at the headlamp feed"
function = "dc_v"
plus = "fuse_out"
minus = "frame"
state = { key_on = true, lights_on = true }
needs = ["main_fuse"]
minutes = 2
how = "Key on, lamp on. Meter on DC volts, red behind the main fuse, black on bare frame."
cautions = ["short"]
```

A mistake is answered with file, entry, field, the value given and what was expected.
"""


def page() -> str:
    """Return the whole page as Markdown."""
    book = load_book()
    return "\n".join([HEAD, *_checks(book), *_openings(), *_switches(book), OWN_FILE])


def write(path: Path = DOCS) -> None:
    """Write the page to ``path``."""
    path.write_text(page(), encoding="utf-8")


def _checks(book: Book) -> list[str]:
    rows = [
        (
            f"`{check.id}`",
            check.title,
            _measured(check),
            _machine(check),
            ", ".join(sorted(check.needs)) or "nothing",
            _minutes(check),
        )
        for check in book.checks
    ]
    heads = ("id", "check", "measured", "machine", "opened first", "minutes")
    count = f"{len(rows)} entries over all layouts."
    return ["## Catalogue", "", count, "", *_rows(heads, rows), ""]


def _measured(check: Check) -> str:
    word = "act" if check.function is None else FUNCTION_WORDS[check.function]
    if check.plus is None or check.minus is None:
        return word
    return f"{word}, {_point(check.plus)} → {_point(check.minus)}"


def _point(point: Point) -> str:
    return f"`{point.word}`"


def _machine(check: Check) -> str:
    state = check.state
    words = [state.engine.value if state.engine is not Engine.RUNNING else str(check.speed)]
    facts = {
        "key on": state.key_on and state.engine is Engine.OFF and state.load is Load.NONE,
        "lights on": state.lights_on and state.load is Load.NONE,
        "plug open": not state.plug_in,
        "battery lead off": not state.battery_in,
        str(check.warmth): check.warmth is not None,
        state.load.value.replace("_", " "): state.load is not Load.NONE,
        "full field": state.full_field,
        "charged": check.charged is True,
        "battery as found": check.charged is False,
    }
    words += [text for text, holds in facts.items() if holds]
    words += [f"only with {word.replace('_', ' ')}" for word in sorted(check.requires)]
    return ", ".join(words)


def _minutes(check: Check) -> str:
    return f"{check.minutes:g}" + (f" and {check.wait_h:g} h waiting" if check.wait_h else "")


def _openings() -> list[str]:
    names = kinds()
    trees = [load_book(kind).effort.access for kind in names]
    rows = [
        (
            f"`{opening.id}`",
            opening.parent or "",
            *(_tree_min(t.opening(opening.id).total_min) for t in trees),
        )
        for opening in trees[0].openings
    ]
    heads = ("id", "behind", *(name.replace("_", " ") for name in names))
    text = "Minutes to open and close again, paid once. A kind of machine may differ in order too."
    return ["## What has to be opened", "", text, "", *_rows(heads, rows), ""]


def _tree_min(minutes: float) -> str:
    return f"{minutes:.3g}"


def _switches(book: Book) -> list[str]:
    switches = book.effort.switches
    rows = [
        ("start the engine", f"{switches.start:g}"),
        ("keep it from starting while cranking", f"{switches.crank:g}"),
        ("warm up", f"{switches.warm_up:g}"),
        ("cool down", f"{switches.cool_down:g}"),
        ("alternator plug off, or on", f"{switches.plug:g}"),
        ("battery negative lead off, or on", f"{switches.battery_lead:g}"),
    ]
    return ["## Changing how the machine stands", "", *_rows(("change", "minutes"), rows), ""]


def _rows(heads: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> list[str]:
    lines = [heads, ("---",) * len(heads), *rows]
    return ["| " + " | ".join(cells) + " |" for cells in lines]
