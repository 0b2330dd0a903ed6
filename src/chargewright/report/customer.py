"""The page for the customer: complaint, finding, proof, what was done, what is left open."""

from __future__ import annotations

from datetime import datetime

from chargewright.checks.cautions import MAKER_FIRST
from chargewright.diagnosis.decisions import CHARGE
from chargewright.diagnosis.findings import Assessment
from chargewright.diagnosis.question import Answer
from chargewright.jobs.card import JobCard
from chargewright.jobs.proving import done_ids
from chargewright.meters.verdict import Outcome as Verdict
from chargewright.report.answer import answer_box
from chargewright.report.comparison import comparison_picture
from chargewright.report.document import (
    Block,
    Bullets,
    Document,
    Facts,
    Paragraph,
    Picture,
    Pictures,
    Section,
)
from chargewright.report.evidence import (
    Compared,
    at_fault,
    compared,
    deciding,
    not_tested,
    worst,
    zone_of,
)
from chargewright.report.head import (
    MOST_NAME,
    done_lines,
    facts_of,
    foot_of,
    invented_notice,
    shortened,
)
from chargewright.report.outcome import Outcome, outcome_of
from chargewright.report.parts import part_words
from chargewright.report.say import language, say
from chargewright.report.wording import (
    limit_words,
    percent,
    reading_words,
)
from chargewright.workbench import Job

MOST_PICTURES = 4
MOST_ALONE = 3  # readings without a like after the repair
MOST_DONE = 5
FAULT_TOLD = (
    Outcome.ADVISED,
    Outcome.CHARGE,
    Outcome.DONE,
    Outcome.PART_DONE,
    Outcome.PROVED,
)


def customer_report(job: Job, found: Assessment, *, made: datetime) -> Document:
    """Return the customer's page. ``made`` is the moment of writing."""
    card, outcome = job.card, outcome_of(job, found)
    blocks: list[Block] = [
        Facts(tuple(pair for pair in facts_of(job) if pair[1])),
        answer_box(job, found, outcome),
        *_meaning(found, outcome),
        *_proof(job, found, outcome),
        *_done(card),
        Section(say("Advice")),
        Bullets(tuple(_advice(job, found, outcome))),
        *_untested(job, outcome),
        Section(say("Take care")),
        Bullets(tuple(_cautions(job, outcome))),
    ]
    return Document(
        title=say("Charging system report"),
        subtitle=shortened(card.title or card.machine.label, MOST_NAME),
        notice=invented_notice(card),
        blocks=tuple(blocks),
        language=language(),
        foot=foot_of(card, made),
        one_page=True,
    )


def _meaning(found: Assessment, outcome: Outcome) -> list[Block]:
    """What the part at fault does; only where a part is said to be at fault."""
    told = (*FAULT_TOLD, Outcome.NOT_PROVED)
    if outcome not in told:
        return []
    does = dict.fromkeys(part_words(cause.component) for cause in at_fault(found)[:2])
    texts = [text for text in does if text]
    return [Section(say("What it means")), *(Paragraph(text) for text in texts)] if texts else []


def _proof(job: Job, found: Assessment, outcome: Outcome) -> list[Block]:
    if outcome is Outcome.UNMEASURED:
        return []
    pairs = proof_pairs(job, found)
    title = {
        Outcome.PROVED: say("The proof: before and after the repair"),
        Outcome.NOT_PROVED: say("Before and after the repair"),
        Outcome.OTHER_REPAIR: say("What was measured"),
        Outcome.PART_DONE: say("What was measured"),
        Outcome.NOTHING_WRONG: say("What was measured"),
        Outcome.OPEN: say("What was measured so far"),
        Outcome.CANNOT_TELL: say("What was measured"),
    }.get(outcome, say("What the finding rests on"))
    drawn: list[Picture] = []
    for number, pair in enumerate(pairs):
        picture = comparison_picture(pair, title=say(pair.answer.title), name=f"c{number}")
        if picture is not None:
            drawn.append(picture)
    seen = [pair.answer for pair in pairs if pair.answer.seen is not None]
    looks = [
        say("{title}: {shown}.", title=say(answer.title), shown=reading_words(answer))
        for answer in seen
    ]
    blocks: list[Block] = [Section(title), Paragraph(count_words(job, found))]
    if drawn:
        blocks.append(Pictures(tuple(drawn)))
    if looks:
        blocks.append(Bullets(tuple(looks)))
    return blocks


def count_words(job: Job, found: Assessment) -> str:
    """Return how many readings there are and how they lie to their limits, one sentence."""
    told = []
    for answers, text in (
        (job.case.answers, say("Readings {count}")),
        (job.case.proof, say("after the repair {count}")),
    ):
        if answers:
            told.append(text.format(count=_counted(answers, found)))
    return say("{parts}.", parts="; ".join(told))


def _counted(answers: tuple[Answer, ...], found: Assessment) -> str:
    worsts = [one for one in (worst(found, answer) for answer in answers) if one is not None]
    outcomes = [one.verdict.outcome for one in worsts]
    lines = (
        (outcomes.count(Verdict.INSIDE), say("{number} inside the limit")),
        (outcomes.count(Verdict.OUTSIDE), say("{number} outside")),
        (outcomes.count(Verdict.UNDECIDED), say("{number} not decidable with this meter")),
        (len(answers) - len(outcomes), say("{number} without a known limit")),
    )
    kinds = ", ".join(text.format(number=number) for number, text in lines if number)
    return say("{all} ({kinds})", all=len(answers), kinds=kinds)


