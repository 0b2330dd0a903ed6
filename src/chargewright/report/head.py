"""What both reports say of a card: whose machine, complaint, what was done, head and foot."""

from __future__ import annotations

from datetime import datetime

from chargewright.jobs.card import JobCard
from chargewright.report.outcome import repair_title
from chargewright.report.say import say
from chargewright.report.wording import battery_words, complaint_words, day, use_words
from chargewright.version import __version__
from chargewright.workbench import Job

MOST_OWN_WORDS = 240  # characters of the customer's own words: the page stays one page
MOST_NOTE = 90
MOST_NAME = 70  # of a title or label on the customer's page


def invented_notice(card: JobCard) -> str:
    """Return the notice that a card is no real job; empty on a real one."""
    return say("Invented data for demonstration: no real machine.") if card.invented else ""


def foot_of(card: JobCard, made: datetime) -> str:
    """Return what stands at the foot of every page."""
    return say(
        "Job {id}, report of {day}, Chargewright {version}",
        id=card.id,
        day=day(made),
        version=__version__,
    )


def facts_of(job: Job) -> list[tuple[str, str]]:
    """Return whose machine it is and why it came; what nobody noted is left out later."""
    card = job.card
    own = shortened(card.complaint.text, MOST_OWN_WORDS)
    label = shortened(card.machine.label, MOST_NAME)
    title = say(job.case.machine.title)
    return [
        (
            say("Machine"),
            say("{label}; {class_title}", label=label, class_title=title) if label else title,
        ),
        (say("Mileage"), use_words(card)),
        (say("Battery"), battery_words(card.battery)),
        (say("Came in"), day(card.created)),
        (say("Complaint"), complaint_words(card)),
        (say("Customer's words"), say("“{words}”", words=own) if own else ""),
    ]


def shortened(text: str, most: int) -> str:
    """Return ``text`` on one line, cut at a word where it is longer than ``most``.

    >>> shortened("flat after three days", 12)
    'flat after …'
    """
    line = " ".join(text.split())
    if len(line) <= most:
        return line
    head = line[: most - 1]
    return f"{head.rsplit(' ', 1)[0] if ' ' in head else head} …"


def done_lines(card: JobCard) -> list[str]:
    """Return acts and repairs noted on the card, with their dates and notes."""
    acts = {"charge_battery": say("battery charged")}
    noted = [(acts.get(act.act, act.act), act.at, act.note) for act in card.done]
    noted += [(say(repair_title(one)), one.at, one.note) for one in card.repairs]
    lines = []
    for title, at, note in noted:
        text = title if at is None else say("{day}: {what}", day=day(at), what=title)
        own = shortened(note, MOST_NOTE)
        lines.append(say("{what} ({note})", what=text, note=own) if own else text)
    return lines
