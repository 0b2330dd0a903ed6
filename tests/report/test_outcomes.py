"""Each place a job can stand at gives a truthful report: what is said, and what is not."""

from __future__ import annotations

import pytest
from report.scenes import AFTER, FAULT, LEAD, MADE, REPAIR, card, job_of, volts, words

from chargewright import open_job
from chargewright.machine.cause_file import catalogue
from chargewright.report.customer import customer_report
from chargewright.report.document import Box, Document, Tone
from chargewright.report.outcome import Outcome, outcome_of
from chargewright.report.pdf import png_pages
from chargewright.report.workshop import workshop_report

SCENES = {
    "empty": (Outcome.UNMEASURED, "Nothing has been measured yet"),
    "open": (Outcome.OPEN, "Not finished: more has to be measured"),
    "undecided": (Outcome.CANNOT_TELL, "The cause could not be told with this meter"),
    "sound": (Outcome.NOTHING_WRONG, "Nothing wrong found in what was measured"),
    "charge": (Outcome.CHARGE, "Battery discharged: charge it and test again"),
    "charged": (Outcome.NOT_PROVED, "Charged and tested again: it may not have been"),
    "advised": (Outcome.ADVISED, "Found: burnt contact in the alternator plug"),
    "done": (Outcome.DONE, "Repaired, but not proved by measurement"),
    "proved": (Outcome.PROVED, "Repaired and proved by measurement"),
    "still": (Outcome.NOT_PROVED, "Repaired, but the readings do not prove it"),
    "left": (Outcome.NOT_PROVED, "Repaired, but the readings do not prove it"),
    "part": (Outcome.PART_DONE, "Repaired in part: more is advised"),
    "other": (Outcome.OTHER_REPAIR, "Repaired; the readings do not speak for it"),
}
CAUSES = [cause.title for cause in catalogue().causes]


def both(name: str) -> tuple[Document, Document]:
    """Return the customer's and the workshop's report of a scene."""
    job, found = job_of(name)
    return customer_report(job, found, made=MADE), workshop_report(job, found, made=MADE)


@pytest.mark.parametrize("name", SCENES)
def test_the_headline_is_where_the_job_stands(name: str) -> None:
    outcome, headline = SCENES[name]
    job, found = job_of(name)
    assert outcome_of(job, found) is outcome
    for document in both(name):
        box = next(block for block in document.blocks if isinstance(block, Box))
        assert box.headline.startswith(headline)
        assert (box.tone is Tone.GOOD) is (outcome in (Outcome.PROVED, Outcome.NOTHING_WRONG))


@pytest.mark.parametrize("name", [name for name in SCENES if name != "proved"])
def test_only_a_proved_repair_is_called_proved(name: str) -> None:
    for document in both(name):
        assert "proved by measurement" not in words(document).replace("not proved by", "")


@pytest.mark.parametrize("name", ["empty", "undecided"])
def test_without_a_finding_no_cause_is_named_to_the_customer(name: str) -> None:
    told = words(both(name)[0])
    assert [title for title in CAUSES if title in told] == []
    assert "Found:" not in told


def test_a_job_without_readings_shows_no_share_at_all() -> None:
    """The prior's shares are no finding about this machine."""
    assert "%" not in words(both("empty")[0])


@pytest.mark.parametrize("name", SCENES)
def test_the_customer_gets_one_page_and_the_workshop_two_at_most(name: str) -> None:
    customer, workshop = both(name)
    assert len(png_pages(customer, ppi=20.0)) == 1
    assert len(png_pages(workshop, ppi=20.0)) <= 2


def test_before_and_after_stand_together() -> None:
    told = words(both("proved")[0])
    assert "7.32 V before, 0.06 V after; should be at most 0.2 V." in told
    assert "13.40 V before, 14.31 V after" in told


def test_a_repair_of_another_part_is_not_credited_with_good_readings() -> None:
    """The battery was renewed, the plug measured good afterwards: nothing is claimed for it."""
    told = words(both("other")[0])
    assert "This report cannot say that the repair cured the fault." in told
    assert "replace the battery" in told


def test_what_a_repair_has_left_is_named_with_what_is_advised_now() -> None:
    """The plug was renewed and a second fault shows: the report says which, and what to do."""
    told = words(both("left")[0])
    assert "Repaired: renew the alternator plug and its contacts." in told
    assert "Likeliest of what is left: resistance in the charge lead (80%)." in told
    assert f"Advised: {LEAD}. Not done yet." in told
    assert "Chance that a fault is still there, by the readings after the repair: 95%." in told


def test_a_reading_outside_after_the_repair_stops_the_proof() -> None:
    """However small the chance of a fault is reckoned, 15.6 V charging is not passed over."""
    _, found = job_of("proved")
    bad = volts("p2", 15.6, stage="after_repair", battery_charged=True, engine="running",
                rpm="high", key_on=True, lights_on=True)  # fmt: skip
    other = open_job(card(readings=[*FAULT, AFTER[0], bad], repairs=[REPAIR]))
    judged = other.assess().judged
    from dataclasses import replace

    changed = replace(found, judged=judged)
    assert outcome_of(other, changed) is Outcome.NOT_PROVED
    assert "Outside its limit after the repair" in words(customer_report(other, changed, made=MADE))


def test_what_was_not_measured_is_told() -> None:
    told = words(both("sound")[0])
    for thing in ("the alternator itself", "under load or while cranking", "with the key off"):
        assert thing in told
    assert "the charging voltage" not in told  # that was measured


@pytest.mark.parametrize("name", SCENES)
def test_invented_data_say_so_and_care_is_shown(name: str) -> None:
    job, _ = job_of(name)
    customer, workshop = both(name)
    assert "Invented data" in customer.notice
    assert "Invented data" in workshop.notice
    assert job.case.book.cautions["maker_first"] in words(customer)


def test_notes_of_the_workshop_are_not_shown_to_the_customer() -> None:
    job = open_job(card(notes="pays late"))
    found = job.assess()
    assert "pays late" not in words(customer_report(job, found, made=MADE))
    assert "pays late" in words(workshop_report(job, found, made=MADE))


def test_every_reading_is_in_the_technical_report() -> None:
    job, found = job_of("proved")
    told = words(workshop_report(job, found, made=MADE))
    for answer in (*job.case.answers, *job.case.proof):
        assert f"\n{answer.id}\n" in told
        assert answer.title in told
    for one in found.judged:
        assert f"{one.verdict.outcome.value.replace('undecided', 'not decidable')}" in told.lower()


def test_readings_left_out_are_told_with_the_reason() -> None:
    lost = volts("r9", 1.25) | {"excluded": "probe slipped"}
    job = open_job(card(readings=[volts("r1", 12.31), lost]))
    told = words(workshop_report(job, job.assess(), made=MADE))
    assert "probe slipped" in told
