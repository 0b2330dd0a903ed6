"""The page of an assessment: the decision first, then what leads to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chargewright.checks.cautions import MAKER_FIRST
from chargewright.checks.word import describe
from chargewright.cli.screen import Cell, Screen
from chargewright.cli.step_page import show_expected, time_text
from chargewright.cli.words import (
    KIND_WORDS,
    OUTCOME_STYLES,
    OUTCOME_WORDS,
    minutes_text,
    percent,
    severity_text,
    verdict_text,
)
from chargewright.diagnosis.explain import shown_text, span_text
from chargewright.diagnosis.findings import Assessment, Decision, Judged, ProofFinding
from chargewright.jobs.assessment_json import unit_of
from chargewright.jobs.step_words import short_title
from chargewright.machine.points import Function
from chargewright.machine.sources import source_of

if TYPE_CHECKING:
    from chargewright.diagnosis.question import Answer
    from chargewright.workbench import Job

FEW_CAUSES, FEW_REMEDIES, FEW_ENERGY_LINES = 5, 2, 4


def show_assessment(screen: Screen, job: Job, found: Assessment, *, verbose: bool = False) -> None:
    """Write everything an assessment says."""
    show_head(screen, job)
    show_decision(screen, found)
    show_causes(screen, found, most=None if verbose else FEW_CAUSES)
    show_readings(screen, job, found, verbose=verbose)
    _steps(screen, found, verbose=verbose)
    screen.heading("Why")
    screen.bullets(found.explanation if verbose else reasons(found))
    show_energy(screen, job, verbose=verbose)
    _care(screen, job, found)
    if verbose:
        _made_from(screen, job, found)


def show_head(screen: Screen, job: Job) -> None:
    """Write which machine this is."""
    card = job.card
    screen.line(card.title or card.machine.label or card.id, "bold")
    about = [job.case.machine.title]
    if card.title and card.machine.label:
        about.insert(0, card.machine.label)
    screen.line("; ".join([*about, job.case.meter.title]))
    if card.invented:
        screen.line("Invented data for demonstration.", "yellow")


def show_decision(screen: Screen, found: Assessment) -> None:
    """Write what to do now, and why no more than that."""
    screen.heading("Do now")
    words, style = decision_words(found)
    screen.line(words, style)
    if found.repeat:
        names = ", ".join(found.repeat)
        screen.line(f"First take again what does not fit: {names}.", "yellow")
    if found.decision is Decision.CHECK:
        screen.line(
            f"Measuring on costs about {minutes_text(found.go_on_min)} on average, comebacks and "
            f"wrong parts counted; deciding now about {minutes_text(found.end_min)}."
        )
    elif found.decision is Decision.UNDECIDED:
        screen.line("What would decide:")
        screen.bullets(found.would_decide)
    else:
        screen.line(f"{percent(found.cure)} that nothing is left wrong after it.")
    show_unproved(screen, found)
    if found.remaining is not None:
        screen.line(f"After the repair: {percent(found.remaining)} that a fault is still there.")
    if found.proof:
        screen.line("Prove it afterwards:")
        screen.bullets([proof_text(one) for one in found.proof])


def show_unproved(screen: Screen, found: Assessment) -> None:
    """Write what the last repair behind has left, where there is one."""
    if found.unproved is None:
        return
    screen.line(f"Not proved: {found.unproved.title}.", "yellow")
    for one in found.unproved.outside:
        span = span_text(one.low, one.high, one.answer.question.function.unit)
        screen.line(f"{answer_line(one.answer)}; a sound machine reads {span}", indent=2)


def decision_words(found: Assessment) -> tuple[str, str]:
    """Return the decision in capitals and words, and its style."""
    if found.decision is Decision.CHECK:
        step = found.steps[0]
        return (
            f"MEASURE  {step.check.title} ({minutes_text(step.minutes, step.wait_h)})",
            "bold cyan",
        )
    if found.decision is Decision.UNDECIDED:
        return "CANNOT TELL with this meter", "bold yellow"
    if found.decision is Decision.NOTHING:
        if found.unproved is not None:
            return "NOTHING MORE FOUND", "bold yellow"
        return "NOTHING WRONG FOUND", "bold green"
    word = "CHARGE" if found.decision is Decision.CHARGE else "REPAIR"
    return f"{word}  {found.ending_title}", "bold red"


def proof_text(one: ProofFinding) -> str:
    """Return a check that proves a repair, and what a sound machine reads."""
    if one.check.function in (None, Function.LOOK):
        return one.check.title
    span = span_text(one.low, one.high, unit_of(one.check.function))
    left = percent(one.remaining)
    return f"{one.check.title}: {span}; then {left} that a fault is still there"


def show_causes(screen: Screen, found: Assessment, *, most: int | None) -> None:
    """Write causes with bars, how bad each would be, and the parts at fault in one line."""
    screen.heading("Most likely")
    cells = 8 if screen.narrow else 20
    rows: list[list[Cell]] = []
    for cause in found.causes[:most]:
        rows.append([percent(cause.share).rjust(4), screen.bar(cause.share, cells), cause.title])
        if cause.severity and (bad := severity_text(cause.severity)) != cause.title:
            rows.append(["", "", (bad, "dim")])
    screen.rows(rows)
    parts = [f"{one.id} {percent(one.share)}" for one in found.components if one.id != "none"]
    if parts:
        screen.line(f"By part: {', '.join(parts)}.")


def show_readings(screen: Screen, job: Job, found: Assessment, *, verbose: bool) -> None:
    """Write every reading and what it says about each of its limits."""
    answers = (*job.case.answers, *job.case.proof)
    if not answers:
        return
    screen.heading("Readings")
    if found.judged:
        screen.line("p: the chance that the true value is within the limit", "dim")
    for answer in answers:
        screen.line(f"{answer.id}  {answer_line(answer)}", "bold")
        mine = [one for one in found.judged if one.answer == answer]
        if not mine and answer.question.function is not Function.LOOK:
            screen.line("no limit known for it", "dim", indent=4)
        for one in mine:
            _judged(screen, one, verbose=verbose)


def _judged(screen: Screen, one: Judged, *, verbose: bool) -> None:
    outcome = one.verdict.outcome.value
    source = source_of(one.limit.source, "limit")
    where = source.text if verbose else KIND_WORDS[source.kind.value]
    text = f"{verdict_text(one)} ({where})"
    verdict = (f"    {OUTCOME_WORDS[outcome]}", OUTCOME_STYLES[outcome])
    if screen.narrow:
        screen.rows([[verdict]])
        screen.line(text, indent=6)
    else:
        screen.rows([[verdict, text]])
    advice = one.verdict.advice if verbose else one.verdict.advice[:FEW_REMEDIES]
    if advice:
        screen.line("to decide it:", "dim", indent=6)
        for text in advice:
            screen.rows([["      -", text]], gap=1)


def _steps(screen: Screen, found: Assessment, *, verbose: bool) -> None:
    if found.decision is not Decision.CHECK:
        return
    screen.heading("Next checks")
    for number, step in enumerate(found.steps, 1):
        screen.rows([[(f"{number}", "bold"), (step.check.title, "bold")]])
        screen.line(time_text(step), "dim", indent=3)
        if verbose or number == 1:
            question = step.question
            where = describe(question.function, question.plus, question.minus, question.state)
            screen.line(where, indent=3)
            show_expected(screen, step)
        if verbose:
            screen.line(step.check.how, indent=3)


def show_energy(screen: Screen, job: Job, *, verbose: bool) -> None:
    """Write the battery and energy answers kept on the card, as they were told then."""
    if not job.card.energy:
        return
    screen.heading("Battery and energy")
    for one in job.card.energy:
        screen.line(f"{one.kind}, {one.at:%Y-%m-%d}", "bold")
        said = one.said if verbose else one.said[:FEW_ENERGY_LINES]
        for text in said:
            screen.line(text, indent=2)


def reasons(found: Assessment) -> list[str]:
    """Return one sentence per reading: what it did to the leading causes."""
    if not found.evidence:
        return ["Nothing is measured yet: these are the usual shares, shifted by the complaint."]
    return [one.sentence for one in found.evidence]


def _care(screen: Screen, job: Job, found: Assessment) -> None:
    screen.heading("Care")
    if found.decision is Decision.CHECK:
        screen.bullets(found.steps[0].cautions)
    else:
        screen.bullets([job.case.book.cautions[MAKER_FIRST]])


def _made_from(screen: Screen, job: Job, found: Assessment) -> None:
    from chargewright import __version__

    screen.heading("Worked out from")
    screen.pairs(
        [
            ("meter", job.case.meter.title),
            ("leads", "nulled" if job.case.nulled else "not nulled"),
            ("machines", f"{found.machines:.0f} virtual machines in effect"),
            ("seed", str(job.case.seed)),
            ("version", __version__),
        ]
    )


def answer_line(answer: Answer) -> str:
    """Return one reading in one line."""
    return f"{shown_text(answer)}  {short_title(answer)}"
