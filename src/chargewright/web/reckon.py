"""What the workers do: jobs kept warm, asked for assessments, steps and doubtful readings.

Everything goes in and out as plain data. The card that comes with a question is the truth; what
is kept is only the population learned from it.
"""

from __future__ import annotations

import json
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from chargewright.checks.cost import minutes
from chargewright.checks.safety import reason
from chargewright.diagnosis.findings import Assessment, Decision, NextStep
from chargewright.energy.asked import Asked
from chargewright.errors import ImpossibleReadingsError
from chargewright.jobs.assessment_json import (
    assessment_dict,
    glance_dict,
    step_dict,
)
from chargewright.jobs.case import Workshop, case_from
from chargewright.jobs.codec import card_dict, card_from_json
from chargewright.jobs.keeping import with_assessment
from chargewright.jobs.proving import (
    is_proved,
    next_proof,
    outside_after,
    points_to_done,
    proof_step,
    under_way,
)
from chargewright.jobs.quantity_text import format_shown
from chargewright.jobs.reading import Reading
from chargewright.jobs.step_words import dial_text, probe_pairs, state_words
from chargewright.meters.card import MeterCard
from chargewright.web.would import WouldRead, would_read
from chargewright.workbench import Job

PATIENCE_S = 1.0  # a glance waits so long for what is under way, then leaves it to the assessment
MOST_WARM = 12  # jobs of one worker; each takes 20 to 50 MB

