"""A figure with its 95 % interval: this room never hands out a bare number it does not know."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.errors import InputError
from chargewright.machine.parameters import Array

LOW_SHARE, HIGH_SHARE = 0.025, 0.975  # ends of a 95 % interval


@dataclass(frozen=True, slots=True)
class Interval:
    """Lowest, likeliest and highest value of one quantity, all in the same unit.

    >>> Interval(1.0, 2.0, 4.0).scaled(10.0)
    Interval(low=10.0, best=20.0, high=40.0)
    """

    low: float
    best: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.best <= self.high:
            raise InputError(
                f"interval {self.low:g}, {self.best:g}, {self.high:g}: expected rising order"
            )

    @property
    def width(self) -> float:
        """Distance between the ends."""
        return self.high - self.low

    def scaled(self, factor: float) -> Interval:
        """Return the interval times a positive factor."""
        return Interval(self.low * factor, self.best * factor, self.high * factor)

    def holds(self, value: float) -> bool:
        """Tell whether ``value`` lies inside, ends included."""
        return self.low <= value <= self.high


def point(value: float) -> Interval:
    """Return the interval of a figure that is known."""
    return Interval(value, value, value)


def of_samples(values: Array, weights: Array | None = None) -> Interval:
    """Return median and 95 % interval of samples (n,) with ``weights`` (n,), equal without.

    >>> of_samples(np.arange(1001.0))
    Interval(low=25.0, best=500.0, high=975.0)
    """
    if weights is None:
        low, best, high = np.quantile(values, (LOW_SHARE, 0.5, HIGH_SHARE))
        return Interval(float(low), float(best), float(high))
    order = np.argsort(values)
    below = np.cumsum(weights[order])
    below = (below - 0.5 * weights[order]) / below[-1]
    low, best, high = np.interp((LOW_SHARE, 0.5, HIGH_SHARE), below, values[order])
    return Interval(float(low), float(best), float(high))
