"""How probable it is that a meter would show what was typed.

A reading is trusted to the meter's distribution with a share for blunders: a decimal slip, swapped
probes, a bad contact, a wrong dial position. So one bad reading neither crashes nor convinces.
Repeats with one meter share its error: combine them first (``shown.combine_repeats``).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, log

import numpy as np

from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters.indicate import Indication
from chargewright.meters.mass import interval_mass
from chargewright.meters.shown import Shown

CONTINUITY_OHM = 50.0  # most beepers stop between 20 and 70 ohm: from memory of makers' manuals
CONTINUITY_STEEPNESS = 4.0  # softness of that edge over the makes: 8 to 92 % over 27...92 ohm
FLOOR = 1e-30  # keeps the logarithm finite where not even a blunder explains a reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Blunders:
    """What goes wrong when a reading is no reading; the shares sum to one. All assumed."""

    anything: float = 0.40  # any figure, even over the decades of ``span``
    ten_times: float = 0.15  # decimal slip up
    tenth: float = 0.15  # decimal slip down
    reversed: float = 0.10  # probes swapped: the sign turns
    dead: float = 0.20  # bad contact: nothing, or OL on ohms and diode


COMMON_BLUNDERS = Blunders()
BLUNDER_SHARE = 0.02  # of all readings (assumed; 0.01...0.05 is plausible in a workshop)
# Decades over which "any figure" is spread, by what is measured (assumed).
_SPAN_OHM = (1e-2, 1e8)
_SPAN = (1e-4, 1e3)
_DEAD_COUNTS = 5.0  # a dead contact shows zero within so many counts


def log_likelihood(
    indication: Indication,
    shown: Shown,
    *,
    model_sigma: Array | float = 0.0,
    blunder_share: float = BLUNDER_SHARE,
    blunders: Blunders = COMMON_BLUNDERS,
) -> Array:
    """Return ln P(the technician writes ``shown``), shape (n,), finite for finite shares > 0.

    ``model_sigma`` (n,) or scalar is the standard deviation of the circuit model itself, in the
    reading's unit. A figure counts the probability of its whole step, the coarser of the
    display's and the typed digit; bounds and spans that of their half line or interval.
    """
    sigma = np.hypot(indication.sigma, model_sigma)
    if shown.kind == "overload":
        meter = _overload(indication, sigma)
        low: Array | float = min(top for top, _ in indication.tops)
        high: Array | float = inf
    elif shown.kind == "continuity":
        meter = _continuity(indication)
        low, high = -inf, CONTINUITY_OHM
    else:
        low, high = bounds(shown, indication.lsd)
        meter = _interval(indication, sigma, low, high)
        meter *= 1.0 - called_over(indication, shown)
    meter = np.where(np.isfinite(meter), meter, 0.0)
    broad = _blunder(indication, sigma, low, high, blunders)
    mixed = (1.0 - blunder_share) * meter + blunder_share * broad
    logs: Array = np.log(np.maximum(mixed, FLOOR))
    return logs


def bounds(shown: Shown, lsd: Array | float) -> tuple[Array | float, Array | float]:
    """Return the interval of the display that a typed figure, bound or span stands for."""
    half_step = 0.5 * np.maximum(lsd, shown.lsd)
    if shown.kind == "at_least":
        return shown.value, inf
    if shown.kind == "at_most":
        return -inf, shown.value
    reach = shown.reach + half_step
    return shown.middle - reach, shown.middle + reach


def called_over(indication: Indication, shown: Shown) -> float:
    """Return the chance that a display of this figure would have been written down as OL.

    The same for every machine; with it the figures and OL together have probability one.
    """
    if shown.kind == "at_least":
        return 0.0  # OL is also "at least"
    return sum(share for top, share in indication.tops if shown.middle > top)


def _interval(
    indication: Indication, sigma: Array, low: Array | float, high: Array | float
) -> Array:
    return interval_mass(indication.centre, indication.half_width, sigma, low=low, high=high)


def _overload(indication: Indication, sigma: Array) -> Array:
    total = np.zeros_like(indication.centre)
    for top, share in indication.tops:
        above = _interval(indication, sigma, top, inf)
        if indication.function is not Function.OHM and indication.function is not Function.DIODE:
            above += _interval(indication, sigma, -inf, -top)
        total += share * above
    return total


def _continuity(indication: Indication) -> Array:
    ratio = np.clip(indication.centre / CONTINUITY_OHM, 0.0, 1e9)
    beeps: Array = 1.0 / (1.0 + ratio**CONTINUITY_STEEPNESS)
    return beeps


def _blunder(
    indication: Indication,
    sigma: Array,
    low: Array | float,
    high: Array | float,
    shares: Blunders,
) -> Array:
    """Return the probability (n,) that a blunder lands between ``low`` and ``high``."""
    overloads = indication.function in (Function.OHM, Function.DIODE)
    span = _SPAN_OHM if indication.function is Function.OHM else _SPAN
    total = np.broadcast_to(shares.anything * _log_uniform(low, high, span), sigma.shape).copy()
    reach = indication.half_width + 2.0 * sigma + 0.5 * indication.lsd
    slips = ((10.0, shares.ten_times), (0.1, shares.tenth), (-1.0, shares.reversed))
    for factor, share in slips:
        total += share * _overlap(factor * indication.centre, abs(factor) * reach, low, high)
    if overloads:
        total += shares.dead * (np.asarray(high) == inf)
    else:
        total += shares.dead * _overlap(0.0, _DEAD_COUNTS * indication.lsd, low, high)
    return total


def _overlap(centre: Array | float, reach: Array, low: Array | float, high: Array | float) -> Array:
    """Return the share of centre +- reach that lies between ``low`` and ``high``."""
    shared = np.minimum(high, centre + reach) - np.maximum(low, centre - reach)
    return np.nan_to_num(np.clip(shared / (2.0 * reach), 0.0, 1.0), nan=0.0)


def _log_uniform(
    low: Array | float, high: Array | float, span: tuple[float, float]
) -> Array | float:
    """Return the share of a log-uniform magnitude of either sign between ``low`` and ``high``."""
    decades = log(span[1] / span[0])

    def up_to(x: Array | float) -> Array | float:
        magnitude = np.clip(np.abs(x), span[0], span[1])
        side: Array | float = np.sign(x) * np.log(magnitude / span[0]) / decades
        return side

    return 0.5 * (up_to(high) - up_to(low))
