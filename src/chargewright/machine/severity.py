"""Tells how bad a cause is in workshop words and units."""

from __future__ import annotations

import math

from chargewright.machine.causes import Cause, Op, Show

OL_OHM = 1e6  # beyond it a break is called open, not given in ohms
PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"))


def severity_words(cause: Cause, value: float) -> str:
    """Return a phrase with the severity, from a value of ``draw.severity``.

    ``value`` is the leading change's, in its parameter's unit. A cause without a number
    gives its bare words.

    >>> from chargewright.machine.cause_file import catalogue
    >>> severity_words(catalogue().get("plug_resistance"), 0.2134)
    '0.21 ohm in one contact of the alternator plug'
    """
    if cause.show is None:
        return cause.words
    if not math.isfinite(value):
        return cause.title
    shift = cause.changes[0].op is Op.ADD and cause.show.unit == "V"
    return cause.words.format(value=_shown(cause.show, value, signed=shift))


def _shown(show: Show, value: float, *, signed: bool) -> str:
    if show.reciprocal:
        value = math.inf if value == 0.0 else 1.0 / value
    value = value * show.factor + show.offset
    if show.unit == "ohm":
        return _ohm(value)
    sign = "+" if signed and value > 0.0 else ""
    return f"{sign}{_two_digits(value)} {show.unit}"


def _ohm(value: float) -> str:
    """Return ohms; a prefix only from a kilohm up or below ten milliohms."""
    if value >= OL_OHM:
        return "an open circuit"
    if 0.01 <= value < 1000.0:
        return f"{_two_digits(value)} ohm"
    factor, prefix = next((f, p) for f, p in PREFIXES if value >= f or f == PREFIXES[-1][0])
    return f"{_two_digits(value / factor)} {prefix}ohm"


def _two_digits(value: float) -> str:
    """Return two significant digits without an exponent, as 0.21, 3.4, 85 or 120.

    >>> [_two_digits(v) for v in (0.2134, 3.37, 84.6, 123.0)]
    ['0.21', '3.4', '85', '120']
    """
    if value == 0.0:
        return "0"
    digits = 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, digits):.{max(digits, 0)}f}"
