"""Where a job stands, told from the card and its assessment. A report claims no more than this."""

from __future__ import annotations

from enum import StrEnum

from chargewright.diagnosis.decisions import CHARGE, NOTHING, UNDECIDED
from chargewright.diagnosis.findings import Assessment, Decision
from chargewright.jobs.card import Repair
from chargewright.jobs.proving import done_ids, is_proved, read_since, under_way
from chargewright.jobs.rounds import repair_id
from chargewright.machine.cause_file import catalogue
from chargewright.workbench import Job

POINTED_TO = 0.5  # chance of a cure from which the readings pointed to what was repaired


class Outcome(StrEnum):
    """Where a job stands."""

    UNMEASURED = "unmeasured"
    OPEN = "open"  # the next check is worth its minutes
    CANNOT_TELL = "cannot_tell"
    NOTHING_WRONG = "nothing_wrong"
    CHARGE = "charge"  # charge and test again, not done yet
    ADVISED = "advised"  # a repair, not done yet
    DONE = "done"  # what was advised is done, nothing measured since
    PROVED = "proved"
    NOT_PROVED = "not_proved"  # measured since, but the fault may still be there
    PART_DONE = "part_done"  # some of what was advised is done
    OTHER_REPAIR = "other_repair"  # repaired, but not what the readings point to


def outcome_of(job: Job, found: Assessment) -> Outcome:
    """Return where a job stands.

    A repair counts as proved when what the readings point to is what was done, the chance that
    the fault is still there is small enough, and no reading after it lies outside a limit. A
    repair that its readings have not proved stays so until another is done.
    """
    if not job.case.answers and not job.case.proof:
        return Outcome.UNMEASURED
    if found.unproved is not None and not under_way(job.case, found):
        hoped = found.unproved.cure >= POINTED_TO
        return Outcome.NOT_PROVED if hoped else Outcome.OTHER_REPAIR
    ending = set(found.ending.split("+"))
    done = done_ids(job.card, found)
    if ending <= done and found.ending not in (NOTHING, UNDECIDED):
        return _after(found, job)
    if ending & done:
        return Outcome.PART_DONE
    if done - {CHARGE}:
        return Outcome.OTHER_REPAIR
    return {
        Decision.CHECK: Outcome.OPEN,
        Decision.UNDECIDED: Outcome.CANNOT_TELL,
        Decision.NOTHING: Outcome.NOTHING_WRONG,
        Decision.CHARGE: Outcome.CHARGE,
        Decision.REPAIR: Outcome.ADVISED,
    }[found.decision]


def _after(found: Assessment, job: Job) -> Outcome:
    if not read_since(job.case, found) or found.remaining is None:
        return Outcome.DONE
    return Outcome.PROVED if is_proved(job.case, found) else Outcome.NOT_PROVED


def cause_title(name: str) -> str:
    """Return a cause in words; the card's own word where no catalogue knows it."""
    titles = {cause.id: cause.title for cause in catalogue().causes}
    return titles.get(name, name)


def repair_title(repair: Repair) -> str:
    """Return what was put right, in words; the card's own word where no catalogue knows it."""
    return title_of(repair_id(repair) or str(repair.cause))


def title_of(name: str) -> str:
    """Return a repair's id in words; the id where no catalogue knows it."""
    titles = {cause.repair.id: cause.repair.title for cause in catalogue().causes}
    return titles.get(name, name)
