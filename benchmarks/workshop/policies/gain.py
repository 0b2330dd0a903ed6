"""One-step information gain per minute over the program's own belief, stop at 0.9.

The same population, likelihood and checks as the program; only the choice differs: the check
that takes most bits off the causes per minute, until one set of repairs is needed with
probability 0.9 or more, or no check gains anything.
"""

from __future__ import annotations

import math

import numpy as np

from benchmarks.workshop.policies.program import Said
from chargewright import Job
from chargewright.checks.cost import minutes
from chargewright.diagnosis.advise import Option, options
from chargewright.diagnosis.decisions import needed
from chargewright.diagnosis.findings import Decision
from chargewright.diagnosis.outcomes import outcome_table
from chargewright.machine.parameters import Array

SURE = 0.9
LEAST_BITS = 0.01  # a check that gains less on average is not worth the walk
WORLDS = 700


def choose(job: Job) -> Said:
    """Return the step of greatest gain per minute, or the repairs to end with."""
    belief = job.session.now
    population = belief.population
    sets = [frozenset(needed(h)) for h in population.hypotheses]
    shares: dict[frozenset[str], float] = {}
    for names, share in zip(sets, belief.hypothesis_shares(), strict=True):
        shares[names] = shares.get(names, 0.0) + float(share)
    best = max(shares, key=lambda names: shares[names])
    end = Said(
        decision=Decision.REPAIR if best else Decision.NOTHING,
        repairs=best,
        note=f"sure {shares[best]:.2f}",
    )
    if shares[best] >= SURE:
        return end
    chosen = _greatest(job)
    if chosen is None:
        return end
    step = job.session.step(chosen.check, _Nothing())  # type: ignore[arg-type]
    return Said(decision=Decision.CHECK, step=step, repairs=best, note=end.note)


class _Nothing:
    """An assessment that lists nothing: all that ``Session.step`` asks of one here."""

    steps = ()
    causes = ()
    end_min = math.nan


def _greatest(job: Job) -> Option | None:
    case, belief = job.case, job.session.now
    population = belief.population
    rng = np.random.default_rng([case.seed, len(case.answers)])
    weights = belief.weights
    tempered = np.sqrt(weights)
    picks = rng.choice(len(weights), size=WORLDS, p=tempered / tempered.sum())
    rows, counts = np.unique(picks, return_counts=True)
    share = counts * weights[rows] / tempered[rows]
    share = share / share.sum()
    found = options(
        case.catalogue,
        situation=case.situation,
        effort=case.effort,
        meter=case.meter,
        belief=belief,
        lights_always_on=case.machine.lights_always_on,
    )
    population.predictions.prepare([option.question for option in found], case.meter, rows)
    best, best_rate = None, 0.0
    for option in found:
        table, _ = outcome_table(
            population.predictions,
            option.question,
            case.meter,
            weights=share,
            rows=rows,
            nulled=case.nulled,
        )
        bits = _gain(table, share, population.member[rows], len(population.hypotheses))
        cost = minutes(option.check, case.situation, case.effort)
        price = cost.total + cost.wait_h * case.prices.wait_min_per_hour
        if bits >= LEAST_BITS and bits / price > best_rate:
            best, best_rate = option, bits / price
    return best


def _gain(table: Array, weights: Array, member: np.ndarray, hypotheses: int) -> float:
    """Return the mutual information [bit] of an outcome and the hypothesis."""
    joint = np.zeros((hypotheses, table.shape[1]))
    np.add.at(joint, member, weights[:, None] * table)
    outer = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
    here = joint > 0.0
    return float((joint[here] * np.log2(joint[here] / outer[here])).sum())
