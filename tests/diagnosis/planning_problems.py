"""Problems shared by the planner's tests and benchmark."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from chargewright.diagnosis.planning import look_ahead
from chargewright.diagnosis.problem import Array, Check, Costs, Problem, Situation

WRONG = 1e4  # a decision in a wrong world costs so much that no plan ends on a guess


def name_the_world(n: int, wrong: float = WRONG) -> Array:
    """Loss (n, n) of "it is world d": nothing when right."""
    return wrong * (1.0 - np.eye(n))


def perfect(rows: Sequence[Sequence[int]]) -> Array:
    """Outcome law of a perfect two-outcome check from 0/1 per world."""
    fails = np.asarray(rows, dtype=float).reshape(-1)
    return np.column_stack([1.0 - fails, fails])


def looks(minutes: Sequence[float], *, ends: bool, repair: Sequence[float] = ()) -> list[Check]:
    """One perfect look per world; with ``ends`` finding the fault ends the job.

    ``repair`` is what the repair costs in the world where that part is at fault.
    """
    n = len(minutes)
    unit = np.eye(n)
    return [
        Check(
            name=f"look {i + 1}",
            outcomes=perfect([unit[i].astype(int)]),
            minutes=minutes[i],
            ends=(False, ends),
            extra_minutes=unit[i] * repair[i] if repair else None,
            labels=("good", "bad"),
        )
        for i in range(n)
    ]


def workshop(rng: np.random.Generator, faults: int = 8, tests: int = 7) -> tuple[Problem, Array]:
    """Random problem of 8 faults and 7 noisy two-outcome tests, and its prior.

    40 % of the faults are seen by a test, detection .75 to .98, false alarm .02 to .12, test
    cost 2 to 25, repair 40 to 300, a wrong part costs itself and a comeback of 60 to 150;
    prior Dirichlet(.7). Assumed ranges, wide enough for a workshop.
    """
    prior = rng.dirichlet(np.full(faults, 0.7))
    repair = rng.uniform(40, 300, faults)
    loss = np.repeat((repair + rng.uniform(60, 150))[:, None], faults, axis=1)
    np.fill_diagonal(loss, 0.0)
    checks = []
    for i in range(tests):
        seen = rng.random(faults) < 0.4
        fails = np.where(seen, rng.uniform(0.75, 0.98, faults), rng.uniform(0.02, 0.12))
        law = np.column_stack([1.0 - fails, fails])
        checks.append(Check(name=f"t{i + 1}", outcomes=law, minutes=float(rng.uniform(2, 25))))
    return Problem(loss=loss, checks=tuple(checks)), prior


def with_access(rng: np.random.Generator, tests: int = 5) -> tuple[Problem, Array]:
    """Random problem with covers, modes, ending outcomes and costs that depend on the world."""
    faults = 6
    base, prior = workshop(rng, faults, tests)
    nodes = int(rng.integers(1, 4))
    costs = Costs(
        access_minutes=tuple(float(v) for v in rng.uniform(0, 20, nodes)),
        access_parent=tuple(int(rng.integers(-1, i)) for i in range(nodes)),
        switch_minutes=rng.uniform(0, 8, (3, 3)) * (1.0 - np.eye(3)),
    )
    checks = []
    for i, check in enumerate(base.checks):
        ends = i % 2 == 1
        fixed = np.zeros(faults)
        fixed[i % faults] = 1.0
        checks.append(
            Check(
                name=check.name,
                outcomes=np.column_stack([1.0 - fixed, fixed]) if ends else check.outcomes,
                minutes=check.minutes * (4 if ends else 1),
                access=frozenset({int(rng.integers(0, nodes))})
                if rng.random() < 0.7
                else frozenset(),
                mode=int(rng.integers(0, 3)) if rng.random() < 0.7 else None,
                ends=(False, ends),
                extra_minutes=rng.uniform(0, 5, faults) if ends else None,
            )
        )
    needs = tuple(
        frozenset({int(rng.integers(0, nodes))}) if rng.random() < 0.5 else frozenset()
        for _ in range(faults)
    )
    problem = Problem(loss=base.loss, checks=tuple(checks), costs=costs, decision_access=needs)
    return problem, prior


def cost_of_replanning(
    problem: Problem, belief: Array, *, depth: int, used: frozenset[int] = frozenset()
) -> float:
    """Expected cost, weighted by the belief's mass, of planning ``depth`` ahead at every state.

    For problems without access, modes, ending outcomes and costs that depend on the world.
    """
    step = look_ahead(problem, belief, Situation(used=used), depth=depth).step
    if step.kind == "decide":
        return float(problem.loss[step.index] @ belief)
    check = problem.checks[step.index]
    return float(belief.sum()) * check.minutes + sum(
        cost_of_replanning(problem, belief * law, depth=depth, used=used | {step.index})
        for law in check.outcomes.T
        if (belief * law).sum() > 0.0
    )