def proof_pairs(job: Job, found: Assessment) -> tuple[Compared, ...]:
    """Return what the customer is shown: pairs before and after, then the readings that decided."""
    case = job.case
    pairs = list(compared(case, found))
    pairs.sort(key=lambda pair: pair.before is None)  # with a before first, else the card's order
    used = {pair.before.id for pair in pairs if pair.before is not None}
    rest = [
        Compared(answer, None, zone_of(found, answer))
        for answer in _telling(job, found)
        if answer.id not in used
    ]
    return (*pairs[:MOST_PICTURES], *([] if pairs else rest[:MOST_ALONE]))


def _telling(job: Job, found: Assessment) -> list[Answer]:
    """Return readings a customer can follow: decided against a limit, or seen; outside first."""
    decisive = {answer.id for answer in deciding(job.case, found)}
    kept = []
    for answer in job.case.answers:
        judged = worst(found, answer)
        outcome = None if judged is None else judged.verdict.outcome
        seen = answer.seen is True and answer.id in decisive
        if seen or outcome in (Verdict.INSIDE, Verdict.OUTSIDE):
            kept.append((answer.id not in decisive, outcome is not Verdict.OUTSIDE, answer))
    return [answer for *_, answer in sorted(kept, key=lambda one: one[:2])]


def _done(card: JobCard) -> list[Block]:
    lines = done_lines(card)[:MOST_DONE]
    if not lines:
        return []
    return [Section(say("What was done")), Bullets(tuple(lines))]


def _advice(job: Job, found: Assessment, outcome: Outcome) -> list[str]:
    lines: list[str] = []
    if found.repeat:
        titles = {answer.id: answer.title for answer in job.case.answers}
        names = ", ".join(say(titles[name]) for name in found.repeat if name in titles)
        lines.append(
            say("A reading that does not fit the others is to be repeated: {names}.", names=names)
        )
    if outcome in (Outcome.ADVISED, Outcome.DONE) and found.proof:
        names = "; ".join(say(one.check.title) for one in found.proof)
        lines.append(say("Have the repair proved afterwards by measuring: {checks}.", checks=names))
    if outcome is Outcome.CHARGE:
        lines.append(
            say("Charge it fully, let it rest, and have battery and charging measured again.")
        )
    if outcome is Outcome.NOT_PROVED:
        lines.append(say("Have it measured further before relying on the machine."))
    if outcome in (Outcome.OPEN, Outcome.CANNOT_TELL, Outcome.UNMEASURED):
        lines.append(say("Do not rely on the machine until the cause is known."))
    if outcome in FAULT_TOLD:
        lines += _second(found)
    if outcome is Outcome.NOTHING_WRONG:
        lines.append(
            say("If the trouble comes back, note when it happens: cold, hot, after standing.")
        )
    low = resting_low(job, found)
    if low and outcome is not Outcome.CHARGE:
        lines.append(low)
    return lines or [say("Nothing beyond the usual service.")]


def _second(found: Assessment) -> list[str]:
    mended = {cause.id for cause in at_fault(found)}
    others = [one for one in found.causes if one.id not in mended and one.component != "none"]
    if not others or others[0].share < 0.02:
        return []
    return [
        say(
            "If the trouble comes back, look first at: {cause} ({share}).",
            cause=say(others[0].title),
            share=percent(others[0].share),
        )
    ]


def resting_low(job: Job, found: Assessment) -> str:
    """Return the advice to charge where the latest rested volts lie below their limit."""
    latest = ""
    if CHARGE in done_ids(job.card, found):
        return latest
    for one in found.judged:
        question = one.answer.question
        if question.function.value != "dc_v" or question.state.engine.value != "off":
            continue
        if question.state.load.value != "none" or {p.word for p in question.probe} != {
            "battery_pos",
            "battery_neg",
        }:
            continue
        below = one.limit.low is not None and one.verdict.value < one.limit.low
        latest = ""
        if below and one.verdict.outcome.value == "outside":
            latest = say(
                "The battery read {shown} at rest, {limit} is asked for: charge it fully, then "
                "have it tested.",
                shown=reading_words(one.answer),
                limit=limit_words(one.limit.low, None, one.limit.unit),
            )
    return latest


def _untested(job: Job, outcome: Outcome) -> list[Block]:
    missing = not_tested(job.case)
    lines = [say("Not measured: {what}.", what=text) for text in missing]
    lines.append(say("The rest of the machine was no part of this job."))
    return [Section(say("What was not tested")), Bullets(tuple(_joined(missing)))]


def _joined(missing: tuple[str, ...]) -> list[str]:
    lines = [say("Not measured: {things}.", things="; ".join(missing))] if missing else []
    return [*lines, say("Everything outside battery, alternator, regulator and their wiring.")]


def _cautions(job: Job, outcome: Outcome) -> list[str]:
    texts = job.case.book.cautions
    names = [MAKER_FIRST, "acid"]
    lithium = any(kind.value == "lifepo4" for kind in job.case.machine.chemistries)
    names.append("lithium_cold" if lithium else "hydrogen")
    if outcome is Outcome.CHARGE:
        names.append("bulged")
    return [say(texts[name]) for name in names]
