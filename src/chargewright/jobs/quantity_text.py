"""Writes a value in V, ohm or A as a meter would show it; ``parse_reading`` reads it back."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal

from chargewright.jobs.shown import Qualifier, Shown, Unit

_SYMBOLS = {Unit.V: "V", Unit.OHM: "Ω", Unit.A: "A"}
_MULTIPLES = {
    Unit.V: ((Decimal(1), ""), (Decimal("1e-3"), "m")),
    Unit.A: ((Decimal(1), ""), (Decimal("1e-3"), "m"), (Decimal("1e-6"), "µ")),
    Unit.OHM: ((Decimal("1e6"), "M"), (Decimal("1e3"), "k"), (Decimal(1), "")),
}
_FORMS = {
    Qualifier.EXACT: "{}",
    Qualifier.ABOUT: "about {}",
    Qualifier.AT_LEAST: "> {}",
    Qualifier.AT_MOST: "< {}",
}
_WORDS = {
    Qualifier.OVERLOAD: "OL",
    Qualifier.CONTINUITY: "continuity",
    Qualifier.NONE: "no reading",
}


def format_quantity(value: float, unit: Unit, *, lsd: float | None = None) -> str:
    """Return ``value`` in the handiest multiple, with its last digit at ``lsd`` [same unit].

    Below 1 V or 1 A in thousandths where the digits allow it, ohms from 1000 up in k or M.
    Without ``lsd`` four significant digits. Raises ValueError when ``lsd`` is not positive.

    >>> format_quantity(0.461, Unit.V, lsd=0.001), format_quantity(2400, Unit.OHM, lsd=100)
    ('461 mV', '2.4 kΩ')
    """
    exact = Decimal(str(value))
    place = _power_of_ten(lsd) if lsd is not None else _four_digits(exact)
    if place.adjusted() > 27 or exact.adjusted() - place.adjusted() > 27:
        return f"{value:g} {_SYMBOLS[unit]}"  # no meter's figure; more digits than we carry
    rounded = exact.quantize(place, rounding=ROUND_HALF_EVEN)
    scale, prefix = _multiple(rounded, place, unit)
    digits = max(0, scale.adjusted() - place.adjusted())
    return f"{rounded / scale:.{digits}f} {prefix}{_SYMBOLS[unit]}"


def format_shown(shown: Shown) -> str:
    """Return the reading as it is displayed and can be typed again, as ``about 24 V``."""
    if shown.value is None:
        return _WORDS[shown.qualifier]
    low = format_quantity(shown.value, shown.unit, lsd=shown.lsd)
    if shown.value_max is None:
        return _FORMS[shown.qualifier].format(low)
    return f"{low} to {format_quantity(shown.value_max, shown.unit, lsd=shown.lsd)}"


def _power_of_ten(lsd: float) -> Decimal:
    if not lsd > 0 or math.isinf(lsd):
        raise ValueError(f"lsd is {lsd}, expected a positive power of ten such as 0.01")
    return Decimal(1).scaleb(round(math.log10(lsd)))


def _four_digits(exact: Decimal) -> Decimal:
    return Decimal(1).scaleb(exact.adjusted() - 3 if exact else -3)


def _multiple(value: Decimal, place: Decimal, unit: Unit) -> tuple[Decimal, str]:
    """Return scale and prefix: the largest that leaves a whole digit, else the finest fit.

    A multiple finer than the last digit would show digits that nobody read.
    """
    fitting = [(scale, prefix) for scale, prefix in _MULTIPLES[unit] if scale >= place]
    if not fitting:
        return _MULTIPLES[unit][0]
    for scale, prefix in fitting:
        if abs(value) >= scale:
            return scale, prefix
    return fitting[0] if value == 0 and unit is not Unit.OHM else fitting[-1]
