"""The standard normal distribution function over arrays, without SciPy.

0.5 erfc(-x/sqrt 2) keeps full relative accuracy in the lower tail (Abramowitz and Stegun
26.2.29 with 7.1.2), where 0.5 (1 + erf) would cancel.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np

from chargewright.machine.parameters import Array

_SQRT_HALF = math.sqrt(0.5)


def _ndtr_scalar(x: float) -> float:
    return 0.5 * math.erfc(-x * _SQRT_HALF)


def _vectorised() -> Callable[[Array], Array]:
    """Return the compiled elementwise function, or the slow NumPy one without numba."""
    try:
        from numba import vectorize
    except ImportError:
        return np.vectorize(_ndtr_scalar, otypes=[np.float64])
    make: Callable[..., Any] = vectorize  # numba ships no types
    compiled: Callable[[Array], Array] = make(["float64(float64)"], cache=True)(_ndtr_scalar)
    return compiled


_ndtr = _vectorised()


def ndtr(x: Array | float) -> Array:
    """Return Phi(x), the chance that a standard normal is below ``x``; same shape as ``x``.

    >>> round(float(ndtr(1.96)), 6)
    0.975002
    """
    return np.asarray(_ndtr(np.asarray(x, dtype=np.float64)), dtype=np.float64)
