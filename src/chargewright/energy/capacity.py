"""How many ampere-hours a battery gives at another current or temperature than its label's.

Peukert's law is for hours of steady current, not for cranking (above about 3 C).
"""

from __future__ import annotations

import math

import numpy as np

from chargewright.energy.interval import Interval
from chargewright.errors import InputError
from chargewright.machine.layout import Chemistry
from chargewright.machine.parameters import Array

# Usual exponents (retailer's article): lowest and highest of each kind; lithium from memory.
PEUKERT = {
    Chemistry.FLOODED: Interval(1.20, 1.30, 1.60),
    Chemistry.AGM: Interval(1.05, 1.10, 1.15),
    Chemistry.GEL: Interval(1.10, 1.17, 1.25),
    Chemistry.LIFEPO4: Interval(1.00, 1.03, 1.06),
}
SINGLE_EXPONENT_U = 0.08  # one exponent misses a data sheet's own ratings by up to 8 %

# Capacity against temperature: 40 Ah sealed battery, data sheet. LiFePO4: one maker's note.
_LEAD_C, _LEAD_SHARE = (-10.0, 10.0, 25.0, 30.0), (0.74, 0.90, 1.00, 1.03)
_LITHIUM_C, _LITHIUM_SHARE = (-10.0, 0.0, 25.0), (0.60, 0.85, 1.00)
HIGHEST_RATE_PER_H = 3.0  # beyond 3 C Peukert's law is not meant


def exponent_from_ratings(hours: tuple[float, float], ah: tuple[float, float]) -> float:
    """Return Peukert's exponent from two ratings: k = ln(t2/t1)/ln(I1/I2).

    >>> round(exponent_from_ratings((20.0, 1.0), (40.0, 24.0)), 4)
    1.2056
    """
    one, two = (charge / time for charge, time in zip(ah, hours, strict=True))
    if one == two:
        raise InputError(f"ratings of {ah[0]:g} and {ah[1]:g} Ah mean one current; expected two")
    return math.log(hours[1] / hours[0]) / math.log(one / two)


def capacity_at_a(rated_ah: float, current_a: float, *, rated_h: float, exponent: float) -> float:
    """Return the capacity [Ah] at ``current_a`` [A]: C (I_rated/I)^(k - 1).

    ``rated_h`` is the discharge time of the label (10 h on motorcycles, 20 h elsewhere).

    >>> round(capacity_at_a(100.0, 10.0, rated_h=20.0, exponent=1.2) / 10.0, 2)
    8.71
    """
    if not 0.0 < current_a <= HIGHEST_RATE_PER_H * rated_ah:
        raise InputError(
            f"current {current_a:g} A of a {rated_ah:g} Ah battery: expected above 0 up to"
            f" {HIGHEST_RATE_PER_H * rated_ah:g} A (3 C); use cranking figures beyond"
        )
    return float(rated_ah * (rated_ah / rated_h / current_a) ** (exponent - 1.0))


def temperature_share(chemistry: Chemistry, temp_c: Array | float) -> Array:
    """Return the capacity at ``temp_c`` [C] over that at 25 C; held level beyond the table."""
    if chemistry is Chemistry.LIFEPO4:
        return np.asarray(np.interp(temp_c, _LITHIUM_C, _LITHIUM_SHARE))
    return np.asarray(np.interp(temp_c, _LEAD_C, _LEAD_SHARE))
