"""The counter-question: what would the meter have shown if it were this cause?

Machines with the cause alone, weighed by all readings but one, tell what that one was to be
expected as. How well it fits is the chance of a reading as far out as it, or further.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.diagnosis.belief import Belief, likelihood
from chargewright.diagnosis.expected import TAIL, Band, weighted_quantiles
from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.population import Ints, Population, name_of
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.question import Answer
from chargewright.errors import InputError, nearest
from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters.likelihood import bounds, log_likelihood

FITS, STRANGE = 0.05, 0.005  # chance of being so far out: from here it fits; below, hardly
FEW = 5.0  # effective machines below which the answer is rough
# Middle points of nine equally likely slices of a normal law, in standard deviations.
SLICES = np.array([-1.593, -0.967, -0.589, -0.282, 0.0, 0.282, 0.589, 0.967, 1.593])


@dataclass(frozen=True, slots=True, kw_only=True)
class IfRead:
    """One reading under the cause: what was to be expected, and how well what was shown fits.

    ``fit`` is the chance (0 to 1) of a reading as far out or further; for a look, of what was
    seen. ``machines`` is how many virtual machines carry the answer, in effect.
    """

    answer: Answer
    expected: Band
    fit: float
    machines: float

    @property
    def rough(self) -> bool:
        """Whether hardly any machine with this cause fits the other readings."""
        return self.machines < FEW


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """All readings under one cause. ``share`` is the belief in it as things stand."""

    cause: str
    title: str
    share: float
    reads: tuple[IfRead, ...]

    @property
    def worst(self) -> IfRead | None:
        """The reading that speaks most against the cause; None without readings."""
        return min(self.reads, key=lambda one: one.fit, default=None)


def what_if(belief: Belief, cause_id: str) -> WhatIf:
    """Return what every reading would have been under a cause, and how well each fits.

    Raises ``InputError`` for a cause that this machine cannot have.
    """
    population = belief.population
    names = [name_of(hypothesis) for hypothesis in population.hypotheses]
    if cause_id not in names:
        singles = [name for name in names if "+" not in name]
        raise InputError(
            f"cause {cause_id!r} is none of this machine; {nearest(cause_id, singles)}"
        )
    rows = np.flatnonzero(np.array([name == cause_id for name in names])[population.member])
    logs = np.array(
        [likelihood(population.predictions, answer, rows) for answer in belief.answers]
    ).reshape(len(belief.answers), len(rows))
    reads = tuple(
        _one(population, rows, logs, row, answer) for row, answer in enumerate(belief.answers)
    )
    return WhatIf(
        cause=cause_id,
        title=population.hypotheses[names.index(cause_id)].causes[0].title,
        share=belief.cause_shares().get(cause_id, 0.0),
        reads=reads,
    )


def _one(population: Population, rows: Ints, logs: Array, row: int, answer: Answer) -> IfRead:
    total = population.log_base[rows] + logs.sum(axis=0) - logs[row]
    weights = np.exp(total - total.max())
    weights /= weights.sum()
    title = name_of(population.hypotheses[int(population.member[rows[0]])])
    if answer.question.function is Function.LOOK:
        signs = population.predictions.at(answer).sign(answer.question)
        seen = float(weights @ signs[rows])
        band = Band(cause=title, title=title, overload=seen)
        fit = seen if answer.seen else 1.0 - seen
    else:
        band, fit = _figure(population.predictions.at(answer), rows, weights, answer, title)
    return IfRead(answer=answer, expected=band, fit=fit, machines=float(1.0 / np.sum(weights**2)))


def _figure(
    predictions: Predictions, rows: Ints, weights: Array, answer: Answer, title: str
) -> tuple[Band, float]:
    """Return (band, fit) of a measured answer."""
    shown, question = answer.shown, answer.question
    assert shown is not None
    display = predictions.indication(
        question, answer.meter, nulled=answer.nulled, lsd=shown.place or None, rows=rows
    )
    model = model_sigma(question, display.centre, predictions.layout)
    spread = display.spread(model)
    overload = float(weights[display.over].sum())
    sound = ~display.over
    band = Band(cause=title, title=title, overload=overload)
    if overload < 0.98:
        values = (display.centre[sound, None] + spread[sound, None] * SLICES).ravel()
        own = np.repeat(weights[sound], len(SLICES))
        low, middle, high = weighted_quantiles(values, own, (TAIL, 0.5, 1.0 - TAIL))
        if question.function is not Function.DC_V:
            low = max(low, 0.0)
        band = Band(cause=title, title=title, low=low, middle=middle, high=high, overload=overload)
    if not shown.has_value:  # OL, or a beep
        sound_logs = log_likelihood(display, shown, model_sigma=model, blunder_share=0.0)
        return band, min(1.0, float(weights @ np.exp(sound_logs)))
    low_end, high_end = bounds(shown, display.lsd)

    def below(edge: Array | float) -> float:
        return float(weights @ np.where(display.over, 0.0, ndtr((edge - display.centre) / spread)))

    # As far out or further, on the side on which it lies; a bound has one side only.
    sides = 1.0 if shown.kind in ("at_least", "at_most") else 2.0
    return band, min(1.0, sides * min(below(high_end), 1.0 - below(low_end)))
