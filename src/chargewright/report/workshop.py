"""The pages for another workshop: every reading, limit, probability and what made the answer."""

from __future__ import annotations

from datetime import datetime

from chargewright.diagnosis.findings import Assessment, Decision
from chargewright.diagnosis.prove import ENOUGH
from chargewright.machine.sources import Source, source_of
from chargewright.report.answer import answer_box
from chargewright.report.document import (
    Block,
    Bullets,
    Cell,
    Document,
    Facts,
    Paragraph,
    Picture,
    Pictures,
    Section,
    Table,
)
from chargewright.report.evidence import compared, not_tested
from chargewright.report.head import done_lines, facts_of, foot_of, invented_notice, shortened
from chargewright.report.origin import SHOWN, catalogue_fingerprint, code_fingerprint
from chargewright.report.outcome import cause_title, outcome_of
from chargewright.report.readings import cause_letters, reading_tables
from chargewright.report.say import figures, language, say
from chargewright.report.wording import (
    limit_words,
    minutes_text,
    percent,
    reading_words,
    severity_text,
)
from chargewright.version import __version__
from chargewright.workbench import Job

MOST_NOTES = 600
MOST_DONE = 12


def workshop_report(
    job: Job, found: Assessment, *, made: datetime, pictures: tuple[Picture, ...] = ()
) -> Document:
    """Return the technical report. ``pictures`` are drawn by ``drawing.pictures_of``."""
    sources = _sources(found)
    blocks: list[Block] = [
        Facts(tuple(pair for pair in _facts(job) if pair[1])),
        answer_box(job, found, outcome_of(job, found)),
        Paragraph(_decision(found)),
        Section(say("Causes")),
        *_causes(found),
        *reading_tables(job, found, sources),
        *_proof(job, found),
        *_repairs(job),
        *_open(job, found),
        *_notes(job),
        Section(say("Sources of the limits")),
        *_source_list(sources),
        Section(say("Made from")),
        Facts(tuple(_made_from(job, found))),
        Paragraph(_repeat(), small=True),
        *_drawn(pictures),
    ]
    return Document(
        title=say("Technical report: charging system"),
        subtitle=job.card.title or job.card.machine.label,
        notice=invented_notice(job.card),
        blocks=tuple(blocks),
        language=language(),
        foot=foot_of(job.card, made),
        dense=True,
    )


def _drawn(pictures: tuple[Picture, ...]) -> list[Block]:
    return [Section(say("Pictures")), Pictures(pictures)] if pictures else []


def _facts(job: Job) -> list[tuple[str, str]]:
    leads = say("leads nulled") if job.case.nulled else say("leads not nulled")
    meter = say("{meter}; {leads}", meter=say(job.case.meter.title), leads=leads)
    air = say("{degrees} °C", degrees=figures(f"{job.card.ambient_c:g}"))
    return [
        *facts_of(job),
        (say("Meter"), meter),
        (say("Air"), air),
    ]


def _decision(found: Assessment) -> str:
    """Return the decision with what it costs, and what the figures mean."""
    end, go_on = minutes_text(found.end_min), minutes_text(found.go_on_min)
    if found.decision is Decision.CHECK:
        return say(
            "Decision: measure on. Expected loss {go_on}, against {end} when ended now as "
            "“{ending}” (cures with chance {cure}). Loss counts minutes of measuring, work and "
            "parts in vain, and comebacks.",
            go_on=go_on,
            end=end,
            ending=say(found.ending_title),
            cure=percent(found.cure),
        )
    return say(
        "Decision: {ending}. Chance that nothing is left wrong after it {cure}; expected loss "
        "{end} (work and parts in vain, comebacks, turned into minutes). No further check repays "
        "its minutes.",
        ending=say(found.ending_title),
        cure=percent(found.cure),
        end=end,
    )


def _causes(found: Assessment) -> list[Block]:
    letters = cause_letters(found)
    rows = tuple(
        (
            Cell(letters[one.id], bold=True),
            Cell(percent(one.share), bold=True),
            Cell(say(one.title)),
            Cell(severity_text(one.severity) if one.severity else ""),
            Cell(say(one.repair_title)),
        )
        for one in found.causes
    )
    head = ("", say("Chance"), say("Cause"), say("How bad, 90 % span"), say("Repair"))
    parts = ", ".join(
        say("{part} {share}", part=say(one.id), share=percent(one.share))
        for one in found.components
        if one.id != "none"
    )
    blocks: list[Block] = [Table(head, rows, (0.3, 0.9, 3.6, 4.6, 3.6))]
    if parts:
        text = say(
            "By part: {parts}. Two faults at once make these add up to more than 100 %.",
            parts=parts,
        )
        blocks.append(Paragraph(text, small=True))
    return blocks


