"""Proving a repair: the readings after which hardly a chance remains that a fault is still there.

A fault can be left in three ways: belief also holds causes that this repair does not mend, the
repair may not have taken, or there is a second fault that nothing pointed to. A few hundred
machines stand for each way, as they would read after the repair, beside the same units sound and
with the battery charged. Of the checks that tell the two apart the quickest set is taken after
which, all results good, a fault is left less than ``ENOUGH``.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, replace

import numpy as np

from chargewright.checks.catalogue import Catalogue, Check
from chargewright.checks.cost import Effort, Situation, minutes
from chargewright.checks.modes import Mode
from chargewright.checks.safety import reason
from chargewright.diagnosis.advise import as_it_stands
from chargewright.diagnosis.belief import Belief, combine, likelihood
from chargewright.diagnosis.decisions import CHARGE, Ending, needed
from chargewright.diagnosis.expected import weighted_quantiles
from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.population import Ints, Population
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.proof_set import remaining_after, shortest_set
from chargewright.diagnosis.question import Answer, Question
from chargewright.machine.draw import afflict, draw, healthy
from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, Function
from chargewright.machine.prior import Hypothesis
from chargewright.meters.card import MeterCard

ENOUGH = 0.02  # chance that a fault remains below which a repair counts as proved
EACH = 150  # machines that stand for one way in which a fault is left
NOT_TAKEN = 0.03  # chance that a repair leaves the fault it was meant for (assumed)
OTHER_FAULT = 0.04  # chance of a second fault outside the pairs that belief holds (assumed)
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
    """Machines with a fault left and machines without, with their predictions.

    ``weights`` (n,) are of the machines ``broken``, ``sound`` (k,) of those ``mended``; both sum
    to one. ``prior_remaining`` is the chance that a fault is left before anything is read.
    """

    weights: Array
    sound: Array
    broken: Predictions
    mended: Predictions
    prior_remaining: float


def set_up(belief: Belief, way: Ending, rng: np.random.Generator) -> Proof:
    """Return machines as they may be once ``way`` is done and the battery is charged."""
    population, layout = belief.population, belief.population.machine.layout
    mends = {repair.id for repair in way.repairs} | {CHARGE}
    left = [_left(h, mends) for h in population.hypotheses]
    not_meant = np.array([bool(slots) for slots in left])[population.member]
    may_fail = np.array([bool(set(needed(h)) - {CHARGE}) for h in population.hypotheses])
    weights = belief.weights
    missed = _picked(np.where(not_meant, weights, 0.0), rng)
    meant = _picked(np.where(not_meant, 0.0, weights), rng)
    failed = _picked(np.where(~not_meant & may_fail[population.member], weights, 0.0), rng)
    others = _other_faults(population, mends, rng)
    shares = np.array(
        [
            float(weights[not_meant].sum()),
            NOT_TAKEN if failed.size else 0.0,
            OTHER_FAULT if others.size else 0.0,
        ]
    )
    sizes = [len(missed), len(failed), len(others)]
    remaining = 1.0 - float(np.prod(1.0 - shares))
    untouched = population.params[np.concatenate([failed, others])]
    faulty = np.concatenate([_repaired(population, missed, left), untouched])
    sound_rows = np.concatenate([meant, missed])
    sound = np.repeat([1.0 - shares[0], shares[0]], [len(meant), len(missed)])
    sound /= np.repeat([max(len(meant), 1), max(len(missed), 1)], [len(meant), len(missed)])
    return Proof(
        weights=np.repeat(shares / shares.sum() / np.maximum(sizes, 1), sizes),
        sound=sound / sound.sum(),
        broken=Predictions(layout, faulty),
        mended=Predictions(layout, draw(population.machine, (), population.z[sound_rows])),
        prior_remaining=min(remaining, 0.98),
    )


def _left(hypothesis: Hypothesis, mends: Set[str]) -> tuple[int, ...]:
    """Return which of a hypothesis' causes are still there once ``mends`` are done."""
    wanted = needed(hypothesis, mends)
    return tuple(slot for slot, cause in enumerate(hypothesis.causes) if cause.repair.id in wanted)


def _picked(weights: Array, rng: np.random.Generator) -> Ints:
    """Return ``EACH`` machines in proportion to their weights (n,); none where all are zero."""
    total = float(weights.sum())
    if total <= 0.0:
        return np.zeros(0, dtype=np.intp)
    ticks = (rng.random() + np.arange(EACH)) / EACH * total
    return np.minimum(np.searchsorted(np.cumsum(weights), ticks), len(weights) - 1)


def _repaired(population: Population, rows: Ints, left: Sequence[tuple[int, ...]]) -> Array:
    """Return the parameters of machines in which only the causes in slots ``left`` are left."""
    params = healthy(population.machine, population.z[rows])
    member = population.member[rows]
    for number in np.unique(member):
        here = np.flatnonzero(member == number)
        causes = tuple(population.hypotheses[number].causes[slot] for slot in left[number])
        z = population.z[rows[here]]
        params[here] = afflict(population.machine, causes, z, params[here], slots=left[number])
    return params


def _other_faults(population: Population, mends: Set[str], rng: np.random.Generator) -> Ints:
    """Return machines with a fault that the repair does not mend, by the prior's shares."""
    shares = np.array(
        [
            h.share if len(h.causes) == 1 and needed(h) and not set(needed(h)) & mends else 0.0
            for h in population.hypotheses
        ]
    )
    if not shares.any():
        return np.zeros(0, dtype=np.intp)
    chosen = rng.choice(len(shares), EACH, p=shares / shares.sum())
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
    reach = 1.5 * float((sigma * proof.sound).sum())
    low, high = weighted_quantiles(shown.centre, proof.sound, BAND)
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
    mended = np.log(proof.sound)
    for answer in combine(answers):
        broken = broken + likelihood(proof.broken, answer)
        mended = mended + likelihood(proof.mended, answer)
    top = max(broken.max(), mended.max())
    bad = proof.prior_remaining * np.exp(broken - top).sum()
    good = (1.0 - proof.prior_remaining) * np.exp(mended - top).sum()
    return float(bad / (bad + good))
