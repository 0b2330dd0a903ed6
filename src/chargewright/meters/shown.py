"""What the technician wrote down: a figure, a bound, a span, OL or a beep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from math import isfinite, sqrt
from statistics import fmean, stdev
from typing import Literal, get_args

from chargewright.errors import ReadingError, nearest

Kind = Literal["value", "at_least", "at_most", "between", "about", "overload", "continuity"]
KINDS: tuple[str, ...] = get_args(Kind)

# "About 13.8" is taken as within 5 % of the figure, and half its last digit (assumed).
ABOUT_SHARE = 0.05
# Repeats are alike within so much of the figure, or so many of its last digits (assumed).
ALIKE_SHARE, ALIKE_PLACES = 0.3, 10.0
STEP_TO_U = sqrt(12.0)  # width of a rectangle / its standard uncertainty (GUM F.2.2.1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One reading as typed, in V, ohm or A.

    ``lsd`` is the place of the last digit typed: who types 13.9 has rounded to 0.1, whatever
    the meter resolves. ``value_max`` closes a span ("between"); OL and a beep have no value.
    ``typed`` is the place typed where ``lsd`` stands for the scatter of repeats; 0: the same.
    """

    kind: Kind = "value"
    value: float = 0.0
    value_max: float | None = None
    lsd: float = 0.0
    typed: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ReadingError(f"reading of kind {self.kind!r}: {nearest(self.kind, KINDS)}")
        if not isfinite(self.value):
            raise ReadingError(f"reading {self.value!r}: expected a finite number")
        if not (isfinite(self.lsd) and self.lsd >= 0.0):
            raise ReadingError(f"last digit {self.lsd!r} of a reading: expected 0 or more")
        if self.kind == "between":
            high = self.value_max
            if high is None or not isfinite(high) or high < self.value:
                raise ReadingError(
                    f"span from {self.value:g} to {high}: expected the smaller figure first"
                )

    @property
    def place(self) -> float:
        """The place of the last digit typed, which tells the range of a meter set by hand."""
        return self.typed or self.lsd

    @property
    def has_value(self) -> bool:
        """Whether a figure was typed at all."""
        return self.kind not in ("overload", "continuity")

    @property
    def middle(self) -> float:
        """The figure, or the middle of a span."""
        return self.value if self.value_max is None else 0.5 * (self.value + self.value_max)

    @property
    def reach(self) -> float:
        """How far the wording itself reaches to either side of ``middle``, digit apart."""
        if self.kind == "about":
            return ABOUT_SHARE * abs(self.value)
        return 0.0 if self.value_max is None else 0.5 * (self.value_max - self.value)


def typed_lsd(text: str) -> float:
    """Return the place of the last digit of a typed number.

    Raises:
        ReadingError: ``text`` is not a plain decimal number.

    >>> typed_lsd("13.90"), typed_lsd("12"), typed_lsd("0.8e-3")
    (0.01, 1.0, 0.0001)
    """
    try:
        exponent = Decimal(text.strip()).as_tuple().exponent
    except InvalidOperation as error:
        raise ReadingError(f"reading {text!r}: expected a decimal number, as 13.90") from error
    if not isinstance(exponent, int):
        raise ReadingError(f"reading {text!r}: expected a decimal number, as 13.90")
    return float(Decimal(1).scaleb(exponent))


def alike(one: Shown, other: Shown) -> bool:
    """Tell whether two repeats may be the same display twice, neither of them a slip."""
    figures = ("value", "about")
    if one.kind not in figures or other.kind not in figures:
        return one.kind == other.kind
    apart = abs(one.value - other.value)
    size = max(abs(one.value), abs(other.value))
    return apart <= max(ALIKE_SHARE * size, ALIKE_PLACES * max(one.place, other.place))


def combine_repeats(readings: Sequence[Shown]) -> Shown:
    """Return repeats of one check with one meter and range as a single reading.

    Figures become their mean. Repeating only removes what scatters: the result's ``lsd``
    stands for u_A = s/sqrt(n) (GUM 4.2.3), never below the rounding of one reading when the
    readings scatter less than it, and whoever judges the result keeps the meter's full limit
    of error (Type B), because the same meter makes the same error every time. The same word
    repeated stays that word; a span keeps its outermost ends.

    Raises:
        ReadingError: no reading, or kinds that do not mix.
    """
    if not readings:
        raise ReadingError("no reading to combine: expected at least one")
    kinds = {one.kind for one in readings}
    if kinds == {"value", "about"}:
        kinds = {"about"}
    if len(kinds) > 1:
        raise ReadingError(
            f"repeats of kinds {', '.join(sorted(kinds))}: expected readings of one kind"
        )
    (kind,) = kinds
    place = max(one.place for one in readings)
    if kind in ("value", "about"):
        values = [one.value for one in readings]
        lsd = _mean_place(values, place)
        return Shown(kind=kind, value=fmean(values), lsd=lsd, typed=place)
    if kind == "between":
        tops = [one.value_max for one in readings if one.value_max is not None]
        low = min(one.value for one in readings)
        return Shown(kind=kind, value=low, value_max=max(tops), lsd=place)
    if kind == "at_least":
        return Shown(kind=kind, value=max(one.value for one in readings), lsd=place)
    if kind == "at_most":
        return Shown(kind=kind, value=min(one.value for one in readings), lsd=place)
    return readings[0]


def _mean_place(values: list[float], place: float) -> float:
    """Return the step whose rounding error is as uncertain as the mean of ``values``."""
    rounding_u = place / STEP_TO_U
    scatter = stdev(values) if len(values) > 1 else 0.0
    if scatter <= rounding_u:
        return place  # the same rounding every time: averaging does not see behind it
    return STEP_TO_U * scatter / sqrt(len(values))
