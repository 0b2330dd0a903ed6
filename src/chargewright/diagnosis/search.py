"""The recursion of looking ahead: values and bounds of beliefs, a batch at a time."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np

from chargewright.diagnosis.plan import TIE, first_best
from chargewright.diagnosis.problem import Array
from chargewright.diagnosis.screening import shortlist
from chargewright.diagnosis.stacked import Stacked, State


@dataclass(slots=True, kw_only=True)
class Leaves:
    """One-step values of m beliefs in one state; unnormalised, so masses are inside.

    ``act`` (m, d), ``spent`` (m, c) cost of making each check, ``leaf`` and ``low`` (m, K)
    value and bound after each outcome, ``upper`` and ``lower`` (m, c) totals per check.
    """

    act: Array
    spent: Array
    leaf: Array
    low: Array
    upper: Array
    lower: Array


@dataclass(slots=True, kw_only=True)
class Node:
    """Best known value and bound of one belief; ``check`` is -1 where ending is best."""

    cost: float
    bound: float
    decision: int
    check: int
    children: dict[int, Node] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class Search:
    """The recursion; holds the stacked arrays, the clock and how widely to look.

    ``beam`` counts first steps looked into, ``width`` steps at each further level; a branch
    with no more than ``worthwhile`` minutes to gain is left alone.
    """

    stacked: Stacked
    beam: int
    width: int
    deadline: float = np.inf
    worthwhile: float = 0.0

    @property
    def out_of_time(self) -> bool:
        """True once the deadline has passed."""
        return time.perf_counter() >= self.deadline

    def leaves(self, beliefs: Array, state: State) -> Leaves:
        """Value every check one step ahead for beliefs (m, n), in one matrix product."""
        s, d = self.stacked, self.stacked.decisions
        product = s.spread(beliefs)
        acting, floor, mass = product[:d], product[d], product[d + 1]
        total = beliefs.sum(axis=1)
        act = s.losses(beliefs)
        if s.decision_need.any():
            act = act + total[:, None] * s.decision_minutes(state.opened)
            opening = s.decision_minutes(state.opened | s.need)[:, s.owner]
            acting = acting + opening[:, None, :] * mass
        leaf = np.where(s.ends, 0.0, acting.min(axis=0))
        low = np.where(s.ends, 0.0, np.minimum(leaf, floor))
        spent = total[:, None] * s.first_minutes(state) + beliefs @ s.extra.T
        if not len(s.starts):
            return Leaves(act=act, spent=spent, leaf=leaf, low=low, upper=spent, lower=spent)
        spent[:, state.used] = np.inf
        upper = spent + np.add.reduceat(leaf, s.starts, axis=1)
        lower = spent + np.add.reduceat(low, s.starts, axis=1)
        return Leaves(act=act, spent=spent, leaf=leaf, low=low, upper=upper, lower=lower)

    def nodes(self, beliefs: Array, state: State, depth: int) -> list[Node]:
        """Return the best policy of at most ``depth`` checks for each belief (m, n)."""
        leaves = self.leaves(beliefs, state)
        return [self._node(beliefs[i], state, depth, leaves, i) for i in range(len(beliefs))]

    def _node(self, belief: Array, state: State, depth: int, leaves: Leaves, i: int) -> Node:
        decision = first_best(leaves.act[i])
        act = float(leaves.act[i, decision])
        upper, lower = leaves.upper[i].copy(), leaves.lower[i].copy()
        kids: dict[int, dict[int, Node]] = {}
        best = min(act, float(upper.min(initial=np.inf)))
        bound = float(lower.min(initial=np.inf))
        if depth > 1 and best - min(act, bound) > self.worthwhile:
            for check in shortlist(self.stacked, belief, state, upper, self.width):
                if self.out_of_time:
                    break
                if lower[check] >= best - self.worthwhile:
                    continue
                cost, low, found = self.follow(belief, state, depth, leaves, i, check)
                lower[check] = max(lower[check], low)
                if cost < upper[check]:
                    upper[check], kids[check] = cost, found
                    best = min(best, cost)
        return settle(decision, act, upper, lower, kids)

    def follow(
        self, belief: Array, state: State, depth: int, leaves: Leaves, i: int, check: int
    ) -> tuple[float, float, dict[int, Node]]:
        """Return value, bound and the outcomes' nodes of making ``check`` now."""
        s = self.stacked
        columns = np.arange(s.starts[check], s.stops[check])
        leaf, low = leaves.leaf[i, columns], leaves.low[i, columns]
        open_to_gain = np.flatnonzero(leaf - low > self.worthwhile)
        cost = float(leaves.spent[i, check] + leaf.sum())
        bound = float(leaves.spent[i, check] + low.sum())
        if not len(open_to_gain):
            return cost, bound, {}
        beliefs = s.table[:, columns[open_to_gain]].T * belief
        nodes = self.nodes(beliefs, s.after(state, check), depth - 1)
        for j, node in zip(open_to_gain, nodes, strict=True):
            cost += node.cost - leaf[j]
            bound += node.bound - low[j]
        found = {int(j): node for j, node in zip(open_to_gain, nodes, strict=True)}
        return cost, bound, found


def settle(
    decision: int,
    act: float,
    upper: Array,
    lower: Array,
    kids: dict[int, dict[int, Node]],
) -> Node:
    """Choose between ending and the best check; ending wins a tie, then the lowest index."""
    bound = min(act, float(lower.min(initial=np.inf)))
    best = first_best(upper) if len(upper) else -1
    if best < 0 or act <= upper[best] + TIE * abs(act):
        return Node(cost=act, bound=bound, decision=decision, check=-1)
    return Node(
        cost=float(upper[best]),
        bound=bound,
        decision=decision,
        check=best,
        children=kids.get(best, {}),
    )
