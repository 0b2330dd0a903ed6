"""The path without a compiler: the next periods' starts of a batch, as ``mixing.py``."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.mixing import ALIKE, MOST_SUM, MOST_WEIGHT, NOTHING, UNKNOWNS
from chargewright.circuit.plain_mode import Ints
from chargewright.machine.parameters import Array


class Mixing:
    """What mixing keeps of n machines: starts and ends of the last two periods."""

    def __init__(self, n: int) -> None:
        self._start = np.zeros((2, UNKNOWNS, n))
        self._end = np.zeros((2, UNKNOWNS, n))
        self._before = np.zeros(n, dtype=np.intp)

    def mix(self, at: Ints, start: Array, end: Array) -> Array:
        """Return the next starts (UNKNOWNS, m) of the machines ``at`` (m,)."""
        left = end - start
        old = self._end[:, :, at] - self._start[:, :, at]
        known = self._before[at] > np.arange(2)[:, None]
        d1, d2 = np.where(known[:, None], left - old, 0.0)
        w1, w2 = weights(
            (d1 * d1).sum(axis=0),
            (d1 * d2).sum(axis=0),
            (d2 * d2).sum(axis=0),
            (d1 * left).sum(axis=0),
            (d2 * left).sum(axis=0),
        )
        older, oldest = self._end[:, :, at]
        self._start[1][:, at], self._end[1][:, at] = self._start[0][:, at], older
        self._start[0][:, at], self._end[0][:, at] = start, end
        self._before[at] += 1
        return np.asarray(end - w1 * (end - older) - w2 * (end - oldest))


def weights(a11: Array, a12: Array, a22: Array, b1: Array, b2: Array) -> tuple[Array, Array]:
    """Return the weights (m,) of the two earlier periods, as ``mixing.weights``."""
    det = a11 * a22 - a12 * a12
    two: NDArray[np.bool_] = det > ALIKE * a11 * a22
    g1, g2 = (b1 * a22 - b2 * a12) / det, (b2 * a11 - b1 * a12) / det
    two &= (np.abs(g1) <= MOST_WEIGHT) & (np.abs(g2) <= MOST_WEIGHT) & (g1 + g2 <= MOST_SUM)
    one = np.where(a11 > NOTHING, np.clip(b1 / a11, -MOST_WEIGHT, MOST_SUM), 0.0)
    return np.where(two, g1, one), np.where(two, g2, 0.0)
