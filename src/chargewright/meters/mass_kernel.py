"""The compiled half of ``mass.py``: the same sums, one interval after another."""

from __future__ import annotations

import math

from chargewright.circuit.compiled import compiled, entry
from chargewright.machine.parameters import Array

FAR = 8.5  # standard deviations beyond which 1 - Phi < 1e-17
NARROW = 0.01  # a/s below which the series is the better one (error < 1e-12)
SHARP = 1e-7  # s/a below which the rectangle's edges are sharp
ROOT_HALF = math.sqrt(0.5)
PHI_0 = 1.0 / math.sqrt(2.0 * math.pi)


@compiled
def _ndtr(x: float) -> float:
    return 0.5 * math.erfc(-x * ROOT_HALF)


@compiled
def _density(x: float) -> float:
    return PHI_0 * math.exp(-0.5 * x * x)


@compiled
def _ramp(x: float) -> float:
    """Return the integral of the normal distribution function up to ``x``."""
    return x * _ndtr(x) + _density(x)


@compiled
def _below(z: float, a: float, s: float) -> float:
    """Return the probability that rectangle(a) + normal(s) falls below ``z``."""
    if not abs(z) <= a + FAR * s:
        return 1.0 if z > 0.0 else 0.0
    if s <= SHARP * a or s <= 0.0:
        return 0.5 * (z / a + 1.0) if a > 0.0 else 0.5
    if a < NARROW * s:
        total = math.sqrt(s * s + a * a / 3.0)
        x = z / total
        kurt = -2.0 / 15.0 * (a / total) ** 4  # fourth cumulant of a rectangle: -2a^4/15
        return _ndtr(x) - kurt / 24.0 * (x * x * x - 3.0 * x) * _density(x)
    return s / (2.0 * a) * (_ramp((z + a) / s) - _ramp((z - a) / s))


@entry
def fill_masses(
    centre: Array, half_width: Array, sigma: Array, low: Array, high: Array, masses: Array
) -> None:
    """Fill ``masses`` (n,) with the probability between ``low`` and ``high``; all (n,)."""
    for i in range(masses.shape[0]):
        a, s = half_width[i], sigma[i]
        above, below = high[i] - centre[i], low[i] - centre[i]
        if below > 0.0:  # mirrored: a lower tail keeps its digits
            above, below = -below, -above
        masses[i] = min(max(_below(above, a, s) - _below(below, a, s), 0.0), 1.0)
