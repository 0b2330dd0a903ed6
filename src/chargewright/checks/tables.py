"""The same costs as arrays, for a planner that weighs thousands of sequences.

From mode q, with the openings of mask b open, check m costs
    sum(open_min[bits of access_mask[m] & ~b]) + switch_min[q, goal[q, m]] + own_min[m]
and leaves mode goal[q, m] and mask b | access_mask[m].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargewright.checks.catalogue import Check
from chargewright.checks.cost import Effort, Situation, goal_mode, needs, way
from chargewright.checks.modes import Mode
from chargewright.machine.parameters import Array

Ints = NDArray[np.int64]
MOST_OPENINGS = 62  # bits of a mask that fit a signed 64-bit integer


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanTables:
    """Costs of m checks over q modes and k openings.

    ``access_mask`` (m,) with bit i for ``openings[i]``; ``open_min`` (k,), ``own_min`` (m,)
    and ``switch_min`` (q, q) in minutes, infinite where there is no way; ``wait_h`` (q, q)
    and ``own_wait_h`` (m,) in hours; ``goal`` (q, m) the mode each check is read in;
    ``start_mode`` and ``start_mask`` where the machine stands.
    """

    openings: tuple[str, ...]
    modes: tuple[Mode, ...]
    access_mask: Ints
    open_min: Array
    own_min: Array
    own_wait_h: Array
    goal: Ints
    switch_min: Array
    wait_h: Array
    start_mode: int
    start_mask: int

    def minutes(self, check: int, mode: int, mask: int) -> float:
        """Return the minutes of check number ``check`` from ``mode`` and ``mask``."""
        missing = int(self.access_mask[check]) & ~mask
        opening = sum(m for bit, m in enumerate(self.open_min) if missing >> bit & 1)
        change = self.switch_min[mode, self.goal[mode, check]]
        return float(opening + change + self.own_min[check])


def plan_tables(checks: Sequence[Check], situation: Situation, effort: Effort) -> PlanTables:
    """Return the cost tables of ``checks`` for every mode reachable from ``situation``."""
    modes = _reachable(checks, situation.mode)
    index = {mode: number for number, mode in enumerate(modes)}
    openings = effort.access.ids
    if len(openings) > MOST_OPENINGS:
        raise ValueError(f"{len(openings)} openings: expected at most {MOST_OPENINGS}")
    bit = {name: 1 << number for number, name in enumerate(openings)}

    def mask(names: frozenset[str]) -> int:
        return sum(bit[name] for name in effort.access.closure(names))

    ways = [[way(start, goal, effort) for goal in modes] for start in modes]
    return PlanTables(
        openings=openings,
        modes=modes,
        access_mask=np.array([mask(needs(c, situation.mode, effort)) for c in checks], np.int64),
        open_min=np.array([effort.access.opening(name).total_min for name in openings]),
        own_min=np.array([0.0 if c.is_act else c.minutes for c in checks]),
        own_wait_h=np.array([0.0 if c.is_act else c.wait_h for c in checks]),
        goal=np.array([[index[goal_mode(c, m)] for c in checks] for m in modes], np.int64),
        switch_min=np.array([[cost.total for cost in row] for row in ways]),
        wait_h=np.array([[cost.wait_h for cost in row] for row in ways]),
        start_mode=index[situation.mode],
        start_mask=mask(situation.open),
    )


def _reachable(checks: Sequence[Check], start: Mode) -> tuple[Mode, ...]:
    """Return ``start`` and every mode any sequence of the checks can lead to."""
    found = [start]
    for mode in found:  # grows while it is walked
        found += dict.fromkeys(g for c in checks if (g := goal_mode(c, mode)) not in found)
    return tuple(found)
