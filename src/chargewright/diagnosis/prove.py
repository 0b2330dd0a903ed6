"""Proving a repair: the readings after which hardly a chance remains that the fault is still there.

Every faulty machine still believed in is taken twice: as it is, and sound (same unit, no cause,
battery charged). Of the checks that tell the two apart the quickest set is taken after which, all
results good, the fault is left less than ``ENOUGH``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from chargewright.checks.catalogue import Catalogue, Check
from chargewright.checks.cost import Effort, Situation, minutes
from chargewright.checks.modes import Mode
from chargewright.checks.safety import reason
from chargewright.diagnosis.advise import as_it_stands
from chargewright.diagnosis.belief import Belief, combine, likelihood
from chargewright.diagnosis.decisions import Ending, cures, needed
from chargewright.diagnosis.expected import weighted_quantiles
from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.population import Ints, Population
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.proof_set import remaining_after, shortest_set
from chargewright.diagnosis.question import Answer, Question
from chargewright.machine.draw import draw
from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, Function
from chargewright.meters.card import MeterCard

ENOUGH = 0.02  # chance that the fault remains below which a repair counts as proved
WORLDS = 300
OTHERS = 150  # machines with another fault
NEVER_SURER = 0.05  # chance taken that the fault remains even where belief says less (assumed)
OTHER_FAULT = 0.02  # chance that a second fault is in the machine (assumed)
BAND = (0.025, 0.975)  # of repaired machines, widened by meter and model


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofCheck:
    """A check to make after the repair, and the span that a repaired machine shows."""

    check: Check
    question: Question
    low: float
    high: float
    remaining: float  # chance that a fault remains once this and the checks before it are good


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Proof:
    """Machines as they are now and repaired, with their predictions."""

    way: Ending
    weights: Array
    broken: Predictions
    mended: Predictions
    prior_remaining: float


def set_up(belief: Belief, way: Ending, rng: np.random.Generator) -> Proof:
    """Return both versions of a few hundred believed machines."""
    population = belief.population
    ticks = (rng.random() + np.arange(WORLDS)) / WORLDS
    picked = np.searchsorted(np.cumsum(belief.weights), ticks)
    rows = np.minimum(picked, len(belief.weights) - 1)
    faulty = np.array([bool(needed(h)) for h in population.hypotheses])[population.member[rows]]
    rows = rows[faulty] if faulty.any() else rows
    others = _other_faults(population, way, rng)
    mended = draw(population.machine, (), population.z[np.concatenate([rows, others])])
    layout = population.machine.layout
    remaining = 1.0 - cures(way, population.hypotheses, belief.hypothesis_shares())
    remaining = min(max(remaining, NEVER_SURER), 0.98)
    # The less doubt the belief leaves, the more of it is that something else is wrong.
    other_share = OTHER_FAULT / (OTHER_FAULT + remaining) if others.size else 0.0
    weights = np.concatenate(
        [
            np.full(len(rows), (1.0 - other_share) / len(rows)),
            np.full(len(others), other_share / max(len(others), 1)),
        ]
    )
    return Proof(
        way=way,
        weights=weights,
        broken=Predictions(layout, population.params[np.concatenate([rows, others])]),
        mended=Predictions(layout, mended),
        prior_remaining=remaining,
    )


def _other_faults(population: Population, way: Ending, rng: np.random.Generator) -> Ints:
    """Return machines with a fault that this repair does not mend, by the prior's shares."""
    mends = {repair.id for repair in way.repairs}
    shares = np.array(
        [
            h.share if len(h.causes) == 1 and needed(h) and not set(needed(h)) & mends else 0.0
            for h in population.hypotheses
        ]
    )
    if not shares.any():
        return np.zeros(0, dtype=np.intp)
    chosen = rng.choice(len(shares), OTHERS, p=shares / shares.sum())
    return np.array([rng.choice(population.of(int(h))) for h in chosen], dtype=np.intp)


