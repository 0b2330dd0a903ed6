"""In which order to look: single fault, one action per suspect, known chances and minutes.

The theory is that of scheduling. Without access costs the best order is by chance over
minutes (Smith 1956; for troubleshooting Kalagnanam and Henrion 1990). With covers to open,
each opened once, it is Horn's ratio merge over the access tree (1972). These orders serve
displays and are oracles in the tests; the planner itself does not assume perfect looks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from chargewright.diagnosis.plan import first_best
from chargewright.errors import InputError

Order = tuple[int, ...]


def expected_minutes(
    order: Sequence[int], chances: Sequence[float], minutes: Sequence[float]
) -> float:
    """Return the expected minutes of looking in ``order`` until the fault is found.

    sum_k C_(k) (1 - sum of the chances before k); every suspect in ``order`` is looked at,
    also the last.
    """
    total, left = 0.0, sum(chances)
    for i in order:
        total += minutes[i] * left
        left -= chances[i]
    return total


def ratio_order(chances: Sequence[float], minutes: Sequence[float]) -> Order:
    """Return the order by falling chance per minute, ties to the lowest index.

    >>> ratio_order([0.4, 0.3, 0.2, 0.1], [70, 125, 25, 230])
    (2, 0, 1, 3)
    """
    _check(chances, minutes)
    return tuple(sorted(range(len(chances)), key=lambda i: (-_ratio(chances[i], minutes[i]), i)))


def eliminating_order(chances: Sequence[float], minutes: Sequence[float]) -> tuple[Order, float]:
    """Return the best order and its minutes when the last suspect follows by elimination.

    Which suspect to leave out is tried for each of them: the ratio order alone is not
    always right here. The suspect left out stands last in the order.
    """
    _check(chances, minutes)
    by_ratio = ratio_order(chances, minutes)
    options = []
    for left_out in range(len(chances)):
        looked = tuple(i for i in by_ratio if i != left_out)
        options.append(((*looked, left_out), expected_minutes(looked, chances, minutes)))
    return options[first_best([cost for _, cost in options])]


def repair_minutes(
    order: Sequence[int],
    chances: Sequence[float],
    *,
    observe: Sequence[float],
    repair: Sequence[float],
    last_inferred: bool = False,
) -> float:
    """Return the expected cost of repair: looks in ``order``, and the one repair that is due.

    sum_i [(1 - chances before i) C_observe + p_i C_repair] (Heckerman, Breese and Rommelse
    1995, formula from memory). With ``last_inferred`` the last suspect is repaired unseen.
    The repair minutes are paid once whatever the order, so the order is that of
    ``ratio_order(chances, observe)``.
    """
    looked = order[:-1] if last_inferred else order
    repairs = sum(chances[i] * repair[i] for i in order)
    return expected_minutes(looked, chances, observe) + repairs


def service_call(
    chances: Sequence[float], minutes: Sequence[float], *, call_min: float
) -> tuple[Order, float]:
    """Return what to try before handing over at ``call_min``, and the expected cost.

    Every prefix of the ratio order is valued: cost may rise before it falls, so the first
    prefix that does not pay is no reason to stop. A full prefix means no call is needed.
    """
    by_ratio = ratio_order(chances, minutes)
    costs, spent, left = [call_min * sum(chances)], 0.0, sum(chances)
    for k, i in enumerate(by_ratio, start=1):
        spent += minutes[i] * left
        left -= chances[i]
        costs.append(spent + (call_min * left if k < len(by_ratio) else 0.0))
    best = first_best(costs)
    return by_ratio[:best], costs[best]


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """Covers as a tree: ``open_minutes`` and ``parent`` (-1: none) per cover, ``place`` the
    cover each suspect lies behind (-1: free to reach)."""

    open_minutes: tuple[float, ...]
    parent: tuple[int, ...]
    place: tuple[int, ...]


def access_minutes(
    order: Sequence[int], chances: Sequence[float], minutes: Sequence[float], *, access: Access
) -> float:
    """Return the expected minutes of ``order`` with each cover paid when first needed."""
    total, left = 0.0, sum(chances)
    opened: set[int] = set()
    for i in order:
        cover = access.place[i]
        while cover >= 0 and cover not in opened:
            opened.add(cover)
            total += access.open_minutes[cover] * left
            cover = access.parent[cover]
        total += minutes[i] * left
        left -= chances[i]
    return total


@dataclass(slots=True, eq=False)
class _Group:
    """Jobs that stay together: covers and looks in order, with summed chance and minutes."""

    head: int
    jobs: list[int] = field(default_factory=list)
    chance: float = 0.0
    minutes: float = 0.0

    @property
    def ratio(self) -> float:
        return _ratio(self.chance, self.minutes)


def access_order(chances: Sequence[float], minutes: Sequence[float], *, access: Access) -> Order:
    """Return the best order of looking with covers opened once each (Horn 1972).

    A cover is a job of chance 0 that precedes what lies behind it. The group of the largest
    chance per minute is taken again and again: it is merged into the group of the job it
    waits for, or emitted when it waits for none. Ties go to the lowest job, covers first.
    """
    _check(chances, minutes)
    if len(access.place) != len(chances) or len(access.parent) != len(access.open_minutes):
        raise InputError(
            f"{len(access.place)} places for {len(chances)} suspects,"
            f" {len(access.parent)} parents for {len(access.open_minutes)} covers"
        )
    covers = len(access.open_minutes)
    waits_for = list(access.parent) + list(access.place)
    weight = [0.0] * covers + list(chances)
    length = list(access.open_minutes) + list(minutes)
    group_of = [
        _Group(head=j, jobs=[j], chance=weight[j], minutes=length[j]) for j in range(len(weight))
    ]
    waiting = list(group_of)
    emitted: list[int] = []
    while waiting:
        best = max(waiting, key=lambda group: (group.ratio, -group.head))
        waiting.remove(best)
        before = waits_for[best.head]
        if before < 0 or before in emitted:
            emitted.extend(best.jobs)
            continue
        host = group_of[before]
        host.jobs += best.jobs
        host.chance += best.chance
        host.minutes += best.minutes
        for job in best.jobs:
            group_of[job] = host
    return tuple(job - covers for job in emitted if job >= covers)


def _ratio(chance: float, minutes: float) -> float:
    """Chance per minute; a free look with any chance comes first, one without last."""
    if minutes > 0.0:
        return chance / minutes
    return float("inf") if chance > 0.0 else 0.0


def _check(chances: Sequence[float], minutes: Sequence[float]) -> None:
    if len(chances) != len(minutes) or not chances:
        raise InputError(
            f"{len(chances)} chances for {len(minutes)} times, expected as many, 1 or more"
        )
    if min(chances) < 0.0 or min(minutes) < 0.0:
        raise InputError(f"chance {min(chances):g} or minutes {min(minutes):g} below 0")
