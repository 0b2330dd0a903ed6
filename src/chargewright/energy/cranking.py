"""Whether a battery still turns its engine: the circuit's battery against the engine's demand."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from chargewright.circuit.battery import battery_of
from chargewright.circuit.still import CRANK_DOUBLING_K, CRANK_REFERENCE_C
from chargewright.errors import InputError
from chargewright.machine.conditioning import load_class
from chargewright.machine.layout import CHEMISTRIES, Chemistry
from chargewright.machine.parameters import INDEX, Array, healthy_row
from chargewright.machine.points import State

# Below this the engine does not start (assumed, 6.4 to 8.0 V): SAE J537 rates a battery down to
# 7.2 V, a car maker's cold cranking profile holds 7.6 V for ten seconds.
START_V, START_U_V = 7.2, 0.4

START_S = 4.0  # a cold start takes about four seconds (one measured twin)


REPAY_FACTOR = 1.1  # Ah in per Ah out of a partial charge (1.04 to 1.11 measured)


def repay_min(taken_ah: float, net_a: float) -> float:
    """Return the minutes of riding that put ``taken_ah`` [Ah] back at ``net_a`` [A] surplus.

    >>> round(repay_min(130.0 * 4.0 / 3600.0, 2.0), 1)
    4.8
    """
    if net_a <= 0.0:
        return float("inf")
    return 60.0 * REPAY_FACTOR * taken_ah / net_a


@dataclass(frozen=True, slots=True, kw_only=True)
class Starter:
    """A battery in front of an engine: arrays or numbers that broadcast.

    ``crank_a`` [A] asked at 25 C; ``battery_ohm`` at 25 C when charged.
    """

    chemistry: Chemistry
    battery_ohm: Array | float
    crank_a: Array | float


@cache
def class_crank_a(class_id: str) -> float:
    """Return what a class's engine asks at 25 C [A], by the machine room's own figures.

    Cold sources name more (130 A for a cold 821 cc twin): that is this figure on a cold day,
    and its first peak, which decides nothing.
    """
    return load_class(class_id).typical()["crank_a"]


def start_ah(crank_a: Array | float, temp_c: Array | float) -> Array:
    """Return the charge [Ah] one start takes at ``temp_c`` [C]; ``crank_a`` [A] as at 25 C."""
    return np.asarray(demand_a(crank_a, temp_c) * START_S / 3600.0)


def demand_a(crank_a: Array | float, temp_c: Array | float) -> Array:
    """Return the current [A] the cold engine asks at ``temp_c`` [C]: double per 43 K colder."""
    return np.asarray(
        crank_a * 2.0 ** ((CRANK_REFERENCE_C - np.asarray(temp_c)) / CRANK_DOUBLING_K)
    )


def cranking_v(starter: Starter, soc: Array | float, temp_c: Array | float) -> Array:
    """Return the volts (n,) at the posts while cranking at ``soc`` (0..1) and ``temp_c`` [C].

    The circuit's short-time battery, with the engine's full demand: on a weak battery a real
    starter takes less and turns too slowly, so a low figure means no start, not that voltage.
    """
    columns = np.broadcast_arrays(soc, temp_c, starter.battery_ohm, starter.crank_a)
    soc_n, temp_n, ohm_n, crank_n = (np.ravel(c).astype(np.float64) for c in columns)
    params = np.tile(healthy_row(), (soc_n.size, 1))
    params[:, INDEX["chemistry"]] = CHEMISTRIES.index(starter.chemistry)
    params[:, INDEX["soc"]] = soc_n
    params[:, INDEX["ambient_c"]] = temp_n
    params[:, INDEX["battery_ohm"]] = ohm_n
    battery = battery_of(params, State())
    return np.asarray(battery.short_emf_v - demand_a(crank_n, temp_n) * battery.short_ohm)


def least_soc(starter: Starter, temp_c: float, *, start_v: float = START_V) -> float:
    """Return the lowest charge (0..1) that still cranks at ``start_v``; 1.01 if none does."""
    if not 5.0 <= start_v <= 12.0:
        raise InputError(f"start_v = {start_v:g} V: expected 5 to 12 V")
    soc = np.linspace(0.0, 1.0, 201)
    volts = cranking_v(starter, soc, temp_c)
    enough = volts >= start_v
    if not enough[-1]:
        return 1.01
    return float(soc[len(soc) - int(np.argmin(enough[::-1]))]) if not enough.all() else 0.0
