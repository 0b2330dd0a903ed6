"""The table of readings: conditions, uncertainty, limit, verdict, and what each one moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from chargewright.diagnosis.explain import MOST_FACTOR, Evidence
from chargewright.diagnosis.findings import Assessment, Judged
from chargewright.diagnosis.question import Answer
from chargewright.machine.points import Function
from chargewright.machine.sources import Source
from chargewright.meters.verdict import reading_spread
from chargewright.report.document import Block, Bullets, Cell, Paragraph, Section, Table, Tone
from chargewright.report.say import figures, say
from chargewright.report.wording import (
    TONES,
    chance_words,
    dial_words,
    limit_words,
    outcome_words,
    plus_minus,
    reading_words,
    state_words,
)
from chargewright.workbench import Job

WIDTHS = (0.7, 7.0, 1.7, 1.3, 2.3, 1.9, 0.9, 2.0)
MOST_MOVED = 3
WORTH = 1.5  # odds factors nearer to 1 are not told, as in the assessment's own sentences


def reading_tables(job: Job, found: Assessment, sources: Sequence[Source]) -> list[Block]:
    """Return the readings that count, and those kept on the card without being reckoned with."""
    answers = (*job.case.answers, *job.case.proof)
    if not answers and not job.card.readings:
        return [Section(say("Readings")), Paragraph(say("None."))]
    number = {source.key: place for place, source in enumerate(sources, 1)}
    after = {answer.id for answer in job.case.proof}
    told, letters = {one.id: one for one in found.evidence}, cause_letters(found)
    meters = {answer.meter.id for answer in answers}
    rows: list[tuple[Cell, ...]] = []
    for answer in answers:
        judged = [one for one in found.judged if one.answer == answer]
        lines: Sequence[Judged | None] = judged or [None]
        for place, one in enumerate(lines):
            first = place == 0
            rows.append(
                (
                    *_what(answer, after=answer.id in after, several=len(meters) > 1, first=first),
                    *_verdict(one, number),
                    Cell(_moved(told.get(answer.id), letters) if first else ""),
                )
            )
    head = (
        say("No."),
        say("Reading; dial, red / black; state"),
        say("Shown"),
        say("± (95 %)"),
        say("Limit"),
        say("Verdict"),
        say("p"),
        say("Odds of causes"),
    )
    blocks: list[Block] = [Section(say("Readings"))]
    if rows:
        blocks.append(Table(head, tuple(rows), WIDTHS))
    return [*blocks, *_left_out(job)]


def _what(answer: Answer, *, after: bool, several: bool, first: bool) -> tuple[Cell, ...]:
    if not first:
        return Cell(""), Cell(""), Cell(""), Cell("")
    parts = [say(answer.title), dial_words(answer)]
    if answer.question.function is not Function.LOOK:
        parts.append(state_words(answer))
    if several:
        parts.append(say(answer.meter.title))
    text = "; ".join(parts)
    if after:
        text = say("AFTER REPAIR: {text}", text=text)
    return (
        Cell(answer.id, bold=True),
        Cell(text),
        Cell(reading_words(answer), bold=True),
        Cell(_uncertainty(answer)),
    )


def _uncertainty(answer: Answer) -> str:
    shown, function = answer.shown, answer.question.function
    if shown is None or shown.kind in ("overload", "continuity", "at_least", "at_most"):
        return ""
    half = reading_spread(answer.meter, function, shown, nulled=answer.nulled).half_width()
    return plus_minus(half, reading_words(answer))


def _verdict(one: Judged | None, number: dict[str, int]) -> tuple[Cell, ...]:
    if one is None:
        return Cell(say("none known")), Cell(""), Cell("")
    limit = limit_words(one.limit.low, one.limit.high, one.limit.unit)
    source = say("{limit} [{number}]", limit=limit, number=number[one.limit.source])
    tone = TONES[one.verdict.outcome]
    return (
        Cell(source),
        Cell(outcome_words(one), tone=tone, bold=tone is Tone.BAD),
        Cell(chance_words(one)),
    )


def _moved(one: Evidence | None, letters: Mapping[str, str]) -> str:
    """Return by what a reading multiplied the odds of the causes it moved most."""
    if one is None:
        return ""
    if one.doubt > 0.5:
        return say("{share} likely a slip: repeat", share=figures(f"{one.doubt:.0%}"))
    moved = [
        say(
            "{cause}\N{NO-BREAK SPACE}{factor}",
            cause=letters[told.cause],
            factor=factor_sign(told.factor),
        )
        for told in one.says
        if told.cause in letters and not 1.0 / WORTH < told.factor < WORTH
    ]
    return ", ".join(moved[:MOST_MOVED])


def factor_sign(factor: float) -> str:
    """Return an odds factor in short.

    >>> factor_sign(1431.9), factor_sign(0.4), factor_sign(2.13)
    ('×1400', '÷2.5', '×2.1')
    """
    size = min(max(factor, 1.0 / factor), MOST_FACTOR)
    digits = float(f"{size:.2g}")
    return figures(f"{'×' if factor >= 1.0 else '÷'}{digits:g}")


def cause_letters(found: Assessment) -> dict[str, str]:
    """Return a letter for each cause that is listed, the likeliest A."""
    return {one.id: chr(ord("A") + place) for place, one in enumerate(found.causes)}


def _left_out(job: Job) -> list[Block]:
    """Readings on the card that are not reckoned with, and why."""
    told = {answer.id for answer in (*job.case.answers, *job.case.proof)}
    lines = [
        say(
            "{name}, {shown}: {why}",
            name=one.id,
            shown="" if one.shown is None else one.shown.text or one.shown.qualifier.value,
            why=one.excluded or say("nothing usable was shown"),
        )
        for one in job.card.readings
        if one.id not in told
    ]
    if not lines:
        return []
    return [Paragraph(say("On the card, but not reckoned with:")), Bullets(tuple(lines))]
