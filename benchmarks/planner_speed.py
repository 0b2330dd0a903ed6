"""How long a plan takes at the size of a real job.

Run from the root of the repository: ``python -m benchmarks.planner_speed``. 800 worlds, 20
decisions, 45 checks of 12 outcomes behind 5 covers in 4 modes, random with a fixed seed.
"""

from __future__ import annotations

import time

import numpy as np

from chargewright.diagnosis.planning import look_ahead
from chargewright.diagnosis.problem import Array, Check, Costs, Problem

WORLDS, CAUSES, CHECKS, BINS, COVERS, MODES = 800, 20, 45, 12, 5, 4


def job(rng: np.random.Generator) -> tuple[Problem, Array]:
    """Return a random problem of the size above and its weights."""
    cause = rng.integers(0, CAUSES, WORLDS)
    wrong = np.where(np.eye(CAUSES) > 0, 0.0, rng.uniform(40, 300, (CAUSES, 1)) + 100.0)
    centres = np.linspace(-6, 6, BINS)
    checks = []
    for i in range(CHECKS):
        moved = np.where(rng.random(CAUSES) < 0.35, rng.normal(0, 3, CAUSES), 0.0)
        truth = moved[cause] + rng.normal(0, 0.7, WORLDS)
        law = np.exp(-0.5 * ((truth[:, None] - centres) / 0.8) ** 2) + 1e-3
        checks.append(
            Check(
                name=f"check {i}",
                outcomes=law / law.sum(axis=1, keepdims=True),
                minutes=float(rng.uniform(1, 10)),
                access=frozenset({int(rng.integers(0, COVERS))}),
                mode=int(rng.integers(0, MODES)),
            )
        )
    problem = Problem(
        loss=wrong[:, cause],
        checks=tuple(checks),
        costs=Costs(
            access_minutes=(3.0, 10.0, 5.0, 45.0, 4.0),
            access_parent=(-1, -1, 1, -1, 0),
            switch_minutes=3.0 * (1.0 - np.eye(MODES)),
        ),
        decision_access=tuple(frozenset({int(rng.integers(0, COVERS))}) for _ in range(CAUSES)),
    )
    return problem, rng.dirichlet(np.full(WORLDS, 0.5))


def main() -> None:
    """Print best and median time per depth, then what more time buys."""
    problem, weights = job(np.random.default_rng(1))
    for depth, repeats in ((1, 20), (2, 20), (3, 1)):
        times = []
        for _ in range(repeats):
            started = time.perf_counter()
            plan = look_ahead(problem, weights, depth=depth)
            times.append(time.perf_counter() - started)
        print(
            f"depth {depth}: best {min(times) * 1e3:.0f} ms,"
            f" median {np.median(times) * 1e3:.0f} ms;"
            f" {plan.step.name}, cost {plan.cost_min:.1f} (ending now {plan.act_now_min:.1f})"
        )
    for seconds in (0.5, 2.0, 8.0):
        plan = look_ahead(problem, weights, seconds=seconds)
        print(f"{seconds:4.1f} s: depth {plan.depth}, {plan.step.name}, cost {plan.cost_min:.1f}")


if __name__ == "__main__":
    main()