def _proof(job: Job, found: Assessment) -> list[Block]:
    pairs = compared(job.case, found)
    if not pairs and not found.proof:
        return []
    blocks: list[Block] = [Section(say("Proof of the repair"))]
    if found.proof:
        head = (say("Check"), say("A repaired machine reads"), say("Fault then still there"))
        rows = tuple(
            (
                Cell(say(one.check.title)),
                Cell(limit_words(one.low, one.high, one.question.function.unit)),
                Cell(percent(one.remaining)),
            )
            for one in found.proof
        )
        blocks.append(Table(head, rows, (5.0, 3.0, 2.0)))
    if pairs:
        lines = []
        for pair in pairs:
            assert pair.after is not None
            before = "" if pair.before is None else reading_words(pair.before)
            after = reading_words(pair.after)
            title = say(pair.after.title)
            lines.append(
                say(
                    "{title}: {before} before, {after} after",
                    title=title,
                    before=before,
                    after=after,
                )
                if before
                else say("{title}: {after} after", title=title, after=after)
            )
        blocks.append(Bullets(tuple(lines)))
    if found.remaining is not None:
        left, enough = figures(f"{found.remaining:.2%}"), figures(f"{ENOUGH:.0%}")
        text = say(
            "Chance that a fault remains, by the readings after the repair: {left}; below {enough} "
            "counts as proved. It is reckoned for the repair “{ending}”.",
            left=left,
            enough=enough,
            ending=say(_proved_title(job, found)),
        )
    else:
        text = say("Nothing has been measured after a repair yet.")
    return [*blocks, Paragraph(text)]


def _proved_title(job: Job, found: Assessment) -> str:
    """Return the repair that the readings after it speak of."""
    done = job.case.mended[-1].title if job.case.mended else ""
    return done or found.ending_title


def _repairs(job: Job) -> list[Block]:
    lines = done_lines(job.card)[:MOST_DONE]
    known = job.card.confirmed_cause
    if known is not None:
        names = ", ".join(say(cause_title(name)) for name in (known.cause, *known.also))
        lines.append(
            say(
                "Confirmed cause: {cause} ({how}).",
                cause=names,
                how=say(known.by.value.replace("_", " ")),
            )
        )
    return [Section(say("Done")), Bullets(tuple(lines))] if lines else []


def _open(job: Job, found: Assessment) -> list[Block]:
    """What stays open: readings to repeat, verdicts not decidable and what would decide them."""
    lines = [say("Repeat {name}: it does not fit the others.", name=name) for name in found.repeat]
    for one in found.judged:
        if one.verdict.outcome.value == "undecided" and one.verdict.advice:
            lines.append(
                say(
                    "{name} against {limit}: {how}.",
                    name=one.answer.id,
                    limit=limit_words(one.limit.low, one.limit.high, one.limit.unit),
                    how="; ".join(say(text) for text in one.verdict.advice[:2]),
                )
            )
    lines += [say("What would decide: {means}.", means=say(text)) for text in found.would_decide]
    missing = not_tested(job.case)
    if missing:
        lines.append(say("Not measured: {things}.", things="; ".join(missing)))
    return [Section(say("Left open")), Bullets(tuple(lines))] if lines else []


def _notes(job: Job) -> list[Block]:
    text = shortened(job.card.notes, MOST_NOTES)
    return [Section(say("Notes on the card")), Paragraph(text)] if text else []


def _sources(found: Assessment) -> tuple[Source, ...]:
    keys = dict.fromkeys(one.limit.source for one in found.judged)
    return tuple(source_of(key, "limit") for key in keys)


def _source_list(sources: tuple[Source, ...]) -> list[Block]:
    if not sources:
        return [Paragraph(say("No limit is known for these readings."), small=True)]
    return [
        Paragraph(
            "  ".join(
                say("[{number}] {text}.", number=number, text=say(source.text).rstrip("."))
                for number, source in enumerate(sources, 1)
            ),
            small=True,
        )
    ]


def _made_from(job: Job, found: Assessment) -> list[tuple[str, str]]:
    own = job.workshop.checks_file is not None or job.workshop.prices_file is not None
    return [
        (say("Program"), f"Chargewright {__version__}"),
        (say("Class"), job.card.machine.class_id),
        (say("Seed"), str(job.case.seed)),
        (say("Catalogue"), catalogue_fingerprint(job)[:SHOWN]),
        (say("Model"), code_fingerprint()[:SHOWN]),
        (say("Data"), say("own checks or prices") if own else say("as shipped")),
        (say("Machines"), say("{number} in effect", number=f"{found.machines:.0f}")),
        (say("Log evidence"), figures(f"{found.log_evidence:.3f}")),
    ]


def _repeat() -> str:
    return say(
        "To repeat it: the JSON export of this report (inside the PDF too) holds the job card; the "
        "same program, catalogue and seed give the same figures. ± covers 95 %, a speed's ± is one "
        "standard uncertainty. p: the chance to be within the limit; inside or outside when at "
        "least 95 % of the values the reading leaves possible are (probability of conformance, "
        "JCGM 106:2012). × and ÷: what the reading did to the odds of a cause, all others known. "
        "Probabilities rest on assumed shares of causes; without limits of the maker's manual the "
        "usual ones of the class count."
    )
