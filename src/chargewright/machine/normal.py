"""The standard normal distribution over arrays, in NumPy alone.

erfc by the rational approximations of W. J. Cody, "Rational Chebyshev approximations for the
error function", Mathematics of Computation 23 (1969) 631-637: three regions, full relative
accuracy far into the tail. SciPy would bring 100 MB, a compiled loop most of a second of
loading; neither is worth one function.
"""

from __future__ import annotations

import numpy as np

from chargewright.machine.parameters import Array

_NEAR, _MIDDLE = 0.46875, 4.0
_A = (1.85777706184603153e-1, 3.16112374387056560, 1.13864154151050156e2, 3.77485237685302021e2,
      3.20937758913846947e3)  # fmt: skip
_B = (1.0, 2.36012909523441209e1, 2.44024637934444173e2, 1.28261652607737228e3,
      2.84423683343917062e3)  # fmt: skip
_C = (2.15311535474403846e-8, 5.64188496988670089e-1, 8.88314979438837594, 6.61191906371416295e1,
      2.98635138197400131e2, 8.81952221241769090e2, 1.71204761263407058e3, 2.05107837782607147e3,
      1.23033935479799725e3)  # fmt: skip
_D = (1.0, 1.57449261107098347e1, 1.17693950891312499e2, 5.37181101862009858e2,
      1.62138957456669019e3, 3.29079923573345963e3, 4.36261909014324716e3, 3.43936767414372164e3,
      1.23033935480374942e3)  # fmt: skip
_P = (1.63153871373020978e-2, 3.05326634961232344e-1, 3.60344899949804439e-1,
      1.25781726111229246e-1, 1.60837851487422766e-2, 6.58749161529837803e-4)  # fmt: skip
_Q = (1.0, 2.56852019228982242, 1.87295284992346047, 5.27905102951428412e-1,
      6.05183413124413191e-2, 2.33520497626869185e-3)  # fmt: skip
_ROOT_PI_INVERSE = 0.56418958354775628695
_ROOT_HALF = np.sqrt(0.5)
_PHI_0 = 0.39894228040143267794  # 1/sqrt(2 pi)


def _ratio(top: tuple[float, ...], bottom: tuple[float, ...], x: Array) -> Array:
    """Return the ratio of two polynomials, coefficients from the highest power down."""
    return _horner(top, x) / _horner(bottom, x)


def _horner(coefficients: tuple[float, ...], x: Array) -> Array:
    value = np.full_like(x, coefficients[0])
    for coefficient in coefficients[1:]:
        value *= x
        value += coefficient
    return value


def _gauss(y: Array) -> Array:
    """Return exp(-y^2) with y split, so that its square is exact where it is large."""
    coarse = np.trunc(y * 16.0) / 16.0
    return np.asarray(np.exp(-coarse * coarse) * np.exp(-(y - coarse) * (y + coarse)))


def erfc(x: Array | float) -> Array:
    """Return the complementary error function; same shape as ``x``."""
    given = np.asarray(x, dtype=np.float64)
    flat = np.atleast_1d(given).ravel()
    y = np.minimum(np.abs(flat), 30.0)
    result = np.empty_like(y)
    near = y <= _NEAR
    far = y > _MIDDLE
    middle = ~near & ~far
    if near.any():
        t = flat[near]
        result[near] = 1.0 - t * _ratio(_A, _B, t * t)
    if middle.any():
        t = y[middle]
        result[middle] = _ratio(_C, _D, t) * _gauss(t)
    if far.any():
        t = y[far]
        z = 1.0 / (t * t)
        result[far] = (_ROOT_PI_INVERSE - z * _ratio(_P, _Q, z)) / t * _gauss(t)
    flip = ~near & (flat < 0.0)
    result[flip] = 2.0 - result[flip]
    result[np.isnan(flat)] = np.nan
    return result.reshape(given.shape)


def ndtr(x: Array | float) -> Array:
    """Return Phi(x), the chance that a standard normal is below ``x``; same shape as ``x``.

    0.5 erfc(-x/sqrt 2) keeps full relative accuracy in the lower tail.

    >>> round(float(ndtr(1.96)), 6)
    0.975002
    """
    return np.asarray(0.5 * erfc(-np.asarray(x, dtype=np.float64) * _ROOT_HALF))


def density(x: Array | float) -> Array:
    """Return the standard normal density; same shape as ``x``."""
    at = np.asarray(x, dtype=np.float64)
    return np.asarray(_PHI_0 * np.exp(-0.5 * at * at))
