"""The one flow: readings -> belief -> ranked causes -> plan -> decision, explained.

``Session`` keeps the population of one case between readings, so that a guide pays for it once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from chargewright.checks.catalogue import Check
from chargewright.checks.safety import refuse
from chargewright.diagnosis.advise import Advice, advise, options, repaired
from chargewright.diagnosis.afterwards import After, Stand, follow, proof_for, remaining_for, stand
from chargewright.diagnosis.belief import Belief, believe
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.decisions import CHARGE, Ending, cures
from chargewright.diagnosis.expected import members_with, weighted_quantiles
from chargewright.diagnosis.explain import Evidence, evidence
from chargewright.diagnosis.findings import (
    Assessment,
    CauseFinding,
    ComponentFinding,
    Decision,
    Judged,
    NextStep,
)
from chargewright.diagnosis.population import populate
from chargewright.diagnosis.question import Answer
from chargewright.diagnosis.refine import learn
from chargewright.diagnosis.settled import settled
from chargewright.diagnosis.steps import planned_steps, step_for
from chargewright.diagnosis.story import story
from chargewright.diagnosis.undecided import what_would_decide
from chargewright.machine.causes import Cause
from chargewright.machine.draw import severity
from chargewright.machine.limits import limits_for
from chargewright.machine.model import Machine
from chargewright.machine.points import Function
from chargewright.machine.prior import prior
from chargewright.machine.severity import severity_words
from chargewright.meters.advice import judge_with_advice

SHOWN_CAUSES = 8
LEAST_SHARE = 0.005  # causes below it are not listed
IN_DOUBT = 0.5  # chance of a blunder from which a reading is to be repeated

Start = Callable[[Machine, str | None, int], Belief]


def fresh_belief(machine: Machine, complaint: str | None, seed: int) -> Belief:
    """Draw a population for a machine and a complaint; nothing has been read yet."""
    rng = np.random.default_rng(seed)
    return believe(populate(machine, prior(machine, complaint), rng), ())


class Session:
    """A case under way: its population, the belief so far, and assessments of it.

    ``belief`` is about the machine as it came in, ``now`` about the machine to look into: the
    same, or once a repair has not been proved the machine with that repair done.
    """

    def __init__(self, case: Case, start: Start = fresh_belief) -> None:
        self.case = case
        self.belief = start(case.machine, case.complaint, case.seed)
        self.after: tuple[After, ...] = ()
        self._stand: Stand | None = None
        self._learned: tuple[Answer, ...] | None = None
        self.update(case)

    def _rng(self) -> np.random.Generator:
        return np.random.default_rng([self.case.seed, len(self.case.answers)])

    def update(self, case: Case) -> None:
        """Take in the case's readings; ``UnsafeCheckError`` refuses impossible ones."""
        for answer in (*case.answers, *case.proof):
            question = answer.question
            refuse(
                question.function,
                question.plus,
                question.minus,
                question.state,
                layout=case.machine.layout,
            )
        self.case = case
        answers = settled(case, case.answers)
        if answers != self._learned:  # readings after a repair leave the belief before it alone
            self.belief = learn(self.belief.population, answers, self._rng(), self.belief)
            self._learned = answers
        self.after = follow(case, self.belief, self.after)
        self._stand = None

    @property
    def stand(self) -> Stand:
        """Which machine is looked into, and how its last repair stands."""
        if self._stand is None:
            self._stand = stand(self.case, self.belief, self.after)
        return self._stand

    @property
    def now(self) -> Belief:
        """The belief about the machine to look into."""
        return self.stand.belief

    @property
    def latest(self) -> Belief:
        """The belief about the machine as it stands, every repair on the card done."""
        return self.after[-1].now if self.after else self.belief

    def advice(self) -> Advice:
        """Return the plan for the case as it stands."""
        case, belief = self.case, self.now
        choices = options(
            case.catalogue,
            situation=case.situation,
            effort=case.effort,
            meter=case.meter,
            belief=belief,
            lights_always_on=case.machine.lights_always_on,
        )
        return advise(
            belief,
            choices,
            situation=case.situation,
            effort=case.effort,
            meter=case.meter,
            prices=case.prices,
            nulled=case.nulled,
            rng=self._rng(),
            again=frozenset().union(*(one.ids for one in case.mended[: self.stand.behind])),
        )

    def assess(self) -> Assessment:
        """Return the assessment of the case as it stands."""
        return _assessment(self.case, self.stand, self.advice(), self._rng())

    def step(self, check: Check, found: Assessment) -> NextStep:
        """Return any check as the step to do next; raises as ``steps.step_for``."""
        planned = next((step for step in found.steps if step.check.id == check.id), None)
        if planned is not None:
            return planned
        told = leading(found)
        return step_for(self.case, self.now, check, told, act_now_min=found.end_min)


