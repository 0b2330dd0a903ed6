"""A reading against a limit: inside, outside, or not decidable with this set-up.

By probability of conformance (JCGM 106:2012 clause 7): how much of what the true value may be,
given the reading, lies inside the limits. A published limit is taken as exact: only the
measurement carries a guard, never the limit as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import inf, isfinite

from chargewright.errors import InputError
from chargewright.machine.points import Function
from chargewright.meters.card import FunctionCard, MeterCard, temperature_factor
from chargewright.meters.indicate import COMFORT_C
from chargewright.meters.likelihood import CONTINUITY_OHM
from chargewright.meters.shown import Shown
from chargewright.meters.uncertainty import Spread, rectangle_u

SURE = 0.95  # ISO 14253-1:2017's default conformance probability, from memory
GUARD = 1.645  # one-sided 95 % of a normal, JCGM 106:2012 Table 1
RULE = (
    "inside when at least 95 % of the values the reading leaves possible are within the limits, "
    "outside when at least 95 % lie beyond one limit, otherwise not decidable "
    "(probability of conformance, JCGM 106:2012)"
)


class Outcome(StrEnum):
    """What a reading says about a limit."""

    INSIDE = "inside"
    OUTSIDE = "outside"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A reading judged; quantities in the reading's unit.

    ``value`` is the reading with known offsets taken off; ``half_width`` covers 95 %.
    ``p_conform`` is none when a bound ("over 50", OL) leaves it open. ``needed_u`` is the standard
    uncertainty that would decide, distance to the nearest limit / 1.645.
    """

    outcome: Outcome
    p_conform: float | None
    value: float
    u: float
    half_width: float
    low: float | None
    high: float | None
    needed_u: float
    rule: str = RULE
    advice: tuple[str, ...] = ()


def judge(
    value: float, spread: Spread, *, low: float | None = None, high: float | None = None
) -> Verdict:
    """Return the verdict on a measured ``value`` with error ``spread`` against the limits.

    "Outside" wants 95 % beyond *one* limit: a meter far too poor for narrow limits has little
    probability between them whatever it shows, and that proves nothing.

    Raises:
        InputError: no limit, limits the wrong way round, or a value that is not finite.

    >>> judge(13.60, Spread((0.088,)), low=13.5, high=15.0).outcome.value
    'inside'
    """
    _check_limits(low, high)
    if not isfinite(value):
        raise InputError(f"value {value!r} to be judged: expected a finite number")
    beyond_low = 0.0 if low is None else spread.below(low - value)
    beyond_high = 0.0 if high is None else spread.below(value - high)
    p_conform = min(max(1.0 - beyond_low - beyond_high, 0.0), 1.0)
    outcome = Outcome.UNDECIDED
    if p_conform >= SURE:
        outcome = Outcome.INSIDE
    elif max(beyond_low, beyond_high) >= SURE:
        outcome = Outcome.OUTSIDE
    distance = min(abs(value - limit) for limit in (low, high) if limit is not None)
    return Verdict(
        outcome=outcome,
        p_conform=p_conform,
        value=value,
        u=spread.u,
        half_width=spread.half_width(),
        low=low,
        high=high,
        needed_u=distance / GUARD,
    )


def reading_spread(
    card: MeterCard,
    function: Function,
    shown: Shown,
    *,
    nulled: bool = False,
    frequency_hz: float = 0.0,
    temp_c: float = COMFORT_C,
) -> Spread:
    """Return the error of a reading with a figure: meter, rounding, wording, leads, zero.

    Independent parts throughout, the cautious choice: where a maker says that nulling removes
    the counts, the card's ``null_removes_offset`` says so.
    """
    spec = card.function(function)
    one = spec.range_for(shown.middle, shown.place)
    percent = spec.percent_at(one, frequency_hz)
    limit = percent / 100.0 * abs(shown.middle) + one.counts * one.lsd
    widths = [limit * temperature_factor(temp_c)]
    if shown.lsd > one.lsd:
        widths.append(0.5 * shown.lsd)  # rounded by the reader, on top of the display
    if shown.reach > 0.0:
        widths.append(shown.reach)
    sigma = spec.zero_u_a if function is Function.CLAMP_A else 0.0
    if function is Function.OHM:
        sigma = spec.contact_ohm_u if nulled else spec.lead_ohm_u
        if nulled and not spec.null_removes_offset:
            lowest = spec.usable(shown.place)[0]
            widths.append(lowest.counts * lowest.lsd)
    return Spread(tuple(widths), sigma)


def corrected(spec: FunctionCard, function: Function, value: float, *, nulled: bool) -> float:
    """Return the reading less what the leads are known to add."""
    if function is Function.OHM and not nulled:
        return value - spec.lead_ohm
    return value


def judge_reading(
    card: MeterCard,
    function: Function,
    shown: Shown,
    *,
    low: float | None = None,
    high: float | None = None,
    nulled: bool = False,
    frequency_hz: float = 0.0,
    temp_c: float = COMFORT_C,
) -> Verdict:
    """Return the verdict on a reading as typed; without advice (``advice.advise`` adds it).

    Raises:
        InputError: no limit, or the meter lacks the function.
    """
    spec = card.function(function)
    if shown.kind in ("at_least", "at_most", "overload", "continuity"):
        return _judge_bound(card, function, shown, low=low, high=high, nulled=nulled)
    spread = reading_spread(
        card, function, shown, nulled=nulled, frequency_hz=frequency_hz, temp_c=temp_c
    )
    value = corrected(spec, function, shown.middle, nulled=nulled)
    return judge(value, spread, low=low, high=high)


def _judge_bound(
    card: MeterCard,
    function: Function,
    shown: Shown,
    *,
    low: float | None,
    high: float | None,
    nulled: bool,
) -> Verdict:
    """Judge a half line: decided only when every value on it gets the same verdict."""
    _check_limits(low, high)
    spec = card.function(function)
    upwards = shown.kind in ("at_least", "overload")
    figure = shown.value
    if shown.kind == "overload":
        # on a meter set by hand OL promises no more than "above the lowest range"
        figure = spec.top if spec.autorange else spec.ranges[0].full_scale
    elif shown.kind == "continuity":
        figure = CONTINUITY_OHM
    end = Shown(value=figure, lsd=shown.lsd)
    spread = reading_spread(card, function, end, nulled=nulled)
    value = corrected(spec, function, figure, nulled=nulled)
    own, other = (low, high) if upwards else (high, low)
    clear = 0.0 if own is None else spread.below(value - own if upwards else own - value)
    past = 0.0 if other is None else spread.below(value - other if upwards else other - value)
    outcome, p_conform = Outcome.UNDECIDED, None
    if past >= SURE:
        outcome, p_conform = Outcome.OUTSIDE, 1.0 - past
    elif other is None and clear >= SURE:
        outcome, p_conform = Outcome.INSIDE, clear
    return Verdict(
        outcome=outcome,
        p_conform=p_conform,
        value=value,
        u=spread.u,
        half_width=spread.half_width(),
        low=low,
        high=high,
        needed_u=min(abs(value - x) for x in (low, high) if x is not None) / GUARD,
    )


def _check_limits(low: float | None, high: float | None) -> None:
    if low is None and high is None:
        raise InputError("no limit to judge against: expected low, high or both")
    if (low if low is not None else -inf) >= (high if high is not None else inf):
        raise InputError(f"limits {low} to {high}: expected the lower one first")


def range_u(card: MeterCard, function: Function, reading: float) -> float:
    """Return the meter's own standard uncertainty at ``reading`` on its best range."""
    return rectangle_u(card.function(function).range_for(reading).limit(reading))
