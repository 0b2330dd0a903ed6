"""What every check would read on many units of a machine, with the faults and without."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from chargewright.checks.catalogue import Check
from chargewright.diagnosis.expected import TAIL, weighted_quantiles
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.question import Question
from chargewright.machine.points import Function
from chargewright.meters.card import MeterCard
from chargewright.meters.indicate import OPEN_FROM_OHM

LEANS = 0.15  # of the sound units' span, or of OL: a smaller move is not worth a look (assumed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shows:
    """What the display shows over units: 5, 50 and 95 % points, in the function's unit.

    None where hardly any unit gives a figure. ``overload`` is the share that shows OL; for a
    look the mean chance that its sign is seen.
    """

    low: float | None = None
    middle: float | None = None
    high: float | None = None
    overload: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReading:
    """One check: what it would read with the faults, and on a sound machine.

    ``told`` says that the two hardly overlap, so that this check tells them apart whatever the
    unit. Both are None where the meter lacks the function.
    """

    check: Check
    question: Question
    shows: Shows | None
    sound: Shows | None

    @property
    def told(self) -> bool:
        """Whether faulty and sound units read apart."""
        if self.shows is None or self.sound is None:
            return False
        if abs(self.shows.overload - self.sound.overload) > 0.9 - 2.0 * TAIL:
            return True
        a, b = self.shows, self.sound
        if a.low is None or a.high is None or b.low is None or b.high is None:
            return False
        return a.low > b.high or a.high < b.low

    @property
    def leans(self) -> bool:
        """Whether the middle reading moves by more than the units' scatter explains away."""
        a, b = self.shows, self.sound
        if a is None or b is None:
            return False
        if abs(a.overload - b.overload) > LEANS:
            return True
        if a.middle is None or b.middle is None or b.low is None or b.high is None:
            return False
        moved = abs(a.middle - b.middle)
        return moved > max(LEANS * (b.high - b.low), 1e-3 * abs(b.middle), 1e-9)


def read_all(
    asked: Sequence[tuple[Check, Question]],
    faulty: Predictions,
    sound: Predictions,
    meter: MeterCard,
    *,
    nulled: bool = False,
) -> tuple[CheckReading, ...]:
    """Return the readings of all checks; the circuit is asked once per state."""
    known = [
        question
        for _, question in asked
        if question.function is not Function.LOOK and question.function in meter.functions
    ]
    for predictions in (faulty, sound):
        predictions.prepare(known, meter)
    return tuple(
        CheckReading(
            check=check,
            question=question,
            shows=_shows(question, faulty, meter, nulled),
            sound=_shows(question, sound, meter, nulled),
        )
        for check, question in asked
    )


def _shows(
    question: Question, predictions: Predictions, meter: MeterCard, nulled: bool
) -> Shows | None:
    if question.function is Function.LOOK:
        return Shows(overload=float(predictions.sign(question).mean()))
    if question.function not in meter.functions:
        return None
    shown = predictions.indication(question, meter, nulled=nulled)
    over = shown.over
    if question.function is Function.OHM:
        # the model's stray insulation stands for no path at all, whatever the meter reaches
        over = over | (shown.centre >= OPEN_FROM_OHM)
    figures = shown.centre[~over & np.isfinite(shown.centre)]
    overload = float(over.mean())
    if figures.size <= 0.02 * over.size:
        return Shows(overload=overload)
    shares = (TAIL, 0.5, 1.0 - TAIL)
    low, middle, high = weighted_quantiles(figures, np.ones(figures.size), shares)
    return Shows(low=low, middle=middle, high=high, overload=overload)
