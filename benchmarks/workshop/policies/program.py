"""The technician who does what the program says, through the front door.

Charging is played on: the battery goes on the charger, the card says so, the job continues.
After a repair the program's own proof checks are made; where they do not prove it, the same job
goes on from what the readings after the repair have left likely. Ablations are other cards,
workshops or jobs handed to the same technician.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from benchmarks.workshop.bench import CHARGE, Bench
from benchmarks.workshop.outcome import Verdict
from chargewright import Job, open_job
from chargewright.checks.catalogue import Check
from chargewright.diagnosis.findings import Decision, NextStep
from chargewright.diagnosis.question import Question
from chargewright.jobs.proving import next_proof, under_way
from chargewright.jobs.reading import Reading
from chargewright.machine.causes import Cause

MOST_STEPS = 30
MOST_ROUNDS = 3  # repairs of one machine: the first fault, a second, one more try
TINY = 1e-6

Card = Mapping[str, Any]
Opener = Callable[[Card], Job]


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What to do now: take ``step``, or end with ``repairs``; ``repeat`` are ids to read again."""

    decision: Decision
    repairs: frozenset[str] = frozenset()
    step: NextStep | None = None
    repeat: tuple[str, ...] = ()
    note: str = ""


Choose = Callable[[Job], Said]


def follow(job: Job) -> Said:
    """Return what the program itself says."""
    found = job.assess()
    step = found.steps[0] if found.decision is Decision.CHECK and found.steps else None
    ends = found.ending not in ("nothing", "undecided")
    return Said(
        decision=found.decision,
        repairs=frozenset(found.ending.split("+")) if ends else frozenset(),
        step=step,
        repeat=found.repeat,
        note=f"end {found.end_min:.0f} on {found.go_on_min:.0f}",
    )


def work(
    bench: Bench,
    *,
    opener: Opener = open_job,
    choose: Choose = follow,
    meter: Card | None = None,
) -> tuple[Verdict, bool]:
    """Work a job; return what was said first, and whether it ended undecided."""
    first: Verdict | None = None
    truth = bench.job.hidden.causes  # before charging mends some of it
    job = opener(_card(bench, meter))
    done = 0
    while True:
        said = _search(bench, job, choose)
        undecided = said.decision is Decision.UNDECIDED
        first = first or _verdict(job, said, truth)
        if not _going_well(job):
            if undecided:
                return first, True
            if not said.repairs - {CHARGE}:
                return first, False
            if done == MOST_ROUNDS:
                return first, True
            bench.repair(said.repairs - ({CHARGE} if bench.charged else set()))
            job.repaired(*sorted(said.repairs - {CHARGE}))
            done += 1
        if _proved(bench, job):
            return first, False
        bench.proving = False


def _card(bench: Bench, meter: Card | None) -> dict[str, Any]:
    job = bench.job
    use = dict(meter) if meter is not None else {"card": job.meter_id}
    use["leads_nulled"] = job.hidden.quirks.claims_nulled
    return {
        "card_version": 1,
        "id": f"sim-{job.number}",
        "created": "2026-01-01T00:00:00Z",
        "invented": True,
        "machine": {"class": job.class_id},
        "meter": use,
        "complaint": {"kind": job.complaint},
        "opened": sorted(bench.situation.open),
    }


def _search(bench: Bench, job: Job, choose: Choose) -> Said:
    """Do what is said until it is to end; return the last word, a charge done counted in."""
    asked: dict[str, tuple[Check, Question]] = {}
    repeated: set[str] = set()
    charged = False
    for _ in range(MOST_STEPS):
        said = choose(job)
        if _going_well(job):
            break
        again = next((i for i in said.repeat if i in asked and i not in repeated), None)
        if again is not None:
            repeated.add(again)
            _take(bench, job, *asked[again])
        elif said.step is not None:
            reading = _take(bench, job, said.step.check, said.step.question)
            job.opened(*said.step.check.needs)
            asked[reading.id] = (said.step.check, said.step.question)
        elif said.repairs == {CHARGE} and not bench.charged:
            bench.charge()
            job.done()
            charged = True
        else:
            break
    else:
        said = _out_of_steps(choose(job))
        if said.repairs == {CHARGE} and not bench.charged:
            bench.charge()
            job.done()
    return replace(said, repairs=said.repairs | ({CHARGE} if charged else set()))


def _out_of_steps(said: Said) -> Said:
    """Return the way to end of somebody who has read enough."""
    decision = Decision.REPAIR if said.repairs else Decision.NOTHING
    told = said.decision if said.decision is not Decision.CHECK else decision
    return replace(said, decision=told, step=None, note=f"out of steps; {said.note}")


def _take(bench: Bench, job: Job, check: Check, question: Question) -> Reading:
    """Read and record; a reading the program takes for a slip of the point is read again."""
    reading = _reading(job, check, question, bench.read(check, question))
    if reading.shown is not None and job.slip(reading) is not None:
        reading = _reading(job, check, question, bench.read(check, question))
    job.add(reading)
    return reading


def _reading(job: Job, check: Check, question: Question, text: str) -> Reading:
    step = NextStep(
        check=check,
        question=question,
        minutes=0.0,
        parts=(),
        wait_h=0.0,
        cautions=(),
        expected=(),
        total_min=0.0,
        act_now_min=0.0,
    )
    return job.reading_for(step, text)


def _going_well(job: Job) -> bool:
    """Tell whether a repair is being proved: also one whose proof was in doubt for a while."""
    return bool(under_way(job.case, job.assess()))


def _proved(bench: Bench, job: Job) -> bool:
    """Make the program's proof checks until none is left (True) or the proof has failed.

    A reading outside its span is taken twice.
    """
    bench.ready_to_prove()
    while under_way(job.case, found := job.assess()):
        proof = next_proof(job.case, found)
        if proof is None:
            return True
        reading = _take(bench, job, proof.check, proof.question)
        value = None if reading.shown is None else reading.shown.value
        if value is None or not proof.low <= value <= proof.high:
            _take(bench, job, proof.check, proof.question)
    return False


def _verdict(job: Job, said: Said, true: tuple[Cause, ...]) -> Verdict:
    """Return what is said of a machine that came in with the ``true`` causes."""
    belief = job.session.now
    truth = frozenset(cause.component.value for cause in true) or frozenset({"none"})
    shares = belief.hypothesis_shares()
    sets = [frozenset(c.component.value for c in h.causes) for h in belief.population.hypotheses]
    true_share = sum(float(s) for one, s in zip(sets, shares, strict=True) if one == truth)
    best = next(iter(belief.component_shares().items()))
    causes = belief.cause_shares()
    return Verdict(
        repairs=tuple(sorted(said.repairs)),
        undecided=said.decision is Decision.UNDECIDED,
        top=best[0],
        top_share=best[1],
        truth_share=max(true_share, TINY),
        causes=[(name, round(share, 4)) for name, share in list(causes.items())[:5]]
        + [(f"true:{cause.id}", round(causes.get(cause.id, 0.0), 4)) for cause in true],
        note=f"{said.decision.value} n_eff {belief.sample_size():.0f} "
        f"logev {belief.log_evidence:.1f} {said.note}",
    )
