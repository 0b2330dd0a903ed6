"""Choosing another check: by number, by id, or by a word of its title."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from chargewright.checks.catalogue import Check
from chargewright.cli.screen import Screen
from chargewright.cli.words import minutes_text
from chargewright.diagnosis.findings import Assessment, NextStep
from chargewright.errors import InputError
from chargewright.workbench import Job

MOST_FOUND = 12  # more titles than this do not help anybody choose


def show_options(screen: Screen, found: Assessment) -> None:
    """Write the best checks with numbers and minutes."""
    for number, step in enumerate(found.steps, 1):
        time = minutes_text(step.minutes, step.wait_h)
        screen.rows([[(str(number), "bold"), f"{step.check.title} ({time})"]])


def choose_check(
    job: Job, found: Assessment, screen: Screen, ask: Callable[[str], str], typed: str
) -> NextStep | None:
    """Return the check that ``typed`` means, asking where it is not clear; None for none.

    Raises ``InputError`` when nothing matches, or the reading can no longer be had.
    """
    steps: Sequence[NextStep | Check] = found.steps
    if not typed:
        show_options(screen, found)
        screen.line("Or a word: fuse, diode, AC, crank, look ...", "dim")
        typed = ask("Number or word (Enter: next best): ")
    while typed:
        one = _meant(job, steps, typed)
        if one is not None:
            return one if isinstance(one, NextStep) else job.step(one)
        steps = _search(job, typed)
        screen.rows([[(str(n), "bold"), _title(one)] for n, one in enumerate(steps, 1)])
        typed = ask("Number (Enter: none of them): ")
    return None


def _meant(job: Job, steps: Sequence[NextStep | Check], typed: str) -> NextStep | Check | None:
    if typed.isascii() and typed.isdigit():
        if not 0 < int(typed[:6]) <= len(steps):
            raise InputError(f"check {typed[:20]!r}: expected a number from 1 to {len(steps)}")
        return steps[int(typed) - 1]
    if typed.lower() in job.case.catalogue:
        return job.case.catalogue.get(typed.lower())
    matches = _search(job, typed)
    return matches[0] if len(matches) == 1 else None


def _search(job: Job, typed: str) -> list[Check]:
    """Return the checks whose id or title has every typed word; ``InputError`` for none."""
    words = typed.lower().split()
    found = [
        check
        for check in job.case.catalogue
        if not check.is_act and all(word in f"{check.id} {check.title}".lower() for word in words)
    ]
    if not found:
        raise InputError(f"no check here has {typed[:40]!r} in its name")
    if len(found) > MOST_FOUND:
        raise InputError(f"{len(found)} checks have {typed[:40]!r} in their names; add a word")
    return found


def _title(one: NextStep | Check) -> str:
    return one.check.title if isinstance(one, NextStep) else one.title
