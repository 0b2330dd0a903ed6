"""How often a technician sees the sign of a fault: eyes and fingers as an instrument.

A sign grows with a part's true value x along a logistic curve in ln x:
    p = least + (most - least) / (1 + exp(-(ln x - ln at) / width)),
the form of a probability-of-detection curve (hit/miss data with a log-odds model, as in
MIL-HDBK-1823A). The figures themselves are assumed; they are data in ``data/checks.toml``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from chargewright.machine.parameters import INDEX, Array, column

TINY = 1e-12  # stands for zero in a logarithm
SOUND_V = 14.8  # upper end of common regulated volts (service-manual type specifications)
RUNAWAY_V = 18.0  # held by a battery when nothing regulates (ISO 16750-2 regulator failure)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trigger:
    """One way a sign comes about: the largest of ``quantities`` against ``at``.

    ``at`` has the quantities' unit; ``width`` is in units of the natural logarithm.
    """

    quantities: tuple[str, ...]
    at: float
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """When a look shows something. ``least`` is the share of false signs on sound machines."""

    triggers: tuple[Trigger, ...]
    least: float
    most: float


def overcharge_v(params: Array) -> Array:
    """Return the volts (n,) by which charging exceeds what a battery stands for long.

    A regulator that can cut only a share of the time lets the voltage drift towards what an
    unregulated machine reaches; the blend is linear (assumed).
    """
    held_v = column(params, "setpoint_v") + np.maximum(column(params, "setpoint_hot_shift_v"), 0.0)
    drift_v = np.maximum(RUNAWAY_V - held_v, 0.0)
    held_v = held_v + (1.0 - column(params, "cut_max")) * drift_v
    return np.maximum(held_v - SOUND_V, 0.0)


def battery_cca_v(params: Array) -> Array:
    """Return the battery's ohms times its rated cranking amperes [V] (n,): its age.

    A new starter battery is near 3.0 V (5.4 V per cold-cranking ampere at -18 C and about
    1/1.8 of that at 25 C, after SAE J537's 7.2 V at 30 s); it grows as the battery ages.
    """
    return column(params, "battery_ohm") * column(params, "rated_cca_a")


DERIVED: dict[str, Callable[[Array], Array]] = {
    "overcharge_v": overcharge_v,
    "battery_cca_v": battery_cca_v,
}

QUANTITIES = frozenset(INDEX) | frozenset(DERIVED)
"""Every name a trigger may use: a parameter's or a derived quantity's."""


def sign_probability(sign: Sign, params: Array) -> Array:
    """Return the chance (n,) that a technician sees the sign on each machine (n, COUNT)."""
    seen = np.zeros(params.shape[0])
    for trigger in sign.triggers:
        largest = np.max([_quantity(name, params) for name in trigger.quantities], axis=0)
        steps = (np.log(np.maximum(largest, TINY)) - np.log(trigger.at)) / trigger.width
        seen = np.maximum(seen, _logistic(steps))
    return sign.least + (sign.most - sign.least) * seen


def _quantity(name: str, params: Array) -> Array:
    return DERIVED[name](params) if name in DERIVED else column(params, name)


def _logistic(x: Array) -> Array:
    """Return 1/(1 + exp(-x)) without overflow at either end."""
    result: Array = 0.5 * (1.0 + np.tanh(0.5 * x))
    return result
