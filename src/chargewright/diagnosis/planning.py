"""Look two or three steps ahead and say what to do next.

The value of a check is its cost, plus the expected value of the best thing to do after each
outcome; at the last step looked at, the best thing is to end the job. Ending is chosen only
when it costs no more than the best continuing plan found. A check whose own one-step value is
zero therefore still gets its chance in a pair: one-step planners stop too early (see
docs/planning.md for the measured losses).

Every cost reported is that of a policy in hand, so it can only be too high; the bound beside
it lets each leaf know its world for free, so it can only be too low.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from chargewright.diagnosis.plan import Branch, Candidate, Plan, Step, first_best
from chargewright.diagnosis.problem import (
    Array,
    Problem,
    Situation,
    checked_situation,
    checked_weights,
)
from chargewright.diagnosis.screening import shortlist
from chargewright.diagnosis.search import Leaves, Node, Search, settle
from chargewright.diagnosis.stacked import State, stack

DEFAULT_BEAM = 14
DEEPEST = 6  # with time to spare, deepening ends here; three steps already lose under 1 %
NARROWEST_BEAM = 4
FIRST_WIDTH = 2  # with time to spare, each deeper sweep starts this narrow, to be fair to all
NEGLIGIBLE = 1e-6  # of the cost of acting now: a branch with less to gain is not looked into
WORLD_DUST = 1e-12  # worlds lighter than this, relative, are left out of the products


def look_ahead(
    problem: Problem,
    weights: Array,
    situation: Situation | None = None,
    *,
    depth: int = 2,
    beam: int = DEFAULT_BEAM,
    seconds: float | None = None,
) -> Plan:
    """Return the plan of least expected cost found by looking ``depth`` checks ahead.

    ``weights`` (n,) are the worlds' weights, any positive scale. ``beam`` is how many first
    steps are looked into beyond one step (half as many further on). The search to ``depth`` is
    always done in full and is deterministic; with ``seconds`` it then goes deeper, first
    narrow, then wide, until that much time has passed since the call. It keeps for every first
    step the best policy found, so more time never gives a dearer plan. Ties go to ending the
    job, then to the lowest index.

    Raises InputError when weights or situation do not fit the problem.
    """
    started = time.perf_counter()
    normal = checked_weights(problem, weights)
    place = situation or Situation()
    checked_situation(problem, place)
    keep = normal > WORLD_DUST * normal.max()
    stacked = stack(problem, keep)
    belief = normal[stacked.worlds] / normal[keep].sum()
    search = Search(stacked=stacked, beam=max(beam, 1), width=max(NARROWEST_BEAM, beam >> 1))
    state = stacked.state(place)
    leaves = search.leaves(belief[None, :], state)
    search.worthwhile = NEGLIGIBLE * float(np.abs(leaves.act).min())
    root = _Root(search=search, belief=belief, state=state, leaves=leaves)
    root.deepen(max(depth, 1))
    if seconds is not None:
        search.deadline = started + seconds
        for deeper, width in _sweeps(max(depth, 1) + 1, search.width):
            search.width = width
            if root.settled or search.out_of_time:
                break
            root.deepen(deeper)
    return root.plan()


def _sweeps(depth: int, widest: int) -> Iterator[tuple[int, int]]:
    """Yield (depth, width) from ``depth`` to the deepest, each depth with growing width."""
    for deeper in range(depth, DEEPEST + 1):
        width = FIRST_WIDTH
        while width < widest:
            yield deeper, width
            width *= 2
        yield deeper, widest


@dataclass(slots=True, kw_only=True)
class _Root:
    """The first step: keeps the best policy found for every check over all deepenings."""

    search: Search
    belief: Array
    state: State
    leaves: Leaves
    depth: int = 1
    upper: Array = field(init=False)
    lower: Array = field(init=False)
    depths: list[int] = field(init=False)
    kids: dict[int, dict[int, Node]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.upper, self.lower = self.leaves.upper[0].copy(), self.leaves.lower[0].copy()
        self.depths = [1] * len(self.upper)

    @property
    def node(self) -> Node:
        act = self.leaves.act[0]
        decision = first_best(act)
        return settle(decision, float(act[decision]), self.upper, self.lower, self.kids)

    @property
    def settled(self) -> bool:
        """True when nothing worth a minute's millionth is left to find."""
        node = self.node
        return node.cost - node.bound <= self.search.worthwhile

    def deepen(self, depth: int) -> None:
        """Look into the shortlisted first steps to ``depth``, most promising first."""
        if depth > 1:
            search = self.search
            listed = shortlist(search.stacked, self.belief, self.state, self.upper, search.beam)
            for check in listed:
                if search.out_of_time:
                    return
                cost, low, found = search.follow(
                    self.belief, self.state, depth, self.leaves, 0, check
                )
                if not search.out_of_time:
                    self.depths[check] = max(self.depths[check], depth)
                self.lower[check] = max(self.lower[check], low)
                if cost < self.upper[check]:
                    self.upper[check], self.kids[check] = cost, found
        self.depth = max(self.depth, depth)

    def plan(self) -> Plan:
        """Return what was found, with the follow-up of the chosen step."""
        node, stacked = self.node, self.search.stacked
        problem = stacked.problem
        first = stacked.first_minutes(self.state)
        order = sorted(range(len(self.upper)), key=lambda i: (self.upper[i], i))
        act_now = Step(
            kind="decide", index=node.decision, name=problem.decision_name(node.decision)
        )
        return Plan(
            step=_step(problem, node),
            cost_min=node.cost,
            act_now=act_now,
            act_now_min=float(self.leaves.act[0].min()),
            bound_min=min(node.bound, node.cost),
            candidates=tuple(
                Candidate(
                    index=i,
                    name=problem.checks[i].name,
                    cost_min=float(self.upper[i]),
                    bound_min=float(min(self.lower[i], self.upper[i])),
                    first_min=float(first[i] + self.belief @ stacked.extra[i]),
                    depth=self.depths[i],
                )
                for i in order
                if not self.state.used[i]
            ),
            branches=_branches(self.search, node, self.belief, self.state),
            depth=self.depth,
        )


def _step(problem: Problem, node: Node) -> Step:
    if node.check < 0:
        name = problem.decision_name(node.decision)
        return Step(kind="decide", index=node.decision, name=name)
    return Step(kind="check", index=node.check, name=problem.checks[node.check].name)


def _branches(search: Search, node: Node, belief: Array, state: State) -> tuple[Branch, ...]:
    """Write out the follow-up of ``node``; outcomes that cannot happen are left out."""
    if node.check < 0:
        return ()
    s, problem = search.stacked, search.stacked.problem
    check, after = problem.checks[node.check], search.stacked.after(state, node.check)
    first, total = int(s.starts[node.check]), float(belief.sum())
    opening = s.decision_minutes(after.opened)
    found = []
    for j in range(check.outcomes.shape[1]):
        below = belief * s.table[:, first + j]
        mass = float(below.sum())
        if mass <= WORLD_DUST * total:
            continue
        child = node.children.get(j)
        if child is None:
            act = s.losses(below[None, :])[0] + mass * opening
            best = first_best(act)
            child = Node(cost=float(act[best]), bound=0.0, decision=best, check=-1)
        ended = bool(s.ends[first + j])
        found.append(
            Branch(
                outcome=j,
                label=check.labels[j] if check.labels else f"outcome {j}",
                probability=mass / total,
                cost_min=0.0 if ended else child.cost / mass,
                step=None if ended else _step(problem, child),
                branches=() if ended else _branches(search, child, below, after),
            )
        )
    return tuple(found)
