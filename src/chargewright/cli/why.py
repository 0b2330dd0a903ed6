"""``chargewright why``: the counter-question, the other check, what would change the decision."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from chargewright.cli.open import card_argument, open_card, workshop_options

NO_FIGURE = 1e-3  # V, ohm or A: above less than this means any figure at all

if TYPE_CHECKING:
    from chargewright.cli.screen import Cell, Screen
    from chargewright.diagnosis.counter import IfRead, WhatIf
    from chargewright.diagnosis.flips import Flip
    from chargewright.diagnosis.habit import Comparison, Weighed


@click.command(short_help="What would it have read if ...? Why this check? What would change it?")
@card_argument
@click.option("--if", "cause", metavar="CAUSE", help="What would it have read, were it CAUSE?")
@click.option(
    "--instead", metavar="CHECK", help="Compare with CHECK; else with the usual order's next."
)
@workshop_options
def why(
    card: Path,
    cause: str | None,
    instead: str | None,
    checks_file: Path | None,
    prices: Path | None,
) -> None:
    """Say why CARD is decided as it is.

    With --if, what every reading would have been under a cause, and which speaks most against
    it. Else why the planned check and not the usual one, and which result would change the
    decision.
    """
    job = open_card(card, checks_file, prices)
    from chargewright.cli.screen import Screen, working

    screen = Screen.here()
    if cause is not None:
        with working("Working it out, up to a minute the first time"):
            found = job.what_if(cause)
        show_what_if(screen, found)
        return
    with working("Working it out, up to a minute the first time"):
        comparison, flips = job.why_not(instead), job.what_would_change()
        decision = job.assess().ending_title
    show_comparison(screen, comparison)
    show_flips(screen, flips, decision)


def show_what_if(screen: Screen, found: WhatIf) -> None:
    """Write every reading under one cause."""
    from chargewright.cli.words import percent
    from chargewright.diagnosis.counter import FITS
    from chargewright.diagnosis.explain import band_text, shown_text
    from chargewright.jobs.step_words import short_title

    screen.line(f"If it were: {found.title}", "bold")
    screen.line(f"As things stand: {percent(found.share)}.")
    if not found.reads:
        screen.line("Nothing is read yet.")
        return
    for one in found.reads:
        expected = band_text(one.expected, one.answer.question.function)
        screen.line(f"{one.answer.id}  {short_title(one.answer)}", "bold")
        word, style = fit_words(one)
        screen.pairs(
            [("read", shown_text(one.answer)), ("expected", expected), ("fit", (word, style))]
        )
    worst = found.worst
    if worst is not None and worst.fit < FITS:
        screen.line(f"Speaks most against it: {worst.answer.id}, {short_title(worst.answer)}.")
    else:
        screen.line("Every reading fits it.")
    if any(one.rough for one in found.reads):
        screen.line("Rough: hardly any machine with this cause fits the other readings.", "yellow")


def fit_words(one: IfRead) -> tuple[str, str]:
    """Return how well a reading fits, in words, and their style."""
    from chargewright.cli.words import percent
    from chargewright.diagnosis.counter import FITS, STRANGE
    from chargewright.machine.points import Function

    look = one.answer.question.function is Function.LOOK
    told = "seen so in" if look else "as far out or further in"
    text = f"{told} {percent(one.fit)} of such machines"
    if one.fit >= FITS:
        return f"fits: {text}", "green"
    if one.fit >= STRANGE:
        return f"odd: {text}", "yellow"
    return f"does not fit: {text}", "bold red"


def show_comparison(screen: Screen, found: Comparison | None) -> None:
    """Write why the planned check, in minutes."""
    if found is None:
        screen.line("No check repays its minutes any more, or the usual order is through.")
        return
    if found.planned.check.id == found.other.check.id:
        screen.line(f"The usual order would do the same: {found.planned.check.title}.", "bold")
        screen.pairs(_numbers(found.planned))
        return
    screen.line(f"Why {found.planned.check.title}", "bold")
    screen.pairs(_numbers(found.planned))
    screen.line(f"and not {found.other.check.title}", "bold")
    screen.pairs(_numbers(found.other))
    gap = found.other.total_min - found.planned.total_min
    screen.line(
        f"Begun with the other, the job costs {gap:.0f} min more on average, comebacks and wrong "
        f"parts counted; ended now {found.end_min:.0f} min."
        if gap >= 0.5
        else "Looking this far ahead the two cost the same."
    )


def _numbers(one: Weighed) -> list[tuple[str, Cell]]:
    looks = "by itself" if one.depth == 1 else f"looking {one.depth} checks ahead"
    return [
        ("costs", f"{one.first_min:.0f} min from here"),
        ("saves", f"{one.alone_min:.0f} min by its result alone"),
        ("job", f"{one.total_min:.0f} min in all, {looks}"),
    ]


def show_flips(screen: Screen, flips: tuple[Flip, ...], decision: str) -> None:
    """Write which results would change the decision."""
    from chargewright.cli.words import percent

    screen.heading("What would change the decision")
    screen.line(f"Ending now: {decision}.")
    if not flips:
        screen.line("No single check would change it.")
        return
    for one in flips:
        then = "in doubt again, measure on" if one.in_doubt else one.ending.title
        likeliest = f"likeliest {one.leading}, {percent(one.leading_share)}"
        screen.bullets(
            [f"{one.check.title}: {result_text(one)} ({percent(one.chance)}). {then}; {likeliest}."]
        )


def result_text(one: Flip) -> str:
    """Return a result in words: below, above, between, OL, seen."""
    from chargewright.cli.words import quantity
    from chargewright.diagnosis.explain import span_text

    if one.seen is not None:
        return "the sign is there" if one.seen else "no sign"
    if one.over:
        return "OL"
    unit = one.check.function.unit if one.check.function is not None else ""
    if one.low is not None and one.high is not None:
        return span_text(one.low, one.high, unit)
    if one.low is not None and abs(one.low) > NO_FIGURE:
        return f"above {quantity(one.low, unit, digits=3)}"
    if one.high is not None:
        return f"below {quantity(one.high, unit, digits=3)}"
    return "any figure"
