"""A complaint's whole decision tree: the planner asked again after every result.

At each node the planner looks ahead as it does for a technician; its check's bins are joined to
a few ranges, where neighbours lead to the same next step; each range is planned anew. The
commonest open end is continued first until the page is full: what is rarer ends undecided, with
the ending that is best so far.
"""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count

import numpy as np

from chargewright.checks.catalogue import Check
from chargewright.diagnosis.advise import Advice, going_on
from chargewright.diagnosis.belief import Belief
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.decisions import Ending, cures
from chargewright.diagnosis.outcomes import outcome_table
from chargewright.diagnosis.plan import Step
from chargewright.diagnosis.planning import look_ahead
from chargewright.diagnosis.problem import Problem, Situation
from chargewright.diagnosis.rollout import play_out
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function

SUSPECTS = 2  # components named at an end


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """How large a chart gets: ends on the page, checks in a row, ranges of a check.

    An end with less than ``rare`` of the jobs is not continued.
    """

    ends: int = 28
    depth: int = 6
    ranges: int = 2
    rare: float = 0.01


ONE_PAGE = Limits()


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A range of a reading, in V, ohm or A: open ends None; ``over`` when OL belongs to it.

    ``figures`` is false for OL alone; ``seen`` is set for a look and nothing else then.
    """

    low: float | None = None
    high: float | None = None
    over: bool = False
    figures: bool = True
    seen: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """An end: what to do, the chance that it cures, and whether that is still open.

    ``measure_on``: the planner would rather go on; the page, or what is rare, ends here.
    ``suspects`` are the likeliest components with their chances, ``share`` that of the end.
    """

    ending: Ending
    cure: float
    measure_on: bool
    suspects: tuple[tuple[str, float], ...]
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fork:
    """A check to make; each branch is (range, share of the fork's jobs, what follows)."""

    check: Check
    branches: tuple[tuple[Span, float, Leaf | Fork], ...]


@dataclass(slots=True, kw_only=True)
class _Node:
    """A place in the growing tree: its worlds' weights (n,), and its branches once it is a fork."""

    weights: Array
    here: Situation
    depth: int
    step: Step | None  # the check to make; None where ending is best
    branches: list[tuple[Span, float, _Node]] | None = None


@dataclass(slots=True, kw_only=True)
class _Grower:
    case: Case
    belief: Belief
    advice: Advice
    limits: Limits
    seed: int

    def grow(self) -> Leaf | Fork:
        """Return the tree, its commonest open ends continued first."""
        root = self._node(self.advice.world_weights, self.advice.here, 0)
        total, ends = float(root.weights.sum()), 1
        order = count()
        opened = [(-1.0, next(order), root)]
        while opened and ends < self.limits.ends:
            _, _, node = heappop(opened)
            if node.step is None:
                continue
            node.branches = self._branches(node, node.step)
            ends += len(node.branches) - 1
            for _, _, child in node.branches:
                share = float(child.weights.sum()) / total
                if share >= self.limits.rare and child.depth < self.limits.depth:
                    heappush(opened, (-share, next(order), child))
        return self._finished(root)

    def _node(self, weights: Array, here: Situation, depth: int) -> _Node:
        return _Node(weights=weights, here=here, depth=depth, step=self._step(weights, here))

    def _branches(self, node: _Node, step: Step) -> list[tuple[Span, float, _Node]]:
        """Return the ranges of a check's result and the places they lead to."""
        problem, here = self.advice.problem, node.here
        check = problem.checks[step.index]
        after = Situation(
            opened=_closed_over(problem, here.opened | check.access),
            mode=here.mode if check.mode is None else check.mode,
            used=here.used | {step.index},
        )
        mass = float(node.weights.sum())
        found: list[tuple[Span, float, _Node]] = []
        for group in self._groups(node.weights, check.outcomes, after):
            below = node.weights * check.outcomes[:, group].sum(axis=1)
            span = self._span(step.index, group, check.outcomes.shape[1])
            share = float(below.sum()) / mass
            found.append((span, share, self._node(below, after, node.depth + 1)))
        return found

    def _finished(self, node: _Node) -> Leaf | Fork:
        """Return the tree below a node; a fork whose ends are all alike becomes one end."""
        if node.branches is None or node.step is None:
            return self._leaf(node.weights, measure_on=node.step is not None)
        branches = tuple(
            (span, share, self._finished(child)) for span, share, child in node.branches
        )
        ends = {(c.ending.id, c.measure_on) for _, _, c in branches if isinstance(c, Leaf)}
        if len(ends) == 1 and all(isinstance(child, Leaf) for _, _, child in branches):
            return self._leaf(node.weights, measure_on=next(iter(ends))[1])
        return Fork(check=self.advice.options[node.step.index].check, branches=branches)

    def _step(self, weights: Array, here: Situation) -> Step | None:
        """Return the check the planner would make here, None where it would end."""
        problem = self.advice.problem
        normal = weights / weights.sum()
        plan = look_ahead(problem, normal, here, depth=2)
        if plan.step.kind == "decide":
            rng = np.random.default_rng([self.seed, len(here.used)])
            plan = going_on(plan, play_out(problem, normal, here, rng), problem)
        step = plan.step
        return None if step.kind == "decide" or step.index in here.used else step

    def _leaf(self, weights: Array, *, measure_on: bool) -> Leaf:
        advice, population = self.advice, self.belief.population
        normal = weights / weights.sum()
        way = advice.ways[int(np.argmin(advice.problem.loss @ normal))]
        count_of = len(population.hypotheses)
        shares: Array = np.bincount(
            population.member[advice.worlds], normal, minlength=count_of
        ).astype(np.float64)
        suspects: dict[str, float] = {}
        for hypothesis, share in zip(population.hypotheses, shares, strict=True):
            for component in {cause.component.value for cause in hypothesis.causes}:
                suspects[component] = suspects.get(component, 0.0) + float(share)
        ranked = sorted(suspects.items(), key=lambda item: -item[1])
        return Leaf(
            ending=way,
            cure=cures(way, population.hypotheses, shares),
            measure_on=measure_on,
            suspects=tuple(ranked[:SUSPECTS]),
            share=float(weights.sum() / advice.world_weights.sum()),
        )

    def _groups(self, weights: Array, columns: Array, after: Situation) -> list[list[int]]:
        """Return neighbouring outcomes joined: alike in what follows, then the rarest joined on."""
        problem = self.advice.problem
        masses = weights @ columns
        steps: list[tuple[str, int]] = []
        for column, mass in enumerate(masses):
            if mass <= 1e-9 * weights.sum():
                steps.append(steps[-1] if steps else ("none", 0))
                continue
            below = weights * columns[:, column] / mass
            plan = look_ahead(problem, below, after, depth=1)
            steps.append((plan.act_now.name, plan.step.index if plan.step.kind == "check" else -1))
        groups = [[0]]
        for column in range(1, len(steps)):
            if steps[column] == steps[groups[-1][-1]]:
                groups[-1].append(column)
            else:
                groups.append([column])
        while len(groups) > self.limits.ranges:
            rarest = min(range(len(groups)), key=lambda i: float(masses[groups[i]].sum()))
            beside = [i for i in (rarest - 1, rarest + 1) if 0 <= i < len(groups)]
            other = min(beside, key=lambda i: float(masses[groups[i]].sum()))
            low, high = sorted((rarest, other))
            groups[low : high + 1] = [groups[low] + groups[high]]
        return [group for group in groups if float(masses[group].sum()) > 1e-6 * weights.sum()]

    def _span(self, index: int, group: list[int], count: int) -> Span:
        option = self.advice.options[index]
        if option.question.function is Function.LOOK:
            return Span(seen=group[0] == 0)
        _, edges = outcome_table(
            self.belief.population.predictions,
            option.question,
            self.case.meter,
            weights=self.advice.world_weights,
            rows=self.advice.worlds,
            nulled=self.case.nulled,
        )
        over = group[-1] == count - 1
        figures = [column for column in group if column < count - 1]
        if not figures:
            return Span(over=True, figures=False)
        first, last = figures[0], figures[-1]
        return Span(
            low=float(edges[first - 1]) if first > 0 else None,
            high=float(edges[last]) if last < len(edges) else None,
            over=over,
        )


def grow_chart(
    case: Case, belief: Belief, advice: Advice, *, limits: Limits = ONE_PAGE, seed: int = 0
) -> Leaf | Fork:
    """Return the decision tree from the case as it stands, nothing more read."""
    return _Grower(case=case, belief=belief, advice=advice, limits=limits, seed=seed).grow()


def _closed_over(problem: Problem, nodes: frozenset[int]) -> frozenset[int]:
    return frozenset(int(i) for i in np.flatnonzero(problem.costs.closure(nodes)))
