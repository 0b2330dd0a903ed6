"""Probability that a rectangular error plus a normal one puts a reading inside an interval.

With z = y - centre, a = half_width, s = sigma, the distribution function of the sum is
F(y) = s/(2a) * (G((z+a)/s) - G((z-a)/s)), G(x) = x*Phi(x) + phi(x): the rectangle
integrated over the normal. Where a is small beside s, two terms of the Edgeworth series take
over, because the difference above loses digits (Kendall & Stuart vol. 1, from memory).
"""

from __future__ import annotations

from math import erfc, exp, sqrt

import numpy as np

from chargewright.circuit.compiled import HAVE_NUMBA, compiled
from chargewright.machine.parameters import Array

_ROOT_HALF = sqrt(0.5)
_PHI_0 = 0.3989422804014327  # 1/sqrt(2 pi)
_FAR = 8.5  # standard deviations beyond which 1 - Phi < 1e-17
_NARROW = 0.01  # a/s below which the series is the better one (error < 1e-12)
_SHARP = 1e-7  # s/a below which the rectangle's edges are sharp


@compiled
def _ramp(x: float) -> float:
    """Return G(x), the integral of the normal distribution function up to x."""
    if x > _FAR:
        return x
    if x < -_FAR:
        return 0.0
    return x * 0.5 * erfc(-x * _ROOT_HALF) + _PHI_0 * exp(-0.5 * x * x)


@compiled
def _below(z: float, a: float, s: float) -> float:
    """Return the probability that rectangle(a) + normal(s) falls below ``z``."""
    if z > a + _FAR * s:
        return 1.0
    if z < -a - _FAR * s:
        return 0.0
    if s <= _SHARP * a or s <= 0.0:
        return 0.5 * (z / a + 1.0) if a > 0.0 else 0.5
    if a < _NARROW * s:
        total = sqrt(s * s + a * a / 3.0)
        x = z / total
        # fourth cumulant of a rectangle: -2a^4/15
        kurt = -2.0 / 15.0 * (a / total) ** 4
        return 0.5 * erfc(-x * _ROOT_HALF) - kurt / 24.0 * (x * x * x - 3.0 * x) * _PHI_0 * exp(
            -0.5 * x * x
        )
    return s / (2.0 * a) * (_ramp((z + a) / s) - _ramp((z - a) / s))


@compiled
def _one_mass(centre: float, a: float, s: float, low: float, high: float) -> float:
    return _below(high - centre, a, s) - _below(low - centre, a, s)


@compiled
def _masses(centre: Array, a: Array, s: Array, low: Array, high: Array, out: Array) -> None:
    for i in range(out.size):
        out[i] = _one_mass(centre[i], a[i], s[i], low[i], high[i])


def _plain_masses(centre: Array, a: Array, s: Array, low: Array, high: Array, out: Array) -> None:
    """Do the same without a compiler: only rows whose edges touch the distribution are summed."""
    reach = a + _FAR * s
    out[:] = np.where((low < centre) & (centre < high), 1.0, 0.0)
    near = (np.abs(low - centre) <= reach) | (np.abs(high - centre) <= reach)
    for i in np.flatnonzero(near):
        out[i] = _one_mass(
            float(centre[i]), float(a[i]), float(s[i]), float(low[i]), float(high[i])
        )


_fill = _masses if HAVE_NUMBA else _plain_masses


def interval_mass(
    centre: Array,
    half_width: Array,
    sigma: Array | float,
    *,
    low: Array | float,
    high: Array | float,
) -> Array:
    """Return the probability, shape (n,), that the reading lies between ``low`` and ``high``.

    ``centre`` (n,), ``half_width`` and ``sigma`` not negative, bounds may be infinite; all
    in one unit. Absolute error below 1e-12 (checked against SciPy quadrature).
    """
    shape = np.broadcast_shapes(*(np.shape(x) for x in (centre, half_width, sigma, low, high)))
    columns = [
        np.ascontiguousarray(np.broadcast_to(np.asarray(x, dtype=np.float64), shape)).ravel()
        for x in (centre, half_width, sigma, low, high)
    ]
    out = np.empty(columns[0].size, dtype=np.float64)
    centres, a, s, lows, highs = columns
    _fill(centres, a, s, lows, highs, out)
    np.clip(out, 0.0, 1.0, out=out)
    return out.reshape(shape)
