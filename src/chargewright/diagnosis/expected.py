"""What a question would read under each cause, as bands over the machines still believed in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from chargewright.diagnosis.belief import Belief
from chargewright.diagnosis.population import Population
from chargewright.diagnosis.question import Question
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters.card import MeterCard

TAIL = 0.05  # a band leaves out so much on each side


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The display under one cause: low, middle and high figure (none when all show OL).

    ``overload`` is the share of machines that show OL, or for a look the chance of the sign.
    """

    cause: str
    title: str
    low: float | None = None
    middle: float | None = None
    high: float | None = None
    overload: float = 0.0


def weighted_quantiles(values: Array, weights: Array, shares: Sequence[float]) -> list[float]:
    """Return weighted quantiles of ``values`` (n,), the smallest value reaching each share."""
    order = np.argsort(values)
    cumulative = np.cumsum(weights[order])
    ticks = np.asarray(shares) * cumulative[-1]
    places = np.minimum(np.searchsorted(cumulative, ticks), len(order) - 1)
    return [float(values[order[place]]) for place in places]


def members_with(population: Population, cause_id: str) -> np.ndarray:
    """Return which machines (n,) have a cause."""
    has = np.array(
        [any(c.id == cause_id for c in h.causes) for h in population.hypotheses], dtype=bool
    )
    return has[population.member]


def bands(
    belief: Belief,
    question: Question,
    causes: Sequence[tuple[str, str]],
    *,
    meter: MeterCard,
    nulled: bool,
    weights: Array | None = None,
    before: bool = False,
) -> tuple[Band, ...]:
    """Return one band per (cause id, title), from the belief's weights or those given (n,).

    ``before``: of machines as they were before the repair they have behind them.
    """
    population = belief.population
    predictions = population.predictions
    if before and predictions.before is not None:
        predictions = predictions.before
    weights = belief.weights if weights is None else weights
    if question.function is Function.LOOK:
        chance = predictions.sign(question)
        return tuple(
            Band(cause=cause, title=title, overload=_mean(chance, weights, population, cause))
            for cause, title in causes
        )
    believed = np.flatnonzero(weights > 0.0)
    shown = predictions.indication(question, meter, nulled=nulled, rows=believed)
    result: list[Band] = []
    for cause, title in causes:
        here = members_with(population, cause)[believed]
        mass = float(weights[believed][here].sum())
        if mass <= 0.0:
            continue
        figures = here & ~shown.over
        own = weights[believed][figures]
        overload = max(0.0, 1.0 - float(own.sum()) / mass)
        if own.sum() <= 0.02 * mass:
            result.append(Band(cause=cause, title=title, overload=overload))
            continue
        low, middle, high = weighted_quantiles(shown.centre[figures], own, (TAIL, 0.5, 1.0 - TAIL))
        result.append(
            Band(cause=cause, title=title, low=low, middle=middle, high=high, overload=overload)
        )
    return tuple(result)


def _mean(chance: Array, weights: Array, population: Population, cause: str) -> float:
    here = members_with(population, cause)
    mass = weights[here].sum()
    return float((chance[here] * weights[here]).sum() / mass) if mass > 0.0 else 0.0
