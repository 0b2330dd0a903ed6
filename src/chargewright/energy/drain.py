"""Key-off drain: the limit, what the meter's burden hides, and which fuse to pull first."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass
from enum import StrEnum
from itertools import count

from chargewright.energy.interval import Interval
from chargewright.errors import InputError
from chargewright.machine.limits import limits_for
from chargewright.machine.model import Machine
from chargewright.machine.points import Function, Point, State
from chargewright.machine.sources import source_of

# Where no limit is known: amber above 3 mA, red above 20 mA (judgement; makers print 0.5 to
# 1.5 mA for street machines and 20 mA for side-by-sides and cars).
AMBER_MA, RED_MA = 3.0, 20.0
REST_V = 12.6
MOST_BURDEN_V = 0.3  # more than this across the meter and control units fall asleep (assumed)


class Colour(StrEnum):
    """How a key-off current stands against its limit."""

    GREEN = "green"
    AMBER = "amber"
    RED = "red"


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainVerdict:
    """A key-off current judged. ``true_ma`` with the meter's burden taken out, 95 %."""

    true_ma: Interval
    limit_ma: float
    limit_source: str
    colour: Colour
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """One fuse or plug: its name, its share of the suspected drain, and minutes to reach it."""

    name: str
    share: float
    minutes: float = 1.0

    def __post_init__(self) -> None:
        if not self.share > 0.0 or not math.isfinite(self.share):
            raise InputError(f"fuse {self.name!r}: share = {self.share:g}; expected above 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """Pull these fuses together. If the current falls, go on among ``pull``, else ``leave``.

    ``fall_share`` chance that it falls; the next splits are ``None`` where one fuse is left.
    """

    pull: tuple[str, ...]
    leave: tuple[str, ...]
    fall_share: float
    if_falls: Split | None
    if_stays: Split | None


def drain_limit(machine: Machine) -> tuple[float, str]:
    """Return the key-off limit [mA] of a machine and where it is from: spec sheet or class."""
    found = limits_for(
        machine,
        Function.DC_A,
        plus=Point.FRAME,
        minus=Point.BATTERY_NEG,
        state=State(),
    )
    for limit in found:
        ends = [abs(end) for end in (limit.low, limit.high) if end is not None]
        if ends:
            return 1000.0 * max(ends), source_of(limit.source, limit.id).text
    return AMBER_MA, "assumed: makers print 0.5 to 1.5 mA for street machines"


def true_drain_ma(shown_ma: float, *, burden_ohm: float, battery_v: float = REST_V) -> Interval:
    """Return the current [mA] without the meter: equal for control units, more for resistances.

    A constant-current load draws the same through the meter (low end); a resistance R draws
    V/R instead of V/(R + burden) (high end).
    """
    if shown_ma < 0.0 or burden_ohm < 0.0:
        raise InputError(
            f"{shown_ma:g} mA through {burden_ohm:g} ohm: expected both 0 or more; swap the leads"
        )
    burden_v = shown_ma / 1000.0 * burden_ohm
    if burden_v >= battery_v:
        raise InputError(
            f"{shown_ma:g} mA through {burden_ohm:g} ohm drops {burden_v:.1f} V, more than the"
            f" battery's {battery_v:g} V: expected another range or a smaller burden"
        )
    resistive = shown_ma * battery_v / (battery_v - burden_v)
    return Interval(shown_ma, 0.5 * (shown_ma + resistive), resistive)


def judge_drain(
    shown_ma: float,
    *,
    meter_u_ma: float,
    burden_ohm: float,
    limit_ma: float | None = None,
    limit_source: str = "given",
) -> DrainVerdict:
    """Return the verdict on a key-off current; without ``limit_ma`` amber and red are assumed."""
    inside = true_drain_ma(shown_ma, burden_ohm=burden_ohm)
    true_ma = Interval(
        max(inside.low - 1.96 * meter_u_ma, 0.0), inside.best, inside.high + 1.96 * meter_u_ma
    )
    amber = AMBER_MA if limit_ma is None else limit_ma
    red = max(RED_MA if limit_ma is None else 2.0 * limit_ma, amber)
    if true_ma.high <= amber:
        colour = Colour.GREEN
    elif true_ma.low > (red if limit_ma is None else amber):
        colour = Colour.RED
    else:
        colour = Colour.AMBER
    cautions = [
        "start on the highest range with the key off; never switch the ignition on with the"
        " meter in series"
    ]
    burden_v = shown_ma / 1000.0 * burden_ohm
    if shown_ma < meter_u_ma:
        cautions.append(
            "zero on the mA jack is more often its blown fuse than no drain: measure a known"
            " current, or ohms between the jacks, before believing it"
        )
    if burden_v > MOST_BURDEN_V:
        cautions.append(
            f"the meter takes {burden_v:.2f} V for itself: control units may fall asleep; use the"
            " ampere jack"
        )
    if true_ma.high > amber:
        cautions.append("wait until control units sleep (up to 30 min), then read again")
    return DrainVerdict(
        true_ma=true_ma,
        limit_ma=amber,
        limit_source="assumed" if limit_ma is None else limit_source,
        colour=colour,
        cautions=tuple(cautions),
    )


def search_plan(branches: tuple[Branch, ...]) -> Split | None:
    """Return the order of pulling fuses that needs the fewest pulls on average.

    Each pull splits what is left as near to halves of the share as the shares allow; the best
    such tree is Huffman's (Proc. IRE 40 (1952) 1098). ``None`` for a single fuse.
    """
    if not branches:
        raise InputError("no fuse given: expected at least one")
    names = [branch.name for branch in branches]
    if len(set(names)) != len(names):
        raise InputError(f"fuses {', '.join(names)}: expected each name once")
    order = count()
    heap: list[tuple[float, int, tuple[str, ...], Split | None]] = [
        (branch.share, next(order), (branch.name,), None) for branch in branches
    ]
    heapq.heapify(heap)
    minutes = {branch.name: branch.minutes for branch in branches}
    while len(heap) > 1:
        one, two = heapq.heappop(heap), heapq.heappop(heap)
        # Either half may be pulled; take the one that is reached sooner.
        pulled, left = sorted((one, two), key=lambda half: sum(minutes[n] for n in half[2]))
        share = one[0] + two[0]
        split = Split(
            pull=pulled[2],
            leave=left[2],
            fall_share=pulled[0] / share,
            if_falls=pulled[3],
            if_stays=left[3],
        )
        heapq.heappush(heap, (share, next(order), pulled[2] + left[2], split))
    return heap[0][3]


def expected_pulls(split: Split | None) -> float:
    """Return the mean number of pulls until one fuse is left."""
    if split is None:
        return 0.0
    fall = split.fall_share
    return 1.0 + fall * expected_pulls(split.if_falls) + (1 - fall) * expected_pulls(split.if_stays)


def after_pull(
    branches: tuple[Branch, ...], pulled: tuple[str, ...], *, before_ma: float, after_ma: float
) -> tuple[Branch, ...]:
    """Return the fuses with shares as a pull leaves them: by milliamperes, not by yes or no.

    Two drains at once show as a fall that is neither none nor all; both halves stay suspects.
    """
    unknown = set(pulled) - {branch.name for branch in branches}
    if unknown:
        raise InputError(f"pulled {', '.join(sorted(unknown))}: not among the fuses given")
    if not 0.0 <= after_ma <= before_ma or before_ma <= 0.0:
        raise InputError(
            f"{before_ma:g} mA before and {after_ma:g} mA after the pull: expected it not to rise"
        )
    fell = (before_ma - after_ma) / before_ma
    inside = sum(branch.share for branch in branches if branch.name in pulled)
    outside = sum(branch.share for branch in branches) - inside
    found = []
    for branch in branches:
        part, whole = (fell, inside) if branch.name in pulled else (1.0 - fell, outside)
        share = part * branch.share / whole if whole > 0.0 else 0.0
        if share > 0.01:
            found.append(Branch(name=branch.name, share=share, minutes=branch.minutes))
    return tuple(found)
