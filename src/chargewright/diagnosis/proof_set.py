"""The shortest set of checks that proves a repair: all small sets tried, the quickest taken."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from chargewright.machine.parameters import Array

SOUND_PASSES = 0.95  # share of repaired machines inside a span, by its making
PROMISING = 14  # checks of which sets are made
LARGEST = 6  # checks in a set


def remaining_after(prior: float, weights: Array, passes: Array) -> float:
    """Return the chance that a fault remains once every check of a set was good.

    ``prior`` is that chance before; ``weights`` (n,) of unrepaired machines, ``passes`` (k, n)
    the chance that each of them passes each check.
    """
    odds = prior / (1.0 - prior)
    good = odds * float(weights @ np.prod(passes, axis=0)) / SOUND_PASSES ** len(passes)
    return good / (1.0 + good)


def shortest_set(
    prior: float, weights: Array, passes: Array, minutes: Sequence[float], *, enough: float
) -> tuple[int, ...]:
    """Return the indices of the set of fewest minutes that leaves less than ``enough``.

    The most telling first. Where no set of up to ``LARGEST`` checks gets there, the one that
    leaves least; none when not even that tells anything.
    """
    alone = np.array([remaining_after(prior, weights, row[None, :]) for row in passes])
    promising = _promising(prior, weights, passes, alone)
    best: tuple[float, float, tuple[int, ...]] | None = None
    for size in range(1, LARGEST + 1):
        for chosen in combinations(promising, size):
            cost = sum(minutes[i] for i in chosen)
            if best is not None and best[0] < enough and cost >= best[1]:
                continue
            left = remaining_after(prior, weights, passes[list(chosen)])
            if best is None or _better((left, cost), best[:2], enough):
                best = (left, cost, chosen)
    if best is None or best[0] >= prior:
        return ()
    return tuple(sorted(best[2], key=lambda i: float(alone[i])))


def _promising(prior: float, weights: Array, passes: Array, alone: Array) -> list[int]:
    """Return the checks of which sets are made: those that complete each other, then the rest.

    The most telling by themselves may all tell the same.
    """
    chosen: list[int] = []
    while len(chosen) < min(LARGEST, len(passes)):
        left = [
            remaining_after(prior, weights, passes[[*chosen, i]]) if i not in chosen else np.inf
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
