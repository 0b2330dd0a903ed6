"""What would change the decision: which reading of which check, between which values.

Every check that is possible from here is read in thought at finely spaced values of what it may
show; each value goes through the same likelihood and losses as a real reading.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from chargewright.checks.catalogue import Check
from chargewright.diagnosis.advise import Advice, Option
from chargewright.diagnosis.belief import Belief, likelihood
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.counter import SLICES
from chargewright.diagnosis.decisions import Ending
from chargewright.diagnosis.expected import weighted_quantiles
from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.plan import first_best
from chargewright.diagnosis.question import Answer
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters.shown import Shown

WORTH_TELLING = 0.02  # chance from which a result that changes the decision is told
MOST_FLIPS = 6
GRID = 40  # values at which a check is read in thought, equally likely
HALVINGS = 7  # of the gap between two of them, to find the value where the ending changes


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """A result that changes how the job would end now.

    ``low`` and ``high`` bound the reading, None where it is open; ``over`` for OL; ``seen`` for a
    look. ``chance`` is that of the result; ``cost_min`` the expected cost of ending so then.
    ``leading`` is the likeliest cause then, with its share. ``in_doubt``: ending would then be
    dearer than it is now, so one would rather measure on.
    """

    check: Check
    low: float | None
    high: float | None
    over: bool
    seen: bool | None
    chance: float
    ending: Ending
    cost_min: float
    leading: str
    leading_share: float
    in_doubt: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Result:
    """One imagined result: its chance, the worlds' weights after it, the best ending then."""

    value: float | None
    seen: bool | None
    chance: float
    weights: Array
    ending: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Reader:
    """Reads one check in thought."""

    case: Case
    belief: Belief
    advice: Advice
    option: Option

    def read(
        self, chance: float, *, shown: Shown | None = None, seen: bool | None = None
    ) -> _Result:
        """Return what follows from a result, by the likelihood and losses of a real reading."""
        advice = self.advice
        answer = Answer(
            id="thought",
            title=self.option.check.title,
            question=self.option.question,
            meter=self.case.meter,
            shown=shown,
            seen=seen,
            nulled=self.case.nulled,
        )
        logs = likelihood(self.belief.population.predictions, answer, advice.worlds)
        after = advice.world_weights * np.exp(logs - logs.max())
        after /= after.sum()
        return _Result(
            value=shown.value if shown is not None and shown.has_value else None,
            seen=seen,
            chance=chance,
            weights=after,
            ending=first_best(advice.problem.loss @ after),
        )

    def results(self) -> Iterator[_Result]:
        """Yield results: figures in rising order, then OL; or sign, no sign."""
        advice, question = self.advice, self.option.question
        predictions, weights = self.belief.population.predictions, advice.world_weights
        if question.function is Function.LOOK:
            chance = float(weights @ predictions.sign(question)[advice.worlds])
            yield self.read(chance, seen=True)
            yield self.read(1.0 - chance, seen=False)
            return
        display = predictions.indication(
            question, self.case.meter, nulled=self.case.nulled, rows=advice.worlds
        )
        model = model_sigma(question, display.centre, predictions.layout)
        spread = display.spread(model)
        sound = ~display.over
        figures = float(weights[sound].sum())
        if figures > 0.0:
            values = (display.centre[sound, None] + spread[sound, None] * SLICES).ravel()
            own = np.repeat(weights[sound], len(SLICES))
            ticks = (np.arange(GRID) + 0.5) / GRID
            for value in weighted_quantiles(values, own, ticks.tolist()):
                yield self.read(figures / GRID, shown=Shown(value=value))
        if figures < 1.0 - 1e-9:
            yield self.read(1.0 - figures, shown=Shown(kind="overload"))

    def edge(self, results: list[_Result], place: int, ending: int) -> float | None:
        """Return where results begin, or cease, to end the job with ``ending``: the last that do.

        Looked for between result ``place`` and the one before, one of which does; None at an end.
        Between two values read a third ending may lie, so only this one counts.
        """
        if not 0 < place < len(results):
            return None
        low, high = results[place - 1].value, results[place].value
        if low is None or high is None:
            return None
        inside, outside = (high, low) if results[place].ending == ending else (low, high)
        for _ in range(HALVINGS):
            middle = 0.5 * (inside + outside)
            if self.read(0.0, shown=Shown(value=middle)).ending == ending:
                inside = middle
            else:
                outside = middle
        return inside


def what_would_change(case: Case, belief: Belief, advice: Advice) -> tuple[Flip, ...]:
    """Return the results of single checks after which the job would end otherwise.

    The likeliest first; what is rarer than ``WORTH_TELLING`` is left out.
    """
    here = advice.plan.act_now.index
    runs: list[tuple[float, _Reader, list[_Result], int, int]] = []
    for option in advice.options:
        reader = _Reader(case=case, belief=belief, advice=advice, option=option)
        results = list(reader.results())
        for start, end in _runs(results):
            chance = sum(one.chance for one in results[start:end])
            if results[start].ending != here and chance >= WORTH_TELLING:
                runs.append((chance, reader, results, start, end))
    runs.sort(key=lambda run: -run[0])
    return tuple(_flip(*run) for run in runs[:MOST_FLIPS])


def _runs(results: list[_Result]) -> Iterator[tuple[int, int]]:
    """Yield (start, end) of neighbouring figures that end the job alike; others stand alone."""
    start = 0
    for end in range(1, len(results) + 1):
        if end == len(results) or not _together(results[start], results[end]):
            yield start, end
            start = end


def _together(one: _Result, other: _Result) -> bool:
    return one.value is not None and other.value is not None and one.ending == other.ending


def _flip(chance: float, reader: _Reader, results: list[_Result], start: int, end: int) -> Flip:
    run, advice = results[start:end], reader.advice
    after = np.sum([one.chance / chance * one.weights for one in run], axis=0)
    population = reader.belief.population
    shares = np.bincount(population.member[advice.worlds], after)
    best = int(np.argmax(shares))
    ending = run[0].ending
    cost = float(advice.problem.loss[ending] @ after)
    figure = run[0].value is not None
    return Flip(
        check=reader.option.check,
        low=reader.edge(results, start, ending) if figure else None,
        high=reader.edge(results, end, ending) if figure else None,
        over=not figure and run[0].seen is None,
        seen=run[0].seen,
        chance=chance,
        ending=advice.ways[ending],
        cost_min=cost,
        leading=" and ".join(cause.title for cause in population.hypotheses[best].causes),
        leading_share=float(shares[best]),
        in_doubt=cost > advice.plan.act_now_min,
    )