Json = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A job as it stands: its card as JSON text, and what the workshop has made its own."""

    job: str
    revision: int
    card: str
    workshop: Workshop


@dataclass(slots=True)
class _Warm:
    """A job between questions."""

    job: Job
    revision: int
    lock: threading.Lock = field(default_factory=threading.Lock)


class Reckoner:
    """Jobs under way in one process."""

    def __init__(self) -> None:
        self._warm: OrderedDict[str, _Warm] = OrderedDict()
        self._lock = threading.Lock()

    def assess(self, standing: Standing) -> tuple[str, Json | None]:
        """Return ``Assessed`` as JSON text, and what of it the card keeps (``with_assessment``)."""
        warm = self._held(standing)
        with warm.lock:
            self._bring_up(warm, standing)
            job = warm.job
            try:
                found = job.assess()
            except ImpossibleReadingsError as error:
                told = {"code": "impossible", "message": str(error)}
                return _text(_assessed(standing, error=told)), None
            answer = _assessed(
                standing, assessment=assessment_dict(job.case, found), bench=bench_dict(job, found)
            )
            kept = with_assessment(job.card, job.case, found)
            raw = card_dict(kept)
            return _text(answer), {name: raw.get(name) for name in ("decision", "proved")}

    def glance(self, standing: Standing) -> str | None:
        """Return what can be said at once, as JSON text; None where the job is not warm."""
        with self._lock:
            warm = self._warm.get(standing.job)
        if warm is None or not warm.lock.acquire(timeout=PATIENCE_S):
            return None
        try:
            if not warm.job.is_warm or not _alike(warm.job.workshop, standing.workshop):
                return None
            card = card_from_json(standing.card)
            found = warm.job.glance(card)
            said = glance_dict(case_from(card, standing.workshop), found)
            return _text({"job": standing.job, "revision": standing.revision, "glance": said})
        except ImpossibleReadingsError:
            return None
        finally:
            warm.lock.release()

    def anticipate(self, standing: Standing) -> None:
        """Work out ahead what the next glance needs, unless the job has gone on."""
        warm = self._held(standing)
        with warm.lock:
            if warm.revision == standing.revision and warm.job.is_warm:
                warm.job.anticipate()

    def step(self, standing: Standing, check_id: str) -> Json:
        """Return any check as a step for the bench."""
        warm = self._held(standing)
        with warm.lock:
            self._bring_up(warm, standing)
            return bench_step(warm.job, warm.job.step(warm.job.check(check_id)))

    def question(self, standing: Standing, reading_json: str) -> Json:
        """Return whether the decimal point of a reading has probably slipped."""
        reading = Reading.model_validate_json(reading_json)
        warm = self._held(standing)
        with warm.lock:
            self._bring_up(warm, standing)
            meant = warm.job.slip(reading)
        if meant is None or reading.shown is None:
            return {"meant": None, "question": None}
        typed, moved = format_shown(reading.shown), format_shown(meant)
        text = f"{typed} would be odd here. Meant {moved} or {typed}?"
        return {
            "meant": meant.model_dump(mode="json") | {"text": moved},
            "question": text,
        }

    def report(
        self, standing: Standing, ending: str, reader: str, paper: str, language: str
    ) -> bytes:
        """Return a report, worked out from the card alone so that others can repeat it."""
        from chargewright.report.repeatable import from_card_alone
        from chargewright.report.written import report_bytes

        job = from_card_alone(Job(card_from_json(standing.card), workshop=standing.workshop))
        return report_bytes(
            job, job.assess(), ending, reader=reader, paper=paper, language=language
        )

    def simulate(self, asked: WouldRead, meter: MeterCard | None) -> Json:
        """Return what a machine with a cause would read."""
        return would_read(asked, meter)

    def energy(self, question: Asked) -> Json:
        """Return the answer to an energy question."""
        return question.answer()

    def _held(self, standing: Standing) -> _Warm:
        with self._lock:
            warm = self._warm.get(standing.job)
            if warm is None or not _alike(warm.job.workshop, standing.workshop):
                job = Job(card_from_json(standing.card), workshop=standing.workshop)
                warm = self._warm[standing.job] = _Warm(job, standing.revision)
            self._warm.move_to_end(standing.job)
            while len(self._warm) > MOST_WARM:
                self._warm.popitem(last=False)
            return warm

    def _bring_up(self, warm: _Warm, standing: Standing) -> None:
        if warm.revision != standing.revision:
            try:
                warm.job.take(card_from_json(standing.card))
            except BaseException:
                warm.revision = -1  # half-way: the next question begins from the card
                raise
            warm.revision = standing.revision


def _alike(one: Workshop, other: Workshop) -> bool:
    """Tell whether a warm job may go on; a job closed in the meantime teaches the next ones."""
    return replace(one, lessons=()) == replace(other, lessons=())


def bench_dict(job: Job, found: Assessment) -> Json:
    """Return what is on the bench: the check to do, a repair, its proof, or nothing more."""
    proving = bool(under_way(job.case, found))
    nothing_more = found.unproved is not None and found.decision is Decision.NOTHING
    advised = points_to_done(job.card, found)
    step: NextStep | None = None
    if proving:
        proof = next_proof(job.case, found)
        step = None if proof is None else proof_step(job.case, proof)
        stage = "proved" if step is None else "prove"
    elif nothing_more:
        stage = "proved"
    elif found.decision is Decision.CHECK and found.steps:
        stage, step = "check", found.steps[0]
    else:
        stage = "repair" if found.decision is Decision.REPAIR else "end"
    return {
        "stage": stage,
        "repaired": advised or nothing_more,
        "proved": advised and is_proved(job.case, found),
        "outside": list(outside_after(job.case, found)) if job.card.repairs else [],
        "step": None if step is None else bench_step(job, step),
        "others": [bench_step(job, one) for one in found.steps if one is not step],
    }


def bench_step(job: Job, step: NextStep) -> Json:
    """Return a step with everything in words that the bench shows."""
    case, question = job.case, step.question
    dial = dial_text(step, case.meter)
    opened = case.situation.open
    covers = case.effort.access.to_open(step.check.needs, frozenset())
    return step_dict(step) | {
        "dial": dial,
        "probes": [
            {"label": label, "place": place}
            for label, place in probe_pairs(question.function, question.plus, question.minus, dial)
        ],
        "state_text": state_words(question.state),
        "covers": [
            {"id": one.id, "title": one.title, "minutes": one.total_min, "open": one.id in opened}
            for one in covers
        ],
    }


def check_lines(job: Job) -> list[Json]:
    """Return every check of a job's machine, with the reason where it cannot be done now."""
    case = job.case
    lines: list[Json] = []
    for check in case.catalogue:
        if check.function is None:
            continue
        cost = minutes(check, case.situation, case.effort)
        never = next((what for what, minutes_ in cost.parts if minutes_ == float("inf")), None)
        why = reason(
            check.function, check.plus, check.minus, check.state, layout=case.machine.layout
        )
        if check.sign is None and check.function not in case.meter.functions:
            why = why or f"the meter has no {check.function.value}"
        lines.append(
            {
                "id": check.id,
                "title": check.title,
                "function": check.function.value,
                "plus": check.plus.word if check.plus else None,
                "minus": check.minus.word if check.minus else None,
                "state_text": state_words(check.state),
                "minutes": None if never else cost.total,
                "wait_h": cost.wait_h,
                "refused": why or never,
            }
        )
    return lines


def _assessed(
    standing: Standing,
    *,
    assessment: Json | None = None,
    bench: Json | None = None,
    error: Mapping[str, Any] | None = None,
) -> Json:
    return {
        "job": standing.job,
        "revision": standing.revision,
        "assessment": assessment,
        "bench": bench,
        "error": error,
    }


def _text(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
