"""``chargewright checks``: what can be measured, and how."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from chargewright.cli.open import FILE
from chargewright.cli.screen import Screen, echo_json

if TYPE_CHECKING:
    from chargewright.checks.catalogue import Check
    from chargewright.checks.load import Book


@click.command(short_help="List the checks, or how one is done.")
@click.argument("check_id", metavar="[ID]", required=False)
@click.option("--machine", metavar="CLASS", help="Only what exists on a machine of this class.")
@click.option("--checks", "own", type=FILE, help="Your own checks (TOML) over the shipped ones.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON.")
def checks(check_id: str | None, machine: str | None, own: Path | None, as_json: bool) -> None:
    """List the checks; with an ID, how it is done and what to take care of."""
    from chargewright.checks.catalogue import Catalogue
    from chargewright.checks.load import kind_of, load_book
    from chargewright.jobs.described import check_dict
    from chargewright.machine.classes import read_class

    if machine is None:
        book = load_book(own=own)
        known = Catalogue(book.checks)
    else:
        its = read_class(machine)
        book = load_book(kind_of(machine, own), own)
        known = book.catalogue(its.layout, its.speeds, lights_always_on=its.lights_always_on)
    if check_id is not None:
        check = known.get(check_id)
        if as_json:
            echo_json(check_dict(check, book))
        else:
            show_check(Screen.here(), check, book)
    elif as_json:
        echo_json([check_dict(check, book) for check in known])
    else:
        _list(Screen.here(), list(known))


def show_check(screen: Screen, check: Check, book: Book) -> None:
    """Write one check: probes, state, how, care."""
    from chargewright.checks.cautions import cautions_for
    from chargewright.cli.words import minutes_text
    from chargewright.jobs.described import state_text
    from chargewright.jobs.step_words import probe_pairs

    screen.line(check.title, "bold")
    screen.line(check.id, "dim")
    opened = [book.effort.access.opening(name).title for name in sorted(check.needs)]
    pairs = [
        *probe_pairs(check.function, check.plus, check.minus),
        ("state", state_text(check)),
        ("time", minutes_text(check.minutes, check.wait_h) + " once everything is open"),
        ("open", ", ".join(opened) or "nothing"),
        ("how", check.how),
    ]
    screen.pairs(pairs, indent=0)
    screen.heading("Care")
    screen.bullets(cautions_for(check, book.cautions))


def _list(screen: Screen, known: list[Check]) -> None:
    from chargewright.cli.words import minutes_text
    from chargewright.jobs.described import state_text
    from chargewright.jobs.step_words import probe_pairs

    for check in known:
        time = minutes_text(check.minutes, check.wait_h)
        screen.line(f"{check.id}  {check.title}", "bold")
        probes = ", ".join(f"{label} {text}".strip() for label, text in _short(check, probe_pairs))
        needs = f"; open {', '.join(sorted(check.needs))}" if check.needs else ""
        screen.line(
            f"{probes + '; ' if probes else ''}{state_text(check)}; {time}{needs}", indent=2
        )
    screen.line(f"{len(known)} checks. 'chargewright checks ID' tells how one is done.", "dim")


def _short(check: Check, pairs: Any) -> list[tuple[str, str]]:  # noqa: ANN401 - a function
    found = pairs(check.function, check.plus, check.minus)
    return [(label if label != "dial" else "", text) for label, text in found]
