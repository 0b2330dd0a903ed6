"""A meter's card: what its maker promises of each dial position.

The figures come from the meter's own manual; the two cards that ship with the program
are fall-backs for a meter nobody has the manual of.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf

import numpy as np

from chargewright.circuit.signals import TestSource
from chargewright.errors import InputError
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function

# Accuracy is stated for 18...28 C; outside, a tenth of it is added per kelvin
# (general specifications page of a handheld meter's users manual).
COOLEST_C = 18.0
WARMEST_C = 28.0
SHARE_PER_K = 0.1

SAME_DIGIT = 1e-6  # two places of a digit closer than this (relative) are the same place


def temperature_factor(temp_c: float) -> float:
    """Return by how much the stated limit of error grows at ``temp_c`` [C]; 1 at 18...28 C."""
    outside_k = max(COOLEST_C - temp_c, temp_c - WARMEST_C, 0.0)
    return 1.0 + SHARE_PER_K * outside_k


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """One range: its full scale and last digit [V, ohm or A], and its limit of error.

    ``percent`` is of the reading, ``counts`` are steps of the last digit ``lsd``.
    """

    full_scale: float
    lsd: float
    percent: float
    counts: float

    def __post_init__(self) -> None:
        if not 0.0 < self.lsd < self.full_scale < inf:
            raise InputError(
                f"range with lsd {self.lsd:g} and full_scale {self.full_scale:g}: "
                "expected 0 < lsd < full_scale"
            )
        if not (0.0 <= self.percent < 100.0 and 0.0 <= self.counts < inf):
            raise InputError(
                f"range {self.full_scale:g} with percent {self.percent:g} and counts "
                f"{self.counts:g}: expected percent in 0...100 and counts not below 0"
            )

    def limit(self, reading: float) -> float:
        """Return the limit of error at ``reading``: percent of it plus counts.

        >>> round(Range(full_scale=600, lsd=0.1, percent=1, counts=2).limit(100.0), 3)
        1.2
        """
        return self.percent / 100.0 * abs(reading) + self.counts * self.lsd


@dataclass(frozen=True, slots=True, kw_only=True)
class FunctionCard:
    """One dial position of one meter. Ranges ascend; fields that do not apply stay at default."""

    ranges: tuple[Range, ...]
    autorange: bool = True
    average_responding: bool = False  # AC: 1.1107 x mean|v| rather than true rms
    bandwidth_hz: float = inf  # AC: corner (-3 dB) of one pole
    spec_max_hz: float = inf  # AC: up to here ``percent`` holds
    percent_above_spec_hz: float | None = None  # AC: percent of reading beyond it
    input_ohm: float = inf  # volts: what loads the source
    burden_ohm: float = 0.0  # amperes in series: meter, fuse and leads
    open_v: float | None = None  # ohms, diode: the test source with leads open [V]
    short_a: float | None = None  # ohms, diode: the same with leads touching [A]
    lead_ohm: float = 0.0  # ohms: two leads and their contacts, when not nulled
    lead_ohm_u: float = 0.0  # ohms: standard uncertainty of that
    contact_ohm_u: float = 0.0  # ohms: what contacts still scatter after nulling
    null_removes_offset: bool = False  # ohms: the maker says REL/zero takes the counts term away
    zero_u_a: float = 0.0  # clamp: standard uncertainty of its zero
    source: str = ""

    def __post_init__(self) -> None:
        if not self.ranges:
            raise InputError("ranges is empty: expected at least one range")
        scales = [one.full_scale for one in self.ranges]
        if scales != sorted(set(scales)):
            raise InputError(f"ranges {scales}: expected full scales in ascending order")
        if (self.open_v is None) != (self.short_a is None):
            raise InputError(
                f"open_v {self.open_v} with short_a {self.short_a}: expected both or neither"
            )

    @property
    def top(self) -> float:
        """Full scale of the highest range."""
        return self.ranges[-1].full_scale

    @property
    def test_source(self) -> TestSource:
        """What the meter puts on the probes while measuring ohms or a diode.

        Raises:
            InputError: the card gives no test source for this function.
        """
        if self.open_v is None or self.short_a is None:
            raise InputError("open_v and short_a are missing: expected the meter's test source")
        return TestSource(open_v=self.open_v, short_a=self.short_a)

    def usable(self, lsd: float | None = None) -> tuple[Range, ...]:
        """Return the ranges that a reading typed to the place ``lsd`` could come from.

        A meter that changes range by itself is on the smallest that fits, whatever was typed.
        One set by hand may have stood on a coarser range: a typed place equal to a range's
        last digit, or coarser, rules the finer ranges out.
        """
        if self.autorange or lsd is None:
            return self.ranges
        coarse = tuple(one for one in self.ranges if one.lsd >= lsd * (1.0 - SAME_DIGIT))
        return coarse or self.ranges[-1:]

    def columns(self, lsd: float | None = None) -> tuple[Array, Array, Array, Array]:
        """Return full scale, last digit, percent and counts of the usable ranges, each (k,)."""
        table = np.array(
            [(r.full_scale, r.lsd, r.percent, r.counts) for r in self.usable(lsd)],
            dtype=np.float64,
        )
        return table[:, 0], table[:, 1], table[:, 2], table[:, 3]

    def range_for(self, reading: float, lsd: float | None = None) -> Range:
        """Return the smallest usable range that fits ``reading``; the highest when none does."""
        usable = self.usable(lsd)
        return next((one for one in usable if abs(reading) <= one.full_scale), usable[-1])

    def percent_at(self, one: Range, frequency_hz: float) -> float:
        """Return the percent of reading that holds on range ``one`` at ``frequency_hz``."""
        if frequency_hz <= self.spec_max_hz or self.percent_above_spec_hz is None:
            return one.percent
        return max(one.percent, self.percent_above_spec_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterCard:
    """A meter: what it is called and what each dial position promises."""

    id: str
    title: str
    functions: Mapping[Function, FunctionCard] = field(default_factory=dict)
    source: str = ""

    def function(self, function: Function) -> FunctionCard:
        """Return the card of one dial position.

        Raises:
            InputError: the meter does not have it.
        """
        try:
            return self.functions[function]
        except KeyError:
            has = ", ".join(self.functions)
            raise InputError(
                f"meter {self.id!r} has no function {function.value!r}: it has {has}"
            ) from None
