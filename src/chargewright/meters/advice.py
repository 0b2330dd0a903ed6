"""What would decide a reading that its set-up cannot: each remedy with its own uncertainty."""

from __future__ import annotations

from dataclasses import replace

from chargewright.machine.points import Function
from chargewright.meters.card import MeterCard
from chargewright.meters.indicate import COMFORT_C
from chargewright.meters.load import load_meter
from chargewright.meters.shown import Shown
from chargewright.meters.uncertainty import ROOT_3, ratio_u
from chargewright.meters.verdict import (
    GUARD,
    Outcome,
    Verdict,
    judge_reading,
    range_u,
    reading_spread,
)

FOUR_WIRE_A = 1.0  # a lamp or resistor from the battery gives about as much
FOUR_WIRE_UP_TO_OHM = 12.0  # above it a 12 V battery no longer drives that ampere
BETTER_METER = "trms-6000"
GAIN = 0.99  # a remedy is worth naming when it leaves less than this share of u


def judge_with_advice(
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
    """Return the verdict on a reading; when undecided, with what would decide it.

    Raises:
        InputError: no limit, or the meter lacks the function.
    """
    verdict = judge_reading(
        card,
        function,
        shown,
        low=low,
        high=high,
        nulled=nulled,
        frequency_hz=frequency_hz,
        temp_c=temp_c,
    )
    if verdict.outcome is not Outcome.UNDECIDED:
        return verdict
    return replace(verdict, advice=advise(card, function, shown, verdict, nulled=nulled))


def advise(
    card: MeterCard, function: Function, shown: Shown, verdict: Verdict, *, nulled: bool
) -> tuple[str, ...]:
    """Return remedies for an undecided ``verdict``, the ones that would decide first."""
    unit = function.unit
    if shown.kind == "overload" and not card.function(function).autorange:
        return _higher_range(card, function, verdict)
    if not shown.has_value or shown.kind in ("at_least", "at_most"):
        return (f"take the reading as a figure in {unit}: a bound leaves the limit open",)
    remedies: list[tuple[str, float]] = []
    if function is Function.OHM:
        remedies += _ohm_remedies(card, shown, verdict, nulled=nulled)
    remedies += _same_meter(card, function, shown, verdict, nulled=nulled)
    remedies += _other_meter(card, function, shown, verdict, nulled=nulled)
    remedies = [remedy for remedy in remedies if remedy[1] < GAIN * verdict.u]
    remedies.sort(key=lambda remedy: remedy[1])
    lines = [f"{what}: {_worth(u, verdict, unit)}" for what, u in remedies]
    return (*lines, _requirement(verdict, unit))


def _higher_range(card: MeterCard, function: Function, verdict: Verdict) -> tuple[str, ...]:
    """Return on which range of a meter set by hand OL decides, and how that is typed."""
    for one in card.function(function).ranges:
        seen = Shown(kind="at_least", value=one.full_scale, lsd=one.lsd)
        there = judge_reading(card, function, seen, low=verdict.low, high=verdict.high)
        if there.outcome is not Outcome.UNDECIDED:
            full = _rounded(one.full_scale, function.unit)
            return (
                f"turn the dial up to the {full} range or higher and read again; "
                f"OL there is typed >{full} and decides",
            )
    return (f"no range of this meter goes beyond the limit: read a figure in {function.unit}",)


def _rounded(value: float, unit: str) -> str:
    """Return a full scale as its dial shows it: 2 Mohm, 200 kohm, 600 V."""
    for size, prefix in ((1e6, "M"), (1e3, "k")):
        if value >= 0.999 * size:
            return f"{value / size:.3g} {prefix}{unit}"
    return f"{value:.3g} {unit}"


def four_wire_u(card: MeterCard, ohm: float, amps: float = FOUR_WIRE_A) -> float:
    """Return u [ohm] of a resistance from the drop that ``amps`` [A] leaves across it.

    Volts on the card's DC volts at separate contacts, amperes on its clamp or ammeter,
    whichever is better there: R = V/I, first order.
    """
    volts = ohm * amps
    ammeters = [f for f in (Function.DC_A, Function.CLAMP_A) if f in card.functions]
    amps_u = min(
        (range_u(card, f, amps) ** 2 + card.functions[f].zero_u_a ** 2) ** 0.5 for f in ammeters
    )
    return ratio_u(volts, range_u(card, Function.DC_V, volts), amps, amps_u)


def _ohm_remedies(
    card: MeterCard, shown: Shown, verdict: Verdict, *, nulled: bool
) -> list[tuple[str, float]]:
    remedies = []
    if not nulled:
        remedies += _null(card, shown, verdict)
    can = Function.DC_V in card.functions and (
        Function.DC_A in card.functions or Function.CLAMP_A in card.functions
    )
    limits = [limit for limit in (verdict.low, verdict.high) if limit is not None]
    nearest = min(limits, key=lambda limit: abs(limit - verdict.value))
    ohm = max(verdict.value, nearest)
    if can and 0.0 < ohm <= FOUR_WIRE_UP_TO_OHM:
        what = (
            f"four-wire: send {FOUR_WIRE_A:g} A through it and measure the drop at contacts of "
            "its own"
        )
        remedies.append((what, four_wire_u(card, ohm)))
    return remedies


def _null(card: MeterCard, shown: Shown, verdict: Verdict) -> list[tuple[str, float]]:
    """Return what nulling gives; where the null's own counts eat the gain, on which terms."""
    what = "touch the leads together and null the meter (REL)"
    u = reading_spread(card, Function.OHM, shown, nulled=True).u
    if u < GAIN * verdict.u:
        return [(what, u)]
    spec = replace(card.function(Function.OHM), null_removes_offset=True)
    trusting = replace(card, functions={**card.functions, Function.OHM: spec})
    u = reading_spread(trusting, Function.OHM, shown, nulled=True).u
    return [(f"{what}, if its maker states that this takes the counts away", u)]


def _same_meter(
    card: MeterCard, function: Function, shown: Shown, verdict: Verdict, *, nulled: bool
) -> list[tuple[str, float]]:
    """Return what the same meter could still give: all its digits, on its best range."""
    finest = card.function(function).range_for(shown.middle)
    best = replace(shown, kind="value", value=shown.middle, value_max=None, lsd=finest.lsd)
    u = reading_spread(card, function, best, nulled=nulled).u
    return [(f"read to {finest.lsd:g} on the {finest.full_scale:g} range, held steady", u)]


def _other_meter(
    card: MeterCard, function: Function, shown: Shown, verdict: Verdict, *, nulled: bool
) -> list[tuple[str, float]]:
    if card.id == BETTER_METER:
        return []
    better = load_meter(BETTER_METER)
    if function not in better.functions:
        return []
    finest = better.function(function).range_for(shown.middle)
    best = replace(shown, kind="value", value=shown.middle, value_max=None, lsd=finest.lsd)
    u = reading_spread(better, function, best, nulled=nulled).u
    return [("a 6000-count meter", u)]


def _worth(u: float, verdict: Verdict, unit: str) -> str:
    gain = "decides" if u <= verdict.needed_u else "helps, but does not decide alone"
    return f"u {u:.2g} {unit} instead of {verdict.u:.2g} {unit}, {gain}"


def _requirement(verdict: Verdict, unit: str) -> str:
    if verdict.needed_u <= 0.0:
        return "the reading is on the limit itself: no meter decides that"
    limit = ROOT_3 * verdict.needed_u
    line = (
        f"any set-up with u up to {verdict.needed_u:.2g} {unit} decides "
        f"(a meter good for +-{limit:.2g} {unit} at this reading)"
    )
    if verdict.low is not None and verdict.high is not None:
        width = verdict.high - verdict.low
        if width < 2.0 * GUARD * verdict.u:
            line += "; these limits are too narrow for this set-up to pass anything"
    return line
