"""What a planner answers: the best next step, what each candidate is worth, and what follows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

TIE = 1e-9  # costs nearer than this, relative, count as equal; below any minute that matters


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do: end with a decision, or make a check; ``index`` counts within its kind."""

    kind: Literal["decide", "check"]
    index: int
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """What to do after one outcome.

    ``probability`` is conditional on being at the parent. ``cost_min`` is the expected cost
    from here on, given this outcome. ``step`` is None where the outcome ends the job.
    """

    outcome: int
    label: str
    probability: float
    cost_min: float
    step: Step | None
    branches: tuple[Branch, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A check as the first step: its expected total cost if the plan goes on as well as known.

    ``cost_min`` is reached by a policy the planner has in hand, ``bound_min`` cannot be beaten
    by any policy that starts with this check. ``first_min`` is what the check itself costs now,
    access and mode change included. ``depth`` is how many steps were looked at.
    """

    index: int
    name: str
    cost_min: float
    bound_min: float
    first_min: float
    depth: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The best first step and why.

    ``cost_min`` is the expected total of following the plan, ``act_now_min`` that of ending
    at once with ``act_now``, ``bound_min`` a cost no policy can beat. ``candidates`` are
    sorted by cost, then by index. ``branches`` is the follow-up, per outcome.
    """

    step: Step
    cost_min: float
    act_now: Step
    act_now_min: float
    bound_min: float
    candidates: tuple[Candidate, ...]
    branches: tuple[Branch, ...]
    depth: int

    @property
    def worth_min(self) -> float:
        """Minutes the plan saves against ending at once."""
        return self.act_now_min - self.cost_min


def first_best(values: Sequence[float] | NDArray[np.float64]) -> int:
    """Return the index of the least value; among equals (relative ``TIE``) the lowest index.

    >>> first_best([3.0, 2.0 + 1e-12, 2.0])
    1
    """
    array = np.asarray(values, dtype=float)
    least = float(array.min())
    return int(np.argmax(array <= least + TIE * max(1.0, abs(least))))


def outline(branches: tuple[Branch, ...], *, indent: int = 0) -> Iterator[str]:
    """Yield one line per branch of a follow-up tree, children indented below their parent."""
    for branch in branches:
        then = branch.step.name if branch.step else "done"
        yield (
            f"{'  ' * indent}{branch.label} ({branch.probability:.0%}): {then},"
            f" {branch.cost_min:.1f} min to go"
        )
        yield from outline(branch.branches, indent=indent + 1)
