"""How one true value scatters from unit to unit, and how it follows from others."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from chargewright.errors import InputError
from chargewright.machine.fields import Table
from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import INDEX, NAMES, Array
from chargewright.machine.sources import source_of

Z_95 = 1.959963984540054  # 97.5 % point of the standard normal
LEGS = ("a", "b", "c")


class Kind(StrEnum):
    """Shape of a distribution."""

    FIXED = "fixed"
    NORMAL = "normal"
    LOGNORMAL = "lognormal"
    UNIFORM = "uniform"
    CHOICE = "choice"  # one of a few values, with weights


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Distribution of one column over healthy units.

    ``centre`` is the mean (normal) or median (lognormal), in the column's unit;
    ``spread`` the standard deviation between units (of the logarithm when lognormal);
    ``each`` the further one between the three legs of one unit. ``low``/``high`` bound a
    uniform. ``times`` multiplies the draw by powers of other columns of the same unit:
    ``(("rated_cca_a", -1.0),)`` makes ``centre`` the constant of 3.0/CCA.
    """

    kind: Kind
    centre: float
    spread: float = 0.0
    each: float = 0.0
    low: float = 0.0
    high: float = 0.0
    values: tuple[float, ...] = ()
    weights: tuple[float, ...] = ()
    times: tuple[tuple[str, float], ...] = ()
    source: str = ""

    def sample(self, z_unit: Array, z_leg: Array) -> Array:
        """Return values (n,) from standard normal latents of the unit and of the leg, (n,) each."""
        if self.kind is Kind.NORMAL:
            return self.centre + self.spread * z_unit + self.each * z_leg
        if self.kind is Kind.LOGNORMAL:
            return self.centre * np.exp(self.spread * z_unit + self.each * z_leg)
        if self.kind is Kind.UNIFORM:
            return self.low + (self.high - self.low) * ndtr(z_unit)
        if self.kind is Kind.CHOICE:
            edges = np.cumsum(self.weights)[:-1] / math.fsum(self.weights)
            return np.asarray(self.values)[np.searchsorted(edges, ndtr(z_unit), side="right")]
        return np.full(z_unit.shape, self.centre)


def fixed(value: float, source: str) -> Scatter:
    """Return the scatter of a value that is known."""
    return Scatter(kind=Kind.FIXED, centre=value, source=source)


def lognormal(centre: float, relative_sd: float, source: str, *, each: float = 0.0) -> Scatter:
    """Return a lognormal by its median and relative standard deviations (0.05 = 5 %)."""
    return Scatter(
        kind=Kind.LOGNORMAL,
        centre=centre,
        spread=_log_sd(relative_sd),
        each=_log_sd(each),
        source=source,
    )


def lognormal_between(low: float, high: float, source: str, *, each: float = 0.0) -> Scatter:
    """Return the lognormal with 95 % of units between ``low`` and ``high``."""
    spread = math.log(high / low) / (2.0 * Z_95)
    centre = math.sqrt(low * high)
    return Scatter(
        kind=Kind.LOGNORMAL, centre=centre, spread=spread, each=_log_sd(each), source=source
    )


def normal_between(low: float, high: float, source: str) -> Scatter:
    """Return the normal with 95 % of units between ``low`` and ``high``."""
    spread = (high - low) / (2.0 * Z_95)
    return Scatter(kind=Kind.NORMAL, centre=(low + high) / 2.0, spread=spread, source=source)


def _log_sd(relative_sd: float) -> float:
    """Return the sd of the logarithm of a lognormal whose sd/mean is ``relative_sd``."""
    return math.sqrt(math.log1p(relative_sd**2))


_FIELDS = {
    Kind.FIXED: ("value",),
    Kind.NORMAL: ("centre", "sd", "low", "high", "each"),
    Kind.LOGNORMAL: ("centre", "sd", "low", "high", "each"),
    Kind.UNIFORM: ("low", "high"),
    Kind.CHOICE: ("values", "weights"),
}


