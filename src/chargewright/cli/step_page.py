"""One check on the screen: where the probes go, the dial, the machine's state, what it may read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from chargewright.cli.screen import Cell, Screen
from chargewright.cli.words import minutes_text, percent
from chargewright.diagnosis.explain import band_text
from chargewright.jobs.step_words import dial_text, probe_pairs, state_words
from chargewright.machine.points import Function

if TYPE_CHECKING:
    from chargewright.diagnosis.findings import NextStep
    from chargewright.meters.card import MeterCard


def show_step(
    screen: Screen, step: NextStep, meter: MeterCard, *, cautions: Iterable[str] | None = None
) -> None:
    """Write a check for the bench. ``cautions`` replaces the step's own list."""
    question = step.question
    screen.line(f"{step.check.title}", "bold cyan")
    pairs: list[tuple[str, Cell]] = [
        *probe_pairs(question.function, question.plus, question.minus, dial_text(step, meter)),
        ("state", state_words(question.state)),
        ("how", step.check.how),
        ("time", time_text(step)),
    ]
    told = step.cautions if cautions is None else tuple(cautions)
    pairs += [("care" if number == 0 else "", (text, "yellow")) for number, text in enumerate(told)]
    screen.pairs(pairs)
    show_expected(screen, step)


def time_text(step: NextStep) -> str:
    """Return the minutes of a step and what they are made of."""
    total = minutes_text(step.minutes, step.wait_h)
    others = [
        f"{what.removeprefix('open and close: ')} {minutes:g}"
        for what, minutes in step.parts
        if what != step.check.title
    ]
    return f"{total}: {', '.join(others)}, the check {step.check.minutes:g}" if others else total


def show_expected(screen: Screen, step: NextStep) -> None:
    """Write what the check would read under each leading cause."""
    function = step.question.function
    rows: list[list[Cell]] = []
    for band in step.expected:
        if function is Function.LOOK:
            text = f"yes in {percent(band.overload)}"
        else:
            text = band_text(band, function)
        rows.append(["   ", (text, "bold"), band.title])
    if rows:
        screen.line("  would read" if function is not Function.LOOK else "  would be seen", "bold")
        screen.rows(rows, gap=2)
