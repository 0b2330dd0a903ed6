"""Probability that a rectangular error plus a normal one puts a reading inside an interval.

With z = y - centre, a = half_width, s = sigma, the distribution function of the sum is
F(y) = s/(2a) * (G((z+a)/s) - G((z-a)/s)), G(x) = x*Phi(x) + phi(x): the rectangle
integrated over the normal. Where a is small beside s, two terms of the Edgeworth series take
over, because the difference above loses digits (Kendall & Stuart vol. 1, from memory).

Weighing a belief spends most of its time outside the circuit here: where numba is installed a
compiled loop (``mass_kernel.py``) does the same.
"""

from __future__ import annotations

import numpy as np

from chargewright.circuit.compiled import HAVE_NUMBA
from chargewright.machine.normal import density, ndtr
from chargewright.machine.parameters import Array
from chargewright.meters.mass_kernel import FAR, NARROW, SHARP, fill_masses


def _ramp(x: Array) -> Array:
    """Return G(x), the integral of the normal distribution function up to x."""
    return np.asarray(x * ndtr(x) + density(x))


def _below(z: Array, a: Array, s: Array) -> Array:
    """Return the probability (n,) that rectangle(a) + normal(s) falls below ``z``."""
    result = np.where(z > 0.0, 1.0, 0.0)
    near = np.abs(z) <= a + FAR * s
    sharp = near & ((s <= SHARP * a) | (s <= 0.0))
    if sharp.any():
        width = np.where(a[sharp] > 0.0, a[sharp], 1.0)
        result[sharp] = np.where(a[sharp] > 0.0, 0.5 * (z[sharp] / width + 1.0), 0.5)
    narrow = near & ~sharp & (a < NARROW * s)
    if narrow.any():
        total = np.sqrt(s[narrow] ** 2 + a[narrow] ** 2 / 3.0)
        x = z[narrow] / total
        # fourth cumulant of a rectangle: -2a^4/15
        kurt = -2.0 / 15.0 * (a[narrow] / total) ** 4
        result[narrow] = ndtr(x) - kurt / 24.0 * (x * x * x - 3.0 * x) * density(x)
    rest = near & ~sharp & ~narrow
    if rest.any():
        zr, ar, sr = z[rest], a[rest], s[rest]
        result[rest] = sr / (2.0 * ar) * (_ramp((zr + ar) / sr) - _ramp((zr - ar) / sr))
    return result


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
    centres, a, s, lows, highs = (
        np.broadcast_to(np.asarray(x, dtype=np.float64), shape).ravel()
        for x in (centre, half_width, sigma, low, high)
    )
    masses = np.zeros(centres.size)
    if HAVE_NUMBA:
        fill_masses(centres, a, s, lows, highs, masses)
    else:
        _fill(centres, a, s, lows, highs, masses)
    return masses.reshape(shape)


def _fill(centres: Array, a: Array, s: Array, lows: Array, highs: Array, masses: Array) -> None:
    """Fill ``masses`` (n,) with the probability of each interval, in NumPy."""
    reach = a + FAR * s
    with np.errstate(invalid="ignore"):
        masses[(lows < centres) & (centres < highs)] = 1.0
        edge = (np.abs(lows - centres) <= reach) | (np.abs(highs - centres) <= reach)
    if edge.any():
        c, ae, se = centres[edge], a[edge], s[edge]
        above, below = highs[edge] - c, lows[edge] - c
        # An interval beyond the centre is mirrored: a lower tail keeps its digits, an upper
        # one is the small difference of two numbers near 1.
        beyond = below > 0.0
        top = np.where(beyond, -below, above)
        bottom = np.where(beyond, -above, below)
        masses[edge] = _below(top, ae, se) - _below(bottom, ae, se)
    np.clip(masses, 0.0, 1.0, out=masses)