def read_scatter(table: Table) -> Scatter:
    """Return the scatter that a table of a class file tells.

    ``dist`` and ``source`` always; normal and lognormal take either ``centre`` and ``sd``
    (relative when lognormal) or ``low`` and ``high``, which hold 95 % of units.

    Raises
    ------
    InputError
        A field is unknown, missing or out of range.
    """
    kind = table.word("dist", Kind)
    table.only(("dist", "source", "times", *_FIELDS[kind]))
    source = source_of(table.text("source"), table.where).key
    times = _read_times(table)
    if kind is Kind.FIXED:
        value = table.number("value")
        return Scatter(kind=kind, centre=value, times=times, source=source)
    if kind is Kind.CHOICE:
        return _read_choice(table, times, source)
    if kind is Kind.UNIFORM or table.has("low"):
        return _read_between(table, kind, times, source)
    relative = kind is Kind.LOGNORMAL
    centre = table.number("centre", low=1e-12 if relative else -math.inf)
    spread, each = table.number("sd", low=0.0), table.number_or("each", 0.0, low=0.0)
    if relative:
        spread, each = _log_sd(spread), _log_sd(each)
    return Scatter(kind=kind, centre=centre, spread=spread, each=each, times=times, source=source)


def _read_between(
    table: Table, kind: Kind, times: tuple[tuple[str, float], ...], source: str
) -> Scatter:
    low = table.number("low", low=1e-12 if kind is Kind.LOGNORMAL else -math.inf)
    high = table.number("high")
    if not low < high:
        raise table.fail("high", f"more than low = {low:g}")
    if table.has("centre") or table.has("sd"):
        raise InputError(f"{table.where}: give either low and high or centre and sd, not both")
    if kind is Kind.UNIFORM:
        middle = (low + high) / 2.0
        return Scatter(kind=kind, centre=middle, low=low, high=high, times=times, source=source)
    each = table.number_or("each", 0.0, low=0.0)
    if kind is Kind.LOGNORMAL:
        base, leg = lognormal_between(low, high, source), _log_sd(each)
    else:
        base, leg = normal_between(low, high, source), each
    return Scatter(
        kind=kind, centre=base.centre, spread=base.spread, each=leg, times=times, source=source
    )


def _read_choice(table: Table, times: tuple[tuple[str, float], ...], source: str) -> Scatter:
    values, weights = table.numbers("values"), table.numbers("weights")
    if len(values) != len(weights) or min(weights) < 0.0 or math.fsum(weights) <= 0.0:
        raise table.fail("weights", f"{len(values)} shares, none negative, one for each of values")
    centre = values[weights.index(max(weights))]
    return Scatter(
        kind=Kind.CHOICE, centre=centre, values=values, weights=weights, times=times, source=source
    )


def _read_times(table: Table) -> tuple[tuple[str, float], ...]:
    powers = table.table_or_empty("times")
    powers.only(NAMES)
    return tuple((name, powers.number(name, low=-3.0, high=3.0)) for name in powers.values)


def leg_families() -> dict[str, tuple[str, ...]]:
    """Return the columns that exist once per leg: family name to its three column names."""
    stems = (name.removesuffix("_a") for name in NAMES if name.endswith("_a"))
    groups = {stem: tuple(f"{stem}_{leg}" for leg in LEGS) for stem in stems}
    return {stem: group for stem, group in groups.items() if all(n in INDEX for n in group)}


def draw_order(scatter: Mapping[str, Scatter]) -> tuple[str, ...]:
    """Return the columns so that each stands behind those its ``times`` names.

    Raises
    ------
    InputError
        Columns follow from one another in a circle.
    """
    done: dict[str, None] = {}
    waiting = list(NAMES)
    while waiting:
        ready = [n for n in waiting if all(other in done for other, _ in scatter[n].times)]
        if not ready:
            raise InputError(f"scatter of {waiting[0]!r}: its 'times' leads back to itself")
        done.update(dict.fromkeys(ready))
        waiting = [n for n in waiting if n not in done]
    return tuple(done)


def centres(scatter: Mapping[str, Scatter]) -> dict[str, float]:
    """Return the typical healthy value of every column, the ``times`` powers multiplied in."""
    values: dict[str, float] = {}
    for name in draw_order(scatter):
        rule = scatter[name]
        values[name] = rule.centre * math.prod(values[n] ** power for n, power in rule.times)
    return values