def leading(found: Assessment) -> list[tuple[str, str]]:
    """Return (id, title) of the causes an assessment lists."""
    return [(cause.id, cause.title) for cause in found.causes]


def _assessment(case: Case, stand: Stand, advice: Advice, rng: np.random.Generator) -> Assessment:
    plan, belief = advice.plan, stand.belief
    way = advice.ways[plan.act_now.index]
    shares = belief.hypothesis_shares()
    causes = likely_causes(belief)
    told = [(cause.id, cause.title) for cause in causes]
    said = evidence(belief, told)
    steps = planned_steps(case, belief, advice, told)
    decision = _decision(way, plan.step.kind == "check")
    undecided = decision is Decision.UNDECIDED
    proof = stand.proof
    if not proof and decision is Decision.REPAIR:
        proof = proof_for(case, belief, {one.id for one in way.repairs})
    remaining = stand.remaining
    if not case.mended and case.proof:  # proved without a word on the card of what was repaired
        remaining = remaining_for(case, belief, {one.id for one in way.repairs})
    found = Assessment(
        decision=decision,
        ending=way.id,
        ending_title=way.title,
        cure=cures(way, belief.population.hypotheses, shares, repaired(case.situation)),
        end_min=plan.act_now_min,
        go_on_min=plan.cost_min,
        components=components_of(belief),
        causes=causes,
        steps=steps,
        judged=judged(case),
        evidence=said,
        repeat=to_repeat(said),
        would_decide=what_would_decide(case, belief, advice, rng) if undecided else (),
        proof=proof,
        remaining=remaining,
        behind=stand.behind,
        unproved=stand.unproved,
        explanation=(),
        machines=belief.sample_size(),
        log_evidence=belief.log_evidence,
    )
    return replace(found, explanation=story(found))


def _decision(way: Ending, go_on: bool) -> Decision:
    if go_on:
        return Decision.CHECK
    if way.undecided:
        return Decision.UNDECIDED
    if not way.repairs:
        return Decision.NOTHING
    return Decision.CHARGE if way.id == CHARGE else Decision.REPAIR


def components_of(belief: Belief) -> tuple[ComponentFinding, ...]:
    """Return the components worth listing with their shares."""
    return tuple(
        ComponentFinding(id=component, share=share)
        for component, share in belief.component_shares().items()
        if share >= LEAST_SHARE
    )


def likely_causes(belief: Belief) -> tuple[CauseFinding, ...]:
    """Return the causes worth listing, the likeliest first."""
    by_id: dict[str, Cause] = {
        cause.id: cause for h in belief.population.hypotheses for cause in h.causes
    }
    found: list[CauseFinding] = []
    for cause_id, share in belief.cause_shares().items():
        if share < LEAST_SHARE or len(found) == SHOWN_CAUSES:
            break
        cause = by_id[cause_id]
        found.append(
            CauseFinding(
                id=cause.id,
                title=cause.title,
                component=cause.component.value,
                share=share,
                severity=_severity(belief, cause),
                repair=cause.repair.id,
                repair_title=cause.repair.title,
            )
        )
    return tuple(found)


def _severity(belief: Belief, cause: Cause) -> tuple[str, ...]:
    """Return low, middle and high severity in words (none for a cause without a figure)."""
    if not cause.changes or cause.show is None:
        return ()
    population = belief.population
    has = members_with(population, cause.id) & (belief.weights > 0.0)
    values = np.full(len(belief.weights), np.nan)
    for number, hypothesis in enumerate(population.hypotheses):
        for slot, own in enumerate(hypothesis.causes):
            if own.id == cause.id:
                rows = population.of(number)
                values[rows] = severity(population.machine, cause, population.z[rows], slot=slot)
    points = weighted_quantiles(values[has], belief.weights[has], (0.05, 0.5, 0.95))
    return tuple(severity_words(cause, value) for value in points)


def judged(case: Case) -> tuple[Judged, ...]:
    """Return every reading with every limit that fits it."""
    found: list[Judged] = []
    for answer in (*case.answers, *case.proof):
        question = answer.question
        if question.function is Function.LOOK or question.same_point or answer.shown is None:
            continue
        plus, minus = question.probe
        for limit in limits_for(
            case.machine, question.function, plus=plus, minus=minus, state=question.state
        ):
            verdict = judge_with_advice(
                answer.meter,
                question.function,
                answer.shown,
                low=limit.low,
                high=limit.high,
                nulled=answer.nulled,
            )
            found.append(Judged(answer=answer, limit=limit, verdict=verdict))
    return tuple(found)


def to_repeat(said: Sequence[Evidence]) -> tuple[str, ...]:
    """Return readings to repeat: those most likely blunders, the worst first."""
    doubtful = [one for one in said if one.doubt > IN_DOUBT]
    return tuple(one.id for one in sorted(doubtful, key=lambda one: -one.doubt))
