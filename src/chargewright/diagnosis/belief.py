"""Belief: the population weighed by every answer, seen through the meter.

An answer multiplies each machine's weight by the probability that the meter would show it
there, widened by the model's own error, with a share for blunders. Repeats of one question with
one meter are combined first: they share the meter's error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.population import Ints, Population, readings_in
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.question import Answer
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters.likelihood import BLUNDER_SHARE, log_likelihood
from chargewright.meters.shown import alike, combine_repeats

HOPELESS = 30.0  # log-weight behind the best of its hypothesis: such a machine is not solved
FAR = 45.0  # the same for whole hypotheses against the best one
GONE = -60.0  # log-likelihood given to a machine that is not solved any more
LIGHT = 1e-7  # weights below it do not count in the doubt about a reading
MADE_AGAIN = 0.2  # of blunders, made alike when the reading is repeated (assumed)
LOOK_BLUNDER_SHARE = 0.02  # of looks noted the wrong way round (assumed)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Belief:
    """Weights of a population under its answers.

    ``answers`` have repeats combined. ``log_likelihood`` (m, n) is one row per answer;
    ``weights`` (n,) sum to one.
    """

    population: Population
    answers: tuple[Answer, ...]
    log_likelihood: Array
    weights: Array
    log_evidence: float

    @property
    def fresh(self) -> tuple[Answer, ...]:
        """The answers that speak of the machine as it stands, none of before a repair."""
        return tuple(answer for answer in self.answers if not answer.before)

    def hypothesis_shares(self) -> Array:
        """Return the probability of each hypothesis (h,)."""
        shares = np.bincount(
            self.population.member, self.weights, minlength=len(self.population.hypotheses)
        )
        return np.asarray(shares, dtype=np.float64)

    def cause_shares(self) -> dict[str, float]:
        """Return the probability that each cause (or ``no_fault``) is present, likeliest first."""
        shares: dict[str, float] = {}
        for hypothesis, share in zip(
            self.population.hypotheses, self.hypothesis_shares(), strict=True
        ):
            for cause in hypothesis.causes:
                shares[cause.id] = shares.get(cause.id, 0.0) + float(share)
        return dict(sorted(shares.items(), key=lambda item: -item[1]))

    def component_shares(self) -> dict[str, float]:
        """Return the probability that each component is at fault, likeliest first."""
        shares: dict[str, float] = {}
        for hypothesis, share in zip(
            self.population.hypotheses, self.hypothesis_shares(), strict=True
        ):
            for component in {cause.component.value for cause in hypothesis.causes}:
                shares[component] = shares.get(component, 0.0) + float(share)
        return dict(sorted(shares.items(), key=lambda item: -item[1]))

    def sample_size(self) -> float:
        """Return the effective number of machines that carry the belief (Kish)."""
        return float(1.0 / np.sum(self.weights**2))

    def sample_sizes(self) -> Array:
        """Return the effective number of machines within each hypothesis (h,)."""
        member, count = self.population.member, len(self.population.hypotheses)
        total = np.bincount(member, self.weights, minlength=count)
        square = np.bincount(member, self.weights**2, minlength=count)
        return np.where(square > 0.0, total**2 / np.maximum(square, 1e-300), 0.0)

    def doubt(self) -> Array:
        """Return the probability (m,) that each answer was a blunder."""
        rows = np.flatnonzero(self.weights > LIGHT)
        weights = self.weights[rows] / self.weights[rows].sum()
        predictions = self.population.predictions
        return np.array(
            [
                1.0 - float(trust(predictions, answer, rows, logs[rows]) @ weights)
                for answer, logs in zip(self.answers, self.log_likelihood, strict=True)
            ]
        )


def believe(
    population: Population, answers: Sequence[Answer], known: Belief | None = None
) -> Belief:
    """Return the belief that follows from the answers (their order does not matter).

    ``known`` is an earlier belief; what it holds of the same population is not worked out anew.
    """
    combined = combine(answers)
    old: dict[str, tuple[Answer, Array]] = {}
    if known is not None and known.population is population:
        pairs = zip(known.answers, known.log_likelihood, strict=True)
        old = {answer.id: (answer, logs) for answer, logs in pairs}
    logs = np.full((len(combined), len(population.member)), GONE)
    total = population.log_base.copy()
    for row, answer in enumerate(combined):
        before = old.get(answer.id)
        if before is not None and before[0] == answer:
            logs[row] = before[1]
        else:
            alive = np.flatnonzero(_alive(population, total))
            logs[row, alive] = likelihood(population.predictions, answer, alive)
        total += logs[row]
    return weigh(population, combined, logs)


def weigh(population: Population, answers: tuple[Answer, ...], logs: Array) -> Belief:
    """Return the belief of given log-likelihoods (m, n)."""
    total = population.log_base + logs.sum(axis=0)
    top = float(total.max())
    weights = np.exp(total - top)
    mass = float(weights.sum())
    return Belief(
        population=population,
        answers=answers,
        log_likelihood=logs,
        weights=weights / mass,
        log_evidence=top + float(np.log(mass)),
    )


def _alive(population: Population, total: Array) -> NDArray[np.bool_]:
    """Return which machines (n,) are not hopelessly behind the best of their hypothesis."""
    best = np.full(len(population.hypotheses), -np.inf)
    np.maximum.at(best, population.member, total)
    behind = best[population.member] - total
    alive: NDArray[np.bool_] = (behind < HOPELESS) & (best[population.member] > best.max() - FAR)
    return alive


def likelihood(
    predictions: Predictions, answer: Answer, rows: Ints | None = None, width: Array | float = 1.0
) -> Array:
    """Return the log-likelihood of an answer on machines ``rows`` (all when None), (r,).

    With ``width`` above one the reading is believed less: meter and model are that many times as
    uncertain, and a look counts by one over its square.
    """
    predictions = predictions.at(answer)
    if answer.question.function is Function.LOOK:
        return np.asarray(np.log(_look(predictions, answer, rows)[1]) / width**2)
    return _measured(predictions, answer, rows, _blunders(answer), width)


def trust(predictions: Predictions, answer: Answer, rows: Ints | None, logs: Array) -> Array:
    """Return the chance (r,) that an answer was no blunder; ``logs`` are its log-likelihoods."""
    predictions = predictions.at(answer)
    if answer.question.function is Function.LOOK:
        told, mixed = _look(predictions, answer, rows)
        return np.asarray((1.0 - LOOK_BLUNDER_SHARE) * told / mixed)
    sound = _measured(predictions, answer, rows, 0.0)
    return np.asarray(np.minimum(np.exp(sound - logs) * (1.0 - _blunders(answer)), 1.0))


def _blunders(answer: Answer) -> float:
    """Return the chance that an answer is a blunder: read again and found alike it seldom is."""
    return BLUNDER_SHARE * MADE_AGAIN ** (len(readings_in(answer.id)) - 1)


def _look(predictions: Predictions, answer: Answer, rows: Ints | None) -> tuple[Array, Array]:
    """Return (chance of what was told, the same with looks noted wrongly) (r,)."""
    chance = predictions.sign(answer.question)
    chance = chance if rows is None else chance[rows]
    told = chance if answer.seen else 1.0 - chance
    return told, (1.0 - LOOK_BLUNDER_SHARE) * told + LOOK_BLUNDER_SHARE * (1.0 - told)


def _measured(
    predictions: Predictions,
    answer: Answer,
    rows: Ints | None,
    blunder_share: float,
    width: Array | float = 1.0,
) -> Array:
    question, shown = answer.question, answer.shown
    assert shown is not None
    indication = predictions.indication(
        question, answer.meter, nulled=answer.nulled, lsd=shown.place or None, rows=rows
    )
    sigma = model_sigma(question, indication.centre, predictions.layout)
    if np.any(np.asarray(width) > 1.0):
        own = indication.spread()
        sigma = np.sqrt(width**2 * sigma**2 + (width**2 - 1.0) * own**2)
    return log_likelihood(indication, shown, model_sigma=sigma, blunder_share=blunder_share)


def combine(answers: Sequence[Answer]) -> tuple[Answer, ...]:
    """Return the answers with repeats of one question by one meter made into one.

    Repeats that are not alike (12.4 and 1.24, a figure and an OL) stay apart: one of them is a
    blunder.
    """
    groups: dict[object, list[Answer]] = {}
    for answer in answers:
        key = (answer.question, answer.meter.id, answer.nulled, answer.before)
        groups.setdefault(key, []).append(answer)
    result: list[Answer] = []
    for group in groups.values():
        if len(group) == 1 or group[0].question.function is Function.LOOK:
            result.append(group[-1])
        else:
            result += [_as_one(repeats) for repeats in _alike(group)]
    return tuple(result)


def _alike(group: Sequence[Answer]) -> list[list[Answer]]:
    """Return repeats of one question sorted into those that are alike."""
    found: list[list[Answer]] = []
    for answer in group:
        for repeats in found:
            first = repeats[0].shown
            if first is not None and answer.shown is not None and alike(first, answer.shown):
                repeats.append(answer)
                break
        else:
            found.append([answer])
    return found


def _as_one(repeats: Sequence[Answer]) -> Answer:
    shown = combine_repeats([answer.shown for answer in repeats if answer.shown is not None])
    return replace(repeats[-1], id="+".join(answer.id for answer in repeats), shown=shown)
