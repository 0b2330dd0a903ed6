"""The shortest set of checks that proves a repair: all small sets tried, the quickest taken."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from chargewright.machine.parameters import Array

Mask = NDArray[np.bool_]

PROMISING = 14  # checks of which sets are made
LARGEST = 6  # checks in a set


def remaining_after(weights: Array, broken: Mask, passes: Array) -> float:
    """Return the chance that a fault remains once every check of a set was good.

    ``weights`` (n,) of machines with a fault (``broken``) and without, ``passes`` (k, n) the
    chance that each of them passes each check.
    """
    good = weights * np.prod(passes, axis=0)
    return float(good[broken].sum() / max(float(good.sum()), 1e-300))


def shortest_set(
    weights: Array, broken: Mask, passes: Array, minutes: Sequence[float], *, enough: float
) -> tuple[int, ...]:
    """Return the indices of the set of fewest minutes that leaves less than ``enough``.

    The most telling first. Where no set of up to ``LARGEST`` checks gets there, the one that
    leaves least; none when not even that tells anything.
    """
    prior = remaining_after(weights, broken, passes[:0])
    alone = np.array([remaining_after(weights, broken, row[None, :]) for row in passes])
    promising = _promising(weights, broken, passes, alone)
    best: tuple[float, float, tuple[int, ...]] | None = None
    for size in range(1, LARGEST + 1):
        for chosen in combinations(promising, size):
            cost = sum(minutes[i] for i in chosen)
            if best is not None and best[0] < enough and cost >= best[1]:
                continue
            left = remaining_after(weights, broken, passes[list(chosen)])
            if best is None or _better((left, cost), best[:2], enough):
                best = (left, cost, chosen)
    if best is None or best[0] >= prior:
        return ()
    return tuple(sorted(best[2], key=lambda i: float(alone[i])))


def _promising(weights: Array, broken: Mask, passes: Array, alone: Array) -> list[int]:
    """Return the checks of which sets are made: those that complete each other, then the rest.

    The most telling by themselves may all tell the same.
    """
    chosen: list[int] = []
    while len(chosen) < min(LARGEST, len(passes)):
        left = [
            remaining_after(weights, broken, passes[[*chosen, i]]) if i not in chosen else np.inf
            for i in range(len(passes))
        ]
        chosen.append(int(np.argmin(left)))
    rest = [int(i) for i in np.argsort(alone, kind="stable") if i not in chosen]
    return [*chosen, *rest][:PROMISING]


def _better(one: tuple[float, float], held: tuple[float, float], enough: float) -> bool:
    """Tell whether (remaining, minutes) beats what is held."""
    if (one[0] < enough) != (held[0] < enough):
        return one[0] < enough
    return one[1] < held[1] if one[0] < enough else one[0] < held[0] - 1e-4