def proof_checks(
    belief: Belief,
    way: Ending,
    *,
    catalogue: Catalogue,
    effort: Effort,
    meter: MeterCard,
    lights_always_on: bool,
    rng: np.random.Generator,
) -> tuple[ProofCheck, ...]:
    """Return the shortest set of checks that proves the repair, the most telling first."""
    if not way.repairs:
        return ()
    proof = set_up(belief, way, rng)
    start = Situation(mode=Mode(charged=True))
    candidates = _candidates(catalogue, belief, meter, lights_always_on)
    proof.broken.prepare([question for _, question in candidates], meter)
    proof.mended.prepare([question for _, question in candidates], meter)
    spans = [_span(proof, question, meter) for _, question in candidates]
    passes = [
        _pass_chance(proof.broken, question, meter, span)
        for (_, question), span in zip(candidates, spans, strict=True)
    ]
    if not candidates:
        return ()
    table = np.array(passes)
    costs = [minutes(check, start, effort).total for check, _ in candidates]
    prior = proof.prior_remaining
    picked = shortest_set(prior, proof.weights, table, costs, enough=ENOUGH)
    return tuple(
        ProofCheck(
            check=candidates[i][0],
            question=candidates[i][1],
            low=spans[i][0],
            high=spans[i][1],
            remaining=remaining_after(prior, proof.weights, table[list(picked[: place + 1])]),
        )
        for place, i in enumerate(picked)
    )


def _candidates(
    catalogue: Catalogue, belief: Belief, meter: MeterCard, lights_always_on: bool
) -> list[tuple[Check, Question]]:
    """Return checks with a figure that suit a machine put together again, battery charged."""
    layout = belief.population.machine.layout
    found: list[tuple[Check, Question]] = []
    for check in catalogue:
        if check.function not in (Function.DC_V, Function.AC_V, Function.DC_A, Function.CLAMP_A):
            continue
        state = check.state
        if check.function not in meter.functions or not state.plug_in or check.charged is False:
            continue
        question = Question(
            function=check.function,
            plus=check.plus,
            minus=check.minus,
            state=replace(state, battery_charged=True),
        )
        question = as_it_stands(question, lights_always_on)
        safe = reason(check.function, check.plus, check.minus, question.state, layout=layout)
        if safe is None and (state.engine is not Engine.RUNNING or state.rpm is not None):
            found.append((check, question))
    return found


def _span(proof: Proof, question: Question, meter: MeterCard) -> tuple[float, float]:
    """Return the span of readings that repaired machines show."""
    shown = proof.mended.indication(question, meter)
    sigma = np.sqrt(
        shown.half_width**2 / 3.0
        + shown.sigma**2
        + model_sigma(question, shown.centre, proof.mended.layout) ** 2
    )
    reach = 1.5 * float((sigma * proof.weights).sum())
    low, high = weighted_quantiles(shown.centre, proof.weights, BAND)
    low = low - reach
    return (max(low, 0.0) if question.function is Function.AC_V else low), high + reach


def _pass_chance(
    predictions: Predictions, question: Question, meter: MeterCard, span: tuple[float, float]
) -> Array:
    """Return the chance (n,) that a machine's reading falls inside the span."""
    shown = predictions.indication(question, meter)
    sigma = np.sqrt(
        shown.half_width**2 / 3.0
        + shown.sigma**2
        + model_sigma(question, shown.centre, predictions.layout) ** 2
    )
    inside = ndtr((span[1] - shown.centre) / sigma) - ndtr((span[0] - shown.centre) / sigma)
    return np.where(shown.over, 0.0, inside)


def remaining_fault(
    belief: Belief, way: Ending, answers: Sequence[Answer], rng: np.random.Generator
) -> float:
    """Return the chance that a fault remains, after readings taken with the repair done.

    Each answer is weighed on machines repaired and not repaired.
    """
    proof = set_up(belief, way, rng)
    broken = np.log(proof.weights)
    mended = np.log(proof.weights)
    for answer in combine(answers):
        broken = broken + likelihood(proof.broken, answer)
        mended = mended + likelihood(proof.mended, answer)
    top = max(broken.max(), mended.max())
    bad = proof.prior_remaining * np.exp(broken - top).sum()
    good = (1.0 - proof.prior_remaining) * np.exp(mended - top).sum()
    return float(bad / (bad + good))
