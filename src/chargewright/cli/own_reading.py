"""A reading of one's own: any dial position, any two points, any state that is safe."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from chargewright.checks.catalogue import has_point
from chargewright.checks.cautions import as_texts, caution_ids
from chargewright.checks.safety import refuse
from chargewright.checks.word import FUNCTION_WORDS, describe, match
from chargewright.cli.program import checked_fields
from chargewright.cli.screen import Screen
from chargewright.cli.state_words import EXAMPLE, parse_state
from chargewright.errors import InputError, nearest
from chargewright.jobs.case import speeds_of
from chargewright.jobs.reading import CardState, Reading
from chargewright.machine.points import POINT_TITLES, Function, Point
from chargewright.workbench import Job

Ask = Callable[[str], str]
Word = TypeVar("Word", bound=str)


class GivenUp(Exception):  # noqa: N818 - no error: the technician pressed Enter
    """Nothing was typed where a choice was asked for."""


def ask_own_reading(job: Job, screen: Screen, ask: Ask) -> Reading | None:
    """Return a reading asked for piece by piece, or None when an empty line gives it up.

    Raises ``UnsafeCheckError`` with the reason before the probes touch anything, and
    ``InputError`` for words that are not understood.
    """
    layout = job.case.machine.layout
    functions = [f for f in Function if f in job.case.meter.functions]
    points = [p for p in Point if has_point(layout, p)]
    try:
        function = _choose(screen, ask, "Dial", functions, [FUNCTION_WORDS[f] for f in functions])
        titles = [POINT_TITLES[p] for p in points]
        words = [p.word for p in points]
        plus = points[words.index(_choose(screen, ask, "Red probe on", words, titles))]
        minus = points[words.index(_pick(ask("Black probe on: "), words))]
    except GivenUp:
        return None
    screen.line(f"Machine state, as: {EXAMPLE}", "dim")
    fields = parse_state(ask("State (Enter: engine off, key off): "))
    with checked_fields("machine state"):
        card_state = CardState.model_validate(fields)
    state = card_state.machine_state(speeds_of(job.case.machine))
    refuse(function, plus, minus, state, layout=layout)
    screen.line(describe(function, plus, minus, state) + ".", "bold cyan")
    cautions = as_texts(caution_ids(function, plus, minus, state), job.case.book.cautions)
    screen.bullets(cautions[:-1], "yellow")
    same = match(function, plus, minus, state, job.case.catalogue)
    if same is not None:
        screen.line(f"That is the check {same.id}: {same.title}.", "dim")
    text = ask("Reading: ")
    if not text:
        return None
    with checked_fields("reading"):
        reading = job.free_reading(function.value, plus.word, minus.word, text, state=fields)
    if same is not None and (same.plus, same.minus) == (plus, minus):
        reading = reading.model_copy(update={"check": same.id})
    return reading


def _choose(
    screen: Screen, ask: Ask, question: str, words: Sequence[Word], titles: Sequence[str]
) -> Word:
    screen.rows([[str(n).rjust(2), title] for n, title in enumerate(titles, 1)])
    return _pick(ask(f"{question}: "), words)


def _pick(typed: str, words: Sequence[Word]) -> Word:
    typed = typed.strip().lower()
    if not typed:
        raise GivenUp
    if typed.isascii() and typed.isdigit():
        if 0 < int(typed) <= len(words):
            return words[int(typed) - 1]
        raise InputError(f"{typed[:20]!r}: expected a number from 1 to {len(words)}")
    for word in words:
        if typed == word:
            return word
    raise InputError(f"{typed[:40]!r}: expected a number or a word; {nearest(typed, words)}")
