"""The answer box of a report: what was found, how sure, and whether the repair is proved."""

from __future__ import annotations

from chargewright.diagnosis.decisions import CHARGE, UNDECIDED
from chargewright.diagnosis.findings import Assessment, Decision, Unproved
from chargewright.diagnosis.population import SOUND
from chargewright.jobs.proving import done_ids, outside_after
from chargewright.report.document import Box, Tone
from chargewright.report.evidence import at_fault, worst
from chargewright.report.outcome import Outcome, title_of
from chargewright.report.parts import part_name
from chargewright.report.say import say
from chargewright.report.wording import minutes_text, percent
from chargewright.workbench import Job

TONE = {
    Outcome.PROVED: Tone.GOOD,
    Outcome.NOTHING_WRONG: Tone.GOOD,
    Outcome.ADVISED: Tone.BAD,
    Outcome.CHARGE: Tone.BAD,
    Outcome.NOT_PROVED: Tone.BAD,
    Outcome.PART_DONE: Tone.BAD,
}


def answer_box(job: Job, found: Assessment, outcome: Outcome) -> Box:
    """Return the box for where the job stands."""
    headline, texts = TEXTS[outcome](job, found)
    return Box(TONE.get(outcome, Tone.OPEN), headline, texts)


def fault_words(found: Assessment) -> str:
    """Return what is at fault: the likeliest cause, or only the part where causes share it."""
    causes = at_fault(found)
    if not causes:
        return say(found.ending_title)
    first = causes[0]
    if first.share >= 0.5:
        return say(first.title)
    return part_name(first.component)


def sureness(found: Assessment) -> str:
    """Return how sure the fault is, one sentence."""
    parts = {cause.component for cause in at_fault(found)}
    shares = [one for one in found.components if one.id in parts]
    told = [
        say("{part}, {share}", part=part_name(one.id), share=percent(one.share)) for one in shares
    ]
    return say("Chance that the fault lies there: {parts}.", parts="; ".join(told)) if told else ""


def _unmeasured(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    return say("Nothing has been measured yet"), (
        say("This report says nothing about the state of the machine."),
    )


def _open(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    texts = [say("The cause is not certain enough to buy a part or to spend work on a repair.")]
    if found.causes:
        first = found.causes[0]
        texts.append(
            say(
                "Likeliest so far: {cause} ({share}).",
                cause=say(first.title),
                share=percent(first.share),
            )
        )
    texts += _next(found)
    return say("Not finished: more has to be measured"), tuple(texts)


def _next(found: Assessment) -> list[str]:
    """Return what to measure next, where anything is."""
    return [
        say(
            "Next check: {check}, {minutes}.",
            check=say(step.check.title),
            minutes=minutes_text(step.minutes, step.wait_h),
        )
        for step in found.steps[:1]
    ]


def _cannot_tell(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    return say("The cause could not be told with this meter"), (
        say("No part should be renewed on these readings: it would be a gamble."),
        *(say("What would decide: {means}.", means=say(text)) for text in found.would_decide),
    )


def _nothing(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    texts = [
        say(
            "Chance that nothing is wrong, judged by what was measured: {share}.",
            share=percent(found.cure),
        )
    ]
    for answer in job.case.answers:
        judged = worst(found, answer)
        if judged is not None and judged.verdict.outcome.value == "outside":
            texts.append(
                say(
                    "One reading is outside its limit all the same: {title}.",
                    title=say(answer.title),
                )
            )
    return say("Nothing wrong found in what was measured"), tuple(texts)


def _charge(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    return say("Battery discharged: charge it and test again"), (
        say("Until it has been charged and tested again no part can be blamed."),
        _cure(found),
    )


def _advised(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    return say("Found: {fault}", fault=fault_words(found)), (
        sureness(found),
        say("Advised: {repair}. Not done yet.", repair=say(found.ending_title)),
        _cure(found),
    )


def _done(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    if found.ending == CHARGE:
        return say("Charged, not tested again yet"), (
            say("Until it has been tested again no part can be blamed."),
        )
    return say("Repaired, but not proved by measurement"), (
        say("Found: {fault}. {sure}", fault=fault_words(found), sure=sureness(found)),
        _advice_followed(found),
        say("Nothing has been measured since, so this report cannot say that the fault is gone."),
    )


def _proved(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    if found.ending == CHARGE:
        return say("Charged, tested again, and good"), (_remaining(found),)
    return say("Repaired and proved by measurement"), (
        say("Found: {fault}. {sure}", fault=fault_words(found), sure=sureness(found)),
        _advice_followed(found),
        _remaining(found),
    )


def _not_proved(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    done = found.unproved
    texts = [_advice_followed(found) if done is None else _repaired(done), _remaining(found)]
    titles = {answer.id: answer.title for answer in job.case.proof}
    for name in outside_after(job.case, found):
        texts.append(say("Outside its limit after the repair: {title}.", title=say(titles[name])))
    if found.ending == CHARGE:
        return say("Charged and tested again: it may not have been the charge alone"), tuple(texts)
    if done is not None:
        texts += _what_is_left(found)
    return say("Repaired, but the readings do not prove it"), tuple(texts)


def _repaired(done: Unproved) -> str:
    return say("Repaired: {repair}.", repair=say(done.title))


def _what_is_left(found: Assessment) -> list[str]:
    """Return what is still wrong by the readings after a repair, and what to do about it."""
    first = next((one for one in found.causes if one.id != SOUND), None)
    texts = []
    if first is not None:
        texts.append(
            say(
                "Likeliest of what is left: {cause} ({share}).",
                cause=say(first.title),
                share=percent(first.share),
            )
        )
    if found.decision is Decision.REPAIR:
        texts.append(say("Advised: {repair}. Not done yet.", repair=say(found.ending_title)))
    return texts + (_next(found) if found.decision is Decision.CHECK else [])


def _part(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    left = [name for name in found.ending.split("+") if name not in done_ids(job.card, found)]
    return say("Repaired in part: more is advised"), (
        say("Found: {fault}. {sure}", fault=fault_words(found), sure=sureness(found)),
        say("Not done yet: {repairs}.", repairs="; ".join(say(title_of(name)) for name in left)),
        say("Until then no reading can prove the repair."),
    )


def _other(job: Job, found: Assessment) -> tuple[str, tuple[str, ...]]:
    texts = [say("What was repaired is not what the readings point to.")]
    if found.ending != UNDECIDED:
        texts.append(say("They point to: {ending}.", ending=say(found.ending_title)))
    texts.append(say("This report cannot say that the repair cured the fault."))
    return say("Repaired; the readings do not speak for it"), tuple(texts)


def _cure(found: Assessment) -> str:
    return say("Chance that nothing is left wrong after it: {share}.", share=percent(found.cure))


def _advice_followed(found: Assessment) -> str:
    return say("Advised, and done: {repair}.", repair=say(found.ending_title))


def _remaining(found: Assessment) -> str:
    if found.remaining is None:
        return say("How likely a fault is still there is not known.")
    return say(
        "Chance that a fault is still there, by the readings after the repair: {share}.",
        share=percent(found.remaining),
    )


TEXTS = {
    Outcome.UNMEASURED: _unmeasured,
    Outcome.OPEN: _open,
    Outcome.CANNOT_TELL: _cannot_tell,
    Outcome.NOTHING_WRONG: _nothing,
    Outcome.CHARGE: _charge,
    Outcome.ADVISED: _advised,
    Outcome.DONE: _done,
    Outcome.PROVED: _proved,
    Outcome.NOT_PROVED: _not_proved,
    Outcome.PART_DONE: _part,
    Outcome.OTHER_REPAIR: _other,
}
