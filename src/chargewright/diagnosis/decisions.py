"""Ways to end the job, and what each costs when the machine turns out to be something else.

A loss is regret in minutes: repairs a machine needs anyway cost nothing here; a part fitted in
vain costs its price and its work; a fault left in brings the customer back.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path

import numpy as np

from chargewright.errors import InputError, nearest
from chargewright.machine.causes import Repair
from chargewright.machine.parameters import Array
from chargewright.machine.prior import Hypothesis

NONE_DONE: Set[str] = frozenset()
NOTHING = "nothing"
CHARGE = "charge_battery"
UNDECIDED = "undecided"
PAIR_WORTH_OFFERING = 0.03  # share from which both repairs of a pair are offered together


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """Costs of decisions, see ``data/costs.toml``."""

    labour_per_hour: float
    comeback_min: float
    second_fault_min: float
    test_again_min: float
    undecided_min: float
    wait_min_per_hour: float
    in_vain_times: float

    def wasted_min(self, repair: Repair) -> float:
        """Return what a repair costs that was not needed [min]."""
        return repair.minutes + repair.parts_cost / self.labour_per_hour * 60.0

    def in_vain_min(self, repair: Repair) -> float:
        """Return what deciding for a repair that was not needed costs, trust counted [min].

        Where nothing is fitted (charging) no trust is lost.
        """
        return self.wasted_min(repair) * (self.in_vain_times if repair.parts_cost > 0 else 1.0)


@cache
def load_prices(path: Path | None = None) -> Prices:
    """Return the shipped prices, or those of a file; ``InputError`` names file and field."""
    if path is None:
        return prices_from({}, "costs.toml")
    try:
        own = tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(f"{path}: cannot be read as TOML ({error})") from error
    return prices_from(own, str(path))


def prices_from(own: Mapping[str, object], where: str = "prices") -> Prices:
    """Return the shipped prices with ``own`` over them; ``InputError`` names the field."""
    shipped = files("chargewright.diagnosis").joinpath("data/costs.toml").read_text("utf-8")
    values: dict[str, object] = tomllib.loads(shipped)
    for name in own:
        if name not in values:
            raise InputError(f"{where}: field {name!r} is unknown; {nearest(name, values)}")
    values |= own
    found: dict[str, float] = {}
    for name, value in values.items():
        if not isinstance(value, int | float) or isinstance(value, bool) or not value >= 0:
            raise InputError(f"{where}: {name} = {value!r}; expected a number, 0 or more")
        found[name] = float(value)
    if found["labour_per_hour"] == 0:
        raise InputError(f"{where}: labour_per_hour = 0; expected more than 0")
    return Prices(**found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """One way to end the job: a set of repairs (none: nothing wrong), or undecided."""

    repairs: tuple[Repair, ...] = ()
    undecided: bool = False

    @property
    def id(self) -> str:
        """Repair ids joined by a plus; ``nothing`` or ``undecided``."""
        if self.undecided:
            return UNDECIDED
        return "+".join(repair.id for repair in self.repairs) or NOTHING

    @property
    def title(self) -> str:
        """What to do, in words."""
        if self.undecided:
            return "cannot tell with these means"
        return " and ".join(repair.title for repair in self.repairs) or "nothing wrong found"


def needed(hypothesis: Hypothesis, done: Set[str] = NONE_DONE) -> dict[str, Repair]:
    """Return the repairs a hypothesis still needs, by id; ``done`` are ids of those made."""
    repairs = (cause.repair for cause in hypothesis.causes)
    return {repair.id: repair for repair in repairs if repair.id not in {NOTHING, *done}}


def endings(
    hypotheses: Sequence[Hypothesis], shares: Array, done: Set[str] = NONE_DONE
) -> tuple[Ending, ...]:
    """Return the ways to end: every single repair, likely pairs, nothing, undecided."""
    single: dict[str, Repair] = {}
    pairs: dict[tuple[str, ...], tuple[Repair, ...]] = {}
    for hypothesis, share in zip(hypotheses, shares, strict=True):
        repairs = needed(hypothesis, done)
        single |= repairs
        if len(repairs) > 1 and share >= PAIR_WORTH_OFFERING:
            pairs[tuple(sorted(repairs))] = tuple(repairs[key] for key in sorted(repairs))
    return (
        Ending(),
        *(Ending(repairs=(repair,)) for repair in single.values()),
        *(Ending(repairs=repairs) for repairs in pairs.values()),
        Ending(undecided=True),
    )


def losses(
    ways: Sequence[Ending],
    hypotheses: Sequence[Hypothesis],
    prices: Prices,
    done: Set[str] = NONE_DONE,
    again: Set[str] = NONE_DONE,
) -> Array:
    """Return the regret of each ending under each hypothesis, shape (d, h) [min].

    ``again`` are repairs made before that did not show: nobody pays for the same one twice.
    """
    table = np.empty((len(ways), len(hypotheses)))
    for column, hypothesis in enumerate(hypotheses):
        wanted = needed(hypothesis, done)
        for row, way in enumerate(ways):
            table[row, column] = _loss(way, wanted, prices, again)
    return table


def _loss(way: Ending, wanted: dict[str, Repair], prices: Prices, again: Set[str]) -> float:
    if way.undecided:
        return prices.undecided_min
    done = {repair.id for repair in way.repairs}
    paid = set(wanted) - again
    cost = sum(prices.in_vain_min(repair) for repair in way.repairs if repair.id not in paid)
    left = set(wanted) - done
    if left and done == {CHARGE}:
        cost += prices.test_again_min
    elif left and done & set(wanted):
        cost += prices.second_fault_min
    elif left:
        cost += prices.comeback_min
    return cost


def cures(
    way: Ending, hypotheses: Sequence[Hypothesis], shares: Array, already: Set[str] = NONE_DONE
) -> float:
    """Return the chance that an ending leaves no fault behind, with repairs ``already`` made."""
    done = {repair.id for repair in way.repairs} | already
    return float(
        sum(
            share
            for hypothesis, share in zip(hypotheses, shares, strict=True)
            if set(needed(hypothesis)) <= done
        )
    )
