"""The best plan there is, for problems small enough to list every state.

A state says, for each check, unused or which outcome it had: prod(k_i + 1) states, times the
machine modes. States with more checks used are valued first, all at once as arrays, so 12
worlds and 11 two-outcome checks (177,147 states) take about a second on one core.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from chargewright.diagnosis.plan import TIE, Branch, Candidate, Plan, Step
from chargewright.diagnosis.problem import (
    Array,
    Problem,
    Situation,
    checked_situation,
    checked_weights,
)
from chargewright.diagnosis.stacked import Stacked, State, stack
from chargewright.errors import InputError

LARGEST = 30_000_000  # states x worlds: 240 MB of beliefs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StateTable:
    """Every state of a small problem, solved.

    ``outcome`` (S, c) is the outcome each check had, or its number of outcomes while unused
    (-1 for checks used before the start). ``belief`` (S, n) is unnormalised, in the order of
    ``stacked.worlds``; ``act`` (S,) and ``value`` (S, modes) are costs weighted by the state's
    mass; ``choice`` (S, modes) is the best check, -1 for ending.
    """

    stacked: Stacked
    start: State
    stride: NDArray[np.intp]
    outcome: NDArray[np.intp]
    belief: Array
    decision: NDArray[np.intp]
    act: Array
    value: Array
    choice: NDArray[np.intp]

    @property
    def root(self) -> int:
        """Index of the state where nothing has been looked at yet."""
        return len(self.outcome) - 1

    def child(self, state: int, check: int, outcome: int) -> int:
        """Return the state after ``check`` showed ``outcome``."""
        widths = self.stacked.stops - self.stacked.starts
        return int(state - (widths[check] - outcome) * self.stride[check])


def count_states(problem: Problem, situation: Situation | None = None) -> int:
    """Return how many states ``exact`` would list, modes apart."""
    used = (situation or Situation()).used
    total = 1
    for i, check in enumerate(problem.checks):
        total *= 1 if i in used else check.outcomes.shape[1] + 1
    return total


def exact(problem: Problem, weights: Array, situation: Situation | None = None) -> Plan:
    """Return the plan of least expected cost, by dynamic programming over all states.

    Raises InputError when the problem is too large to list (see ``count_states``), or when
    weights or situation do not fit it.
    """
    return table_plan(solve(problem, weights, situation))


def solve(problem: Problem, weights: Array, situation: Situation | None = None) -> StateTable:
    """Return every state of ``problem`` with its best step; same errors as ``exact``."""
    place = situation or Situation()
    normal = checked_weights(problem, weights)
    checked_situation(problem, place)
    keep = normal > 0.0
    states, worlds = count_states(problem, place), int(keep.sum())
    if states * worlds > LARGEST:
        raise InputError(
            f"{states} states of {worlds} worlds are too many to list, expected at most"
            f" {LARGEST} in all; use look_ahead or fewer checks"
        )
    stacked = stack(problem, keep)
    table = _unsolved(stacked, normal[stacked.worlds], stacked.state(place))
    _value_backwards(table)
    return table


def _unsolved(stacked: Stacked, belief: Array, start: State) -> StateTable:
    """List the states with their beliefs and the cost of ending there."""
    checks = len(stacked.starts)
    widths = stacked.stops - stacked.starts
    beliefs, outcome = belief[None, :], np.empty((1, 0), dtype=np.intp)
    stride = np.zeros(checks, dtype=np.intp)
    size = 1
    for i in range(checks):
        if start.used[i]:
            outcome = np.hstack([outcome, np.full((size, 1), -1, dtype=np.intp)])
            continue
        law = stacked.table[:, stacked.starts[i] : stacked.stops[i]].T
        digits = np.vstack([law, np.ones_like(belief)])
        beliefs = (digits[:, None, :] * beliefs).reshape(-1, len(belief))
        column = np.repeat(np.arange(widths[i] + 1, dtype=np.intp), size)
        outcome = np.hstack([np.tile(outcome, (int(widths[i]) + 1, 1)), column[:, None]])
        stride[i], size = size, size * int(widths[i] + 1)
    act = stacked.losses(beliefs)
    if stacked.decision_need.any():
        opened = _opened(stacked, outcome, start)
        act = act + beliefs.sum(axis=1)[:, None] * stacked.decision_minutes(opened).T
    least = act.min(axis=1)
    tied = act <= (least + TIE * np.abs(least))[:, None]
    modes = len(stacked.problem.costs.switch_minutes)
    return StateTable(
        stacked=stacked,
        start=start,
        stride=stride,
        outcome=outcome,
        belief=beliefs,
        decision=np.argmax(tied, axis=1).astype(np.intp),
        act=least,
        value=np.repeat(least[:, None], modes, axis=1),
        choice=np.full((size, modes), -1, dtype=np.intp),
    )


def _opened(stacked: Stacked, outcome: NDArray[np.intp], start: State) -> NDArray[np.bool_]:
    """Which nodes are open in each state, (S, a)."""
    made = (outcome >= 0) & (outcome < stacked.stops - stacked.starts)
    opened: NDArray[np.bool_] = (made.astype(float) @ stacked.need.astype(float) > 0) | start.opened
    return opened


def _value_backwards(table: StateTable) -> None:
    """Fill in value and choice, states with most checks used first."""
    s = table.stacked
    unused = table.outcome == s.stops - s.starts
    left = unused.sum(axis=1)
    opened = _opened(s, table.outcome, table.start)
    order = np.argsort(left, kind="stable")
    edges = np.searchsorted(left[order], np.arange(1, left.max(initial=0) + 2))
    for begin, end in pairwise(edges):
        level = order[begin:end]
        for check in range(len(s.starts)):
            at = level[unused[level, check]]
            if len(at):
                _offer(table, at, check, opened[at])


def _offer(table: StateTable, at: NDArray[np.intp], check: int, opened: NDArray[np.bool_]) -> None:
    """Let the states ``at`` choose ``check`` where it beats what they have so far."""
    s = table.stacked
    switch = np.asarray(s.problem.costs.switch_minutes, dtype=float)
    modes, wanted = len(switch), int(s.mode[check])
    mass = table.belief[at].sum(axis=1)
    opening = (s.need[check] & ~opened) @ s.node_minutes
    own = mass * (s.minutes[check] + opening) + table.belief[at] @ s.extra[check]
    cost = np.repeat(own[:, None], modes, axis=1)
    if wanted >= 0:
        cost += mass[:, None] * switch[:, wanted]
    width = int(s.stops[check] - s.starts[check])
    for outcome in range(width):
        if s.ends[s.starts[check] + outcome]:
            continue
        below = table.value[at - (width - outcome) * table.stride[check]]
        cost += below if wanted < 0 else below[:, [wanted]]
    best = table.value[at]
    better = cost < best - TIE * np.abs(best)
    table.value[at] = np.where(better, cost, best)
    table.choice[at] = np.where(better, check, table.choice[at])


def table_plan(table: StateTable) -> Plan:
    """Return the plan at the root of a solved table, with the whole follow-up."""
    s, root, mode = table.stacked, table.root, table.start.mode
    problem = s.problem
    first = s.first_minutes(table.start)
    totals = {
        i: _root_cost(table, i, float(first[i]))
        for i in range(len(problem.checks))
        if not table.start.used[i]
    }
    cost = float(table.value[root, mode])
    return Plan(
        step=_step(table, root, mode),
        cost_min=cost,
        act_now=_ending(table, root),
        act_now_min=float(table.act[root]),
        bound_min=cost,
        candidates=tuple(
            Candidate(
                index=i,
                name=problem.checks[i].name,
                cost_min=totals[i],
                bound_min=totals[i],
                first_min=float(first[i] + table.belief[root] @ s.extra[i]),
                depth=len(totals),
            )
            for i in sorted(totals, key=lambda i: (totals[i], i))
        ),
        branches=_branches(table, root, mode),
        depth=len(totals),
    )


def _root_cost(table: StateTable, check: int, first_min: float) -> float:
    s = table.stacked
    mode = table.start.mode if s.mode[check] < 0 else int(s.mode[check])
    after = sum(
        float(table.value[table.child(table.root, check, j), mode])
        for j in range(int(s.stops[check] - s.starts[check]))
        if not s.ends[s.starts[check] + j]
    )
    return first_min + float(table.belief[table.root] @ s.extra[check]) + after


def _ending(table: StateTable, state: int) -> Step:
    index = int(table.decision[state])
    return Step(kind="decide", index=index, name=table.stacked.problem.decision_name(index))


def _step(table: StateTable, state: int, mode: int) -> Step:
    check = int(table.choice[state, mode])
    if check < 0:
        return _ending(table, state)
    return Step(kind="check", index=check, name=table.stacked.problem.checks[check].name)


def _branches(table: StateTable, state: int, mode: int) -> tuple[Branch, ...]:
    """Write out the whole follow-up; outcomes that cannot happen are left out."""
    check = int(table.choice[state, mode])
    if check < 0:
        return ()
    s = table.stacked
    labels = s.problem.checks[check].labels
    after = mode if s.mode[check] < 0 else int(s.mode[check])
    total = float(table.belief[state].sum())
    found = []
    for j in range(int(s.stops[check] - s.starts[check])):
        below = table.child(state, check, j)
        mass = float(table.belief[below].sum())
        if mass <= 0.0:
            continue
        ended = bool(s.ends[s.starts[check] + j])
        found.append(
            Branch(
                outcome=j,
                label=labels[j] if labels else f"outcome {j}",
                probability=mass / total,
                cost_min=0.0 if ended else float(table.value[below, after]) / mass,
                step=None if ended else _step(table, below, after),
                branches=() if ended else _branches(table, below, after),
            )
        )
    return tuple(found)
