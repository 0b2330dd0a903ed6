"""The front door: open a job, ask for the next step, record a reading, assess.

from chargewright import open_job

job = open_job("card.json")
step = job.next_step()
job.record(step, "13.1 V")
print(job.assess().decision)
job.save()
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import ValidationError

from chargewright.checks.catalogue import Check
from chargewright.checks.cost import state_in
from chargewright.checks.safety import refuse, refuse_charging
from chargewright.diagnosis.advise import as_it_stands
from chargewright.diagnosis.assess import Session, fresh_belief
from chargewright.diagnosis.belief import Belief, likelihood, trust
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.chart import ONE_PAGE, Fork, Leaf, Limits, grow_chart
from chargewright.diagnosis.counter import WhatIf, what_if
from chargewright.diagnosis.findings import Assessment, NextStep
from chargewright.diagnosis.flips import Flip, what_would_change
from chargewright.diagnosis.glance import Glance, anticipate, glance
from chargewright.diagnosis.habit import Comparison, usual_next, why_not
from chargewright.diagnosis.question import Answer, question_of
from chargewright.diagnosis.reweigh import reweighed
from chargewright.diagnosis.settled import settled
from chargewright.errors import InputError, nearest
from chargewright.jobs.asked_state import card_state, otherwise
from chargewright.jobs.card import (
    Act,
    Confirmation,
    ConfirmedCause,
    JobCard,
    Repair,
    with_energy,
)
from chargewright.jobs.case import (
    CHARGED_ACT,
    Workshop,
    answer_from,
    case_from,
    state_of,
    this_workshop,
)
from chargewright.jobs.codec import card_from_dict, rechecked
from chargewright.jobs.energy_result import EnergyResult
from chargewright.jobs.files import load_card, save_card
from chargewright.jobs.reading import CardState, Reading, Stage
from chargewright.jobs.reading_text import parse_reading, parse_sign
from chargewright.jobs.refusal import refusal
from chargewright.jobs.shelf import Shelf, default_folder
from chargewright.jobs.shown import Shown
from chargewright.machine.cause_file import catalogue
from chargewright.machine.model import Machine
from chargewright.machine.points import POINT_BY_WORD, Function
from chargewright.machine.prior import prior
from chargewright.version import __version__

SLIP_RATIO = 30.0  # a reading is questioned when a tenth or tenfold of it is so much likelier
SLIPS = (10.0, 0.1, 1000.0, 0.001)


class Job:
    """One job card under way. Nothing is written until ``save``."""

    def __init__(
        self, card: JobCard, path: Path | None = None, *, workshop: Workshop | None = None
    ) -> None:
        self.card = card
        self.path = path
        self.workshop = workshop or Workshop()
        folder = default_folder()
        self.shelf = None if folder is None else Shelf(folder)
        self.case: Case = case_from(card, self.workshop)
        self._session: Session | None = None
        self._assessment: Assessment | None = None

    @property
    def session(self) -> Session:
        """The belief under way; the population is drawn or fetched when first asked for."""
        if self._session is None:
            self._session = Session(self.case, self._start)
        return self._session

    @property
    def is_warm(self) -> bool:
        """Whether a population is at hand, so that a glance costs little."""
        return self._session is not None

    def _start(self, machine: Machine, complaint: str | None, seed: int) -> Belief:
        """Return the belief kept for this card, else for this machine, else a fresh one.

        What no reading has touched is kept under the shipped shares, so that a job closed in
        the meantime does not cost the machine's population.
        """
        learned = self.workshop.hypotheses(machine, complaint)
        shipped = prior(machine, complaint)
        if self.shelf is not None:
            answers = settled(self.case, self.case.answers)
            for hypotheses, known in ((learned, answers), (shipped, ())):
                name = self.shelf.name(machine, hypotheses, seed, known)
                found = self.shelf.get(name, machine, hypotheses, known)
                if found is not None:
                    return reweighed(found, learned)
        return reweighed(fresh_belief(machine, complaint, seed), learned)

    def _keep(self) -> None:
        """Put the belief on the shelf when it holds more than was fetched."""
        belief = self.session.belief
        predictions = belief.population.predictions
        if self.shelf is None or len(predictions.texts()) <= len(predictions.stored):
            return
        answers = settled(self.case, self.case.answers)
        if not answers:
            belief = reweighed(belief, prior(self.case.machine, self.case.complaint))
        hypotheses, seed = belief.population.hypotheses, self.case.seed
        self.shelf.put(self.shelf.name(self.case.machine, hypotheses, seed, answers), belief)

    def assess(self) -> Assessment:
        """Return verdicts, ranked causes, next steps and the decision for the card as it stands."""
        if self._assessment is None:
            self._assessment = self.session.assess()
            self._keep()
        return self._assessment

    def next_step(self) -> NextStep | None:
        """Return the check to do next, or None when ending now is the better choice."""
        found = self.assess()
        return found.steps[0] if found.decision.value == "check" and found.steps else None

    def step(self, check: Check) -> NextStep:
        """Return any check as the step to do next, planned or not.

        Raises ``InputError`` for what cannot be read and ``UnsafeCheckError`` for what must not.
        """
        return self.session.step(check, self.assess())

    def what_if(self, cause: str) -> WhatIf:
        """Return what every reading would have been had it been ``cause`` alone."""
        return what_if(self.session.now, cause)

    def why_not(self, check_id: str | None = None) -> Comparison | None:
        """Return the planned check beside another, the usual order's next when none is named.

        None when the plan is to end now, or the usual order is through.
        """
        advice = self.session.advice()
        if check_id is None:
            usual = usual_next(self.case, advice)
            return None if usual is None else why_not(advice, usual.id)
        return why_not(advice, check_id)

    def what_would_change(self) -> tuple[Flip, ...]:
        """Return the results of single checks after which the job would end otherwise."""
        session = self.session
        return what_would_change(self.case, session.now, session.advice())

    def chart(self, limits: Limits = ONE_PAGE) -> Leaf | Fork:
        """Return the whole decision tree from here, as large as ``limits`` allows."""
        session = self.session
        tree = grow_chart(
            self.case, session.now, session.advice(), limits=limits, seed=self.case.seed
        )
        self._keep()
        return tree

    def check(self, check_id: str) -> Check:
        """Return a check of this machine's catalogue; ``InputError`` names the nearest ids."""
        return self.case.catalogue.get(check_id)

    def reading_for(
        self,
        step: NextStep | Check,
        text: str,
        *,
        stage: Stage | None = None,
        note: str = "",
        state: Mapping[str, Any] | None = None,
    ) -> Reading:
        """Return the reading that ``text`` means for a step or check, not yet on the card.

        ``stage`` is ``after_repair`` once a repair is on the card, where it is not given.
        ``state`` are fields of a card's state in which it was taken otherwise than asked for,
        as ``{"rpm": 1000, "rpm_max": 2000}`` or ``{"rpm": None}`` for a speed nobody noted.
        Raises ``ReadingError`` when the text cannot be understood, ``InputError`` when the
        engine stood otherwise: that is another check.
        """
        check = step.check if isinstance(step, NextStep) else step
        if check.function is None:
            raise InputError(f"{check.id} is something to do, not to read: use done()")
        asked = step.question.state if isinstance(step, NextStep) else check.state
        as_asked = otherwise(card_state(asked, check), state or {})
        look = check.function is Function.LOOK
        return Reading(
            id=self._fresh_id(),
            check=check.id,
            function=check.function,
            plus=check.plus,
            minus=check.minus,
            state=as_asked,
            shown=None if look else parse_reading(text, check.function),
            sign=parse_sign(text) if look else None,
            at=datetime.now(UTC),
            stage=stage or self._stage,
            note=note,
        )

    def reading_as_it_stands(
        self, check: Check, text: str, *, state: Mapping[str, Any] | None = None
    ) -> Reading:
        """Return the reading of a check taken where the machine stands now, not yet on the card.

        ``state`` has those fields of a card's state that were otherwise, as the speed that was
        held. Needs no population. Raises as ``reading_for``.
        """
        asked = question_of(check, state_in(check, self.case.situation)) if check.function else None
        if asked is None:
            raise InputError(f"{check.id} is something to do, not to read: use done()")
        question = as_it_stands(asked, self.case.machine.lights_always_on)
        reading = self.reading_for(replace(check, state=question.state), text)
        if not state:
            return reading
        given = reading.state.model_dump(mode="json") | dict(state)
        try:
            return reading.model_copy(update={"state": CardState.model_validate(given)})
        except ValidationError as error:
            raise refusal(error, CardState, source="state") from None

    def free_reading(
        self,
        function: str,
        plus: str,
        minus: str,
        text: str,
        *,
        state: Mapping[str, Any] | None = None,
        stage: Stage | None = None,
    ) -> Reading:
        """Return a reading between any two points in any state, not yet on the card.

        ``state`` has the fields of a card's state. Raises ``InputError`` for unknown words and
        ``UnsafeCheckError`` for what must not be measured.
        """
        for word in (plus, minus):
            if word not in POINT_BY_WORD:
                raise InputError(
                    f"test point {word!r} is unknown; known: {', '.join(POINT_BY_WORD)}"
                )
        known = {f.value for f in Function if f is not Function.LOOK}
        if function not in known:
            raise InputError(f"function {function!r}: expected one of {', '.join(sorted(known))}")
        shown = parse_reading(text, Function(function))
        try:
            return Reading(
                id=self._fresh_id(),
                function=Function(function),
                plus=POINT_BY_WORD[plus],
                minus=POINT_BY_WORD[minus],
                state=CardState.model_validate(dict(state or {})),
                shown=shown,
                at=datetime.now(UTC),
                stage=stage or self._stage,
            )
        except ValidationError as error:
            raise refusal(error, Reading, source="reading") from None

    def slip(self, reading: Reading) -> Shown | None:
        """Return the reading probably meant where a decimal slip is likelier, else None."""
        answer = answer_from(reading, self.card, self.case.machine, self.case.book)
        shown = reading.shown
        if answer is None or shown is None or shown.value is None or shown.value == 0.0:
            return None
        as_typed = self._predictive(answer)
        for factor in SLIPS:
            other = _scaled(shown, factor)
            meant = replace(answer, shown=other.for_meter())
            if self._predictive(meant) > SLIP_RATIO * as_typed:
                return other
        return None

    def _predictive(self, answer: Answer) -> float:
        """Return how probable a reading is before it is taken in, blunders left out."""
        belief = self.session.latest
        settled_answer = settled(self.case, (answer,))[0]
        rows = np.flatnonzero(belief.weights > 1e-6)
        predictions = belief.population.predictions
        logs = likelihood(predictions, settled_answer, rows)
        sound = np.exp(logs) * trust(predictions, settled_answer, rows, logs)
        return float(belief.weights[rows] @ sound) + 1e-12

    def add(self, reading: Reading) -> None:
        """Put a reading on the card; the belief follows. Refuses what must not be measured."""
        card = self.card.changed(readings=(*self.card.readings, reading))
        case = case_from(card, self.workshop)
        if reading.function is not Function.LOOK and reading.excluded is None:
            state = state_of(reading, case.machine)
            layout = case.machine.layout
            refuse(reading.function, reading.plus, reading.minus, state, layout=layout)
        self._take(card, case)

    def record(self, step: NextStep | Check, text: str) -> Reading:
        """Put what the meter showed (or ``yes``/``no`` for a look) on the card and return it."""
        reading = self.reading_for(step, text)
        self.add(reading)
        if isinstance(step, NextStep):
            self.opened(*step.check.needs)
        return reading

    def opened(self, *names: str) -> None:
        """Note covers that are open now: they cost nothing any more."""
        closure = self.case.effort.access.closure(frozenset(names))
        fresh = [name for name in sorted(closure) if name not in self.card.opened]
        if fresh:
            card = self.card.changed(opened=(*self.card.opened, *fresh))
            self._take(card, case_from(card, self.workshop))

    def done(self, act: str = CHARGED_ACT) -> None:
        """Note something done to the machine, such as charging its battery.

        Raises ``UnsafeCheckError`` for charging a lithium battery below 0 C.
        """
        if act == CHARGED_ACT:
            refuse_charging(self.case.machine.chemistries[0], self.card.ambient_c)
        card = self.card.changed(done=(*self.card.done, Act(act=act, at=datetime.now(UTC))))
        self._take(card, case_from(card, self.workshop))

    def repaired(self, *names: str) -> None:
        """Note repairs as done now, by their ids; what is read from here on is their proof.

        Raises ``InputError`` for a repair that no catalogue knows.
        """
        known = sorted({cause.repair.id for cause in catalogue().causes})
        for name in names:
            if name not in known:
                raise InputError(f"repair {name!r} is unknown; {nearest(name, known)}")
        now = datetime.now(UTC)
        fresh = tuple(Repair(repair=name, at=now) for name in names)
        card = self.card.changed(repairs=(*self.card.repairs, *fresh))
        self._take(card, case_from(card, self.workshop))

    @property
    def _stage(self) -> Stage:
        return Stage.AFTER_REPAIR if self.card.repairs else Stage.FAULT

    def keep_energy(
        self,
        kind: str,
        *,
        inputs: Mapping[str, Any],
        result: Mapping[str, Any],
        said: Sequence[str] = (),
    ) -> EnergyResult:
        """Put an answer of the energy room on the card and return it as kept.

        ``inputs`` and ``result`` may hold the room's dataclasses; ``said`` is the answer in
        lines for people. Raises ``InputError`` for what a card cannot hold.
        """
        card = with_energy(self.card, kind, inputs=inputs, result=result, said=said)
        self.card = rechecked(card)
        return self.card.energy[-1]

    def confirm(
        self,
        cause: str,
        *,
        by: str = "inferred",
        also: Sequence[str] = (),
        note: str = "",
    ) -> None:
        """Close the job: note what it was, and how sure that is.

        ``by`` is a word of the card: measured_after_repair, fix_reported, found, inferred.
        Raises ``InputError`` for a cause that this machine cannot have.
        """
        possible = [one.id for one in catalogue().possible(self.case.machine)]
        for name in (cause, *also):
            if name not in possible:
                raise InputError(
                    f"cause {name!r} is none of this machine; {nearest(name, possible)}"
                )
        words = [kind.value for kind in Confirmation]
        if by not in words:
            raise InputError(f"by {by!r} is unknown; {nearest(by, words)}")
        told = ConfirmedCause(cause=cause, also=tuple(also), by=Confirmation(by), note=note)
        self.card = self.card.changed(confirmed_cause=told)

    def undo(self) -> Reading | None:
        """Take the last reading off the card and return it."""
        if not self.card.readings:
            return None
        last = self.card.readings[-1]
        self.take(self.card.changed(readings=self.card.readings[:-1]))
        return last

    def take(self, card: JobCard) -> None:
        """Go on with another state of the card; what was learned stays where it still holds."""
        case = case_from(card, self.workshop)
        old = self.case
        same = (old.machine, old.complaint, old.seed) == (case.machine, case.complaint, case.seed)
        if not (same and all(answer in case.answers for answer in old.answers)):
            self._session = None
        self._take(card, case)

    def glance(self, card: JobCard) -> Glance:
        """Return what can be said at once of a later state of the card, which is not taken in."""
        case, stand = case_from(card, self.workshop), self.session.stand
        behind = min(stand.behind, len(case.mended))
        return glance(stand.belief, case, behind=behind)

    def anticipate(self) -> None:
        """Work out ahead what the next glance will need."""
        anticipate(self.session.now, self.case, self.assess().steps)

    def _take(self, card: JobCard, case: Case) -> None:
        self.card, self.case = card, case
        self._assessment = None
        if self._session is not None:
            self._session.update(case)

    def _fresh_id(self) -> str:
        used = {reading.id for reading in self.card.readings}
        number = len(used) + 1
        while f"r{number}" in used:
            number += 1
        return f"r{number}"

    def save(self, path: Path | str | None = None) -> Path:
        """Write the card, with the decision as it stands, in one step."""
        target = Path(path) if path is not None else self.path
        if target is None:
            raise InputError("this job has no file yet: give save() a path")
        versions = dict(self.card.versions) | {"chargewright": __version__}
        if self.workshop.lessons:
            versions["lessons"] = f"{len(self.workshop.lessons)} closed jobs"
        save_card(self.card.changed(versions=versions), target)
        self.path = target
        return target


def open_job(source: str | Path | Mapping[str, Any], *, workshop: Workshop | None = None) -> Job:
    """Open a job card from a file or from a dict of the same form.

    Without ``workshop`` the shipped checks and prices hold, and the closed jobs of the workshop's
    store teach, where there is one; ``Workshop()`` leaves them out.
    Raises ``InputError`` naming file, field, value and what was expected.
    """
    if isinstance(source, Mapping):
        card, path = card_from_dict(source), None
    else:
        card, path = load_card(source), Path(source)
    return Job(card, path, workshop=workshop or this_workshop())


def _scaled(shown: Shown, factor: float) -> Shown:
    """Return a reading with its decimal point moved."""
    return shown.model_copy(
        update={
            "value": None if shown.value is None else shown.value * factor,
            "value_max": None if shown.value_max is None else shown.value_max * factor,
            "lsd": None if shown.lsd is None else shown.lsd * factor,
            "text": "",
        }
    )
