"""The pieces of the GUM that a verdict needs: combining, degrees of freedom, coverage.

References: JCGM 100:2008 (GUM), JCGM 101:2008 (Monte Carlo), clause numbers from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from math import erfc, exp, factorial, hypot, inf, pi, prod, sqrt

import numpy as np

from chargewright.errors import InputError
from chargewright.machine.parameters import Array

ROOT_3 = sqrt(3.0)
_SMALL = 1e-3  # rectangles below this share of u are folded into the normal (error < 2e-5)
_FAR = 9.0  # standard deviations that hold all of a normal


def rectangle_u(half_width: float) -> float:
    """Return the standard uncertainty a/sqrt(3) of a rectangle of ``half_width`` (GUM 4.3.7)."""
    return half_width / ROOT_3


def combine(sensitivity: Array, u: Array, correlation: Array | None = None) -> float:
    """Return u_c of first order: sqrt(sum c_i c_j u_i u_j r_ij) (GUM 5.2.2).

    ``sensitivity`` and ``u`` (k,), ``correlation`` (k, k) or none for independent inputs.
    """
    parts = np.asarray(sensitivity) * np.asarray(u)
    if correlation is None:
        return float(np.sqrt(parts @ parts))
    return float(np.sqrt(parts @ correlation @ parts))


def welch_satterthwaite(parts: Sequence[float], freedom: Sequence[float]) -> float:
    """Return nu_eff = u_c^4 / sum(u_i^4 / nu_i) (GUM G.4.1); ``inf`` where no part is limited.

    >>> round(welch_satterthwaite([0.57, 0.25], [9, float("inf")]), 1)
    12.8
    """
    total = sum(u * u for u in parts) ** 2
    spent = sum(u**4 / nu for u, nu in zip(parts, freedom, strict=True))
    return total / spent if spent > 0.0 else inf


def ratio_u(volts: float, volts_u: float, amps: float, amps_u: float) -> float:
    """Return u of R = V/I for independent errors: R*sqrt((u_V/V)^2 + (u_I/I)^2)."""
    return abs(volts / amps) * hypot(volts_u / volts, amps_u / amps)


@dataclass(frozen=True, slots=True)
class Spread:
    """An error made of independent rectangles (half-widths) and one normal part (sigma).

    Its distribution function is the normal integrated once over each rectangle: an exact,
    alternating sum of repeated integrals of the normal distribution function.
    """

    half_widths: tuple[float, ...] = ()
    sigma: float = 0.0

    def __post_init__(self) -> None:
        if self.sigma < 0.0 or any(a < 0.0 for a in self.half_widths):
            raise InputError(
                f"half-widths {self.half_widths} and sigma {self.sigma}: expected none below 0"
            )

    @property
    def u(self) -> float:
        """Standard uncertainty."""
        return sqrt(self.sigma**2 + sum(a * a for a in self.half_widths) / 3.0)

    def scaled(self, factor: float) -> Spread:
        """Return the same error ``factor`` times as large."""
        return Spread(tuple(factor * a for a in self.half_widths), factor * self.sigma)

    def below(self, z: float) -> float:
        """Return the probability that the error is below ``z``."""
        wide, sigma = self._reduced()
        if not wide and sigma == 0.0:
            return 0.5 if z == 0.0 else float(z > 0.0)
        reach = sum(wide) + _FAR * sigma
        if abs(z) >= reach:
            return float(z > 0.0)
        if z > 0.0:  # the upper tail would lose digits: the error is symmetric
            return 1.0 - self.below(-z)
        k = len(wide)
        total = 0.0
        for signs in product((1.0, -1.0), repeat=k):
            edge = z + sum(sign * a for sign, a in zip(signs, wide, strict=True))
            total += prod(signs) * _repeated_integral(k, edge, sigma)
        share = total / prod(2.0 * a for a in wide)
        return min(max(share, 0.0), 1.0)

    def half_width(self, coverage: float = 0.95) -> float:
        """Return h so that the error lies within +-h with probability ``coverage``.

        >>> round(Spread((1.0,)).half_width() / Spread((1.0,)).u, 3)
        1.645
        """
        low, high = 0.0, sum(self.half_widths) + _FAR * self.sigma
        target = 0.5 * (1.0 - coverage)
        for _ in range(80):
            middle = 0.5 * (low + high)
            if self.below(-middle) > target:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)

    def _reduced(self) -> tuple[tuple[float, ...], float]:
        """Return rectangles worth keeping and sigma with the others folded in."""
        edge = _SMALL * self.u
        folded = sum(a * a for a in self.half_widths if a <= edge) / 3.0
        wide = tuple(a for a in self.half_widths if a > edge)
        return wide, sqrt(self.sigma**2 + folded)


def _repeated_integral(k: int, x: float, sigma: float) -> float:
    """Return the k-fold integral up to ``x`` of the distribution function of N(0, sigma).

    With t = x/sigma: I_-1 = phi, I_0 = Phi, I_j = (t*I_j-1 + I_j-2)/j, scaled by sigma^k.
    """
    if sigma == 0.0:
        return max(x, 0.0) ** k / factorial(k)
    t = x / sigma
    before = exp(-0.5 * t * t) / sqrt(2.0 * pi) if abs(t) < 38.0 else 0.0
    now = 0.5 * erfc(-t / sqrt(2.0))
    for j in range(1, k + 1):
        before, now = now, (t * now + before) / j
    return now * sigma**k


@dataclass(frozen=True, slots=True, kw_only=True)
class Trials:
    """Result of a Monte Carlo propagation: mean, standard uncertainty, 95 % intervals."""

    mean: float
    u: float
    low: float  # probabilistically symmetric interval
    high: float
    shortest_low: float
    shortest_high: float


def monte_carlo(
    model: Callable[..., Array],
    inputs: Sequence[Callable[[np.random.Generator, int], Array]],
    *,
    rng: np.random.Generator,
    trials: int = 200_000,
    coverage: float = 0.95,
) -> Trials:
    """Return the distribution of ``model(*inputs)`` by ``trials`` draws (JCGM 101:2008 clause 7).

    Each input draws an array of shape (trials,) from the generator it is given; the same
    generator state gives the same result.
    """
    values = np.sort(model(*(draw(rng, trials) for draw in inputs)))
    kept = round(coverage * trials)
    first = (trials - kept) // 2
    widths = values[kept:] - values[: trials - kept]
    best = int(np.argmin(widths))
    return Trials(
        mean=float(values.mean()),
        u=float(values.std(ddof=1)),
        low=float(values[first]),
        high=float(values[min(first + kept, trials - 1)]),
        shortest_low=float(values[best]),
        shortest_high=float(values[best + kept]),
    )
