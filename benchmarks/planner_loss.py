"""How much a planner of one, two or three steps loses against the best plan there is.

Run from the root of the repository: ``python -m benchmarks.planner_loss [problems]``.
Random problems of 8 faults and 7 noisy two-outcome tests (``tests/diagnosis/planning_problems``),
fixed seed; every policy plans again after each outcome; exact dynamic programming is 1.000.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from chargewright.diagnosis.exact import exact
from tests.diagnosis.planning_problems import cost_of_replanning, workshop

SEED = 20240607


def main(problems: int) -> None:
    """Print mean, 95th percentile and worst ratio per policy."""
    rng = np.random.default_rng(SEED)
    rows: dict[str, list[float]] = {}
    seconds: dict[str, float] = {}
    for _ in range(problems):
        problem, prior = workshop(rng)
        plan = exact(problem, prior)
        rows.setdefault("no test, best guess", []).append(plan.act_now_min / plan.cost_min)
        for depth in (1, 2, 3):
            name = f"{depth}-step look-ahead"
            started = time.perf_counter()
            cost = cost_of_replanning(problem, prior, depth=depth)
            seconds[name] = seconds.get(name, 0.0) + time.perf_counter() - started
            rows.setdefault(name, []).append(cost / plan.cost_min)
    print(f"{problems} problems, seed {SEED}; cost over the optimum")
    print(f"{'policy':22} {'mean':>6} {'p95':>6} {'worst':>6} {'seconds':>8}")
    for name, found in rows.items():
        mean, p95, worst = np.mean(found), np.quantile(found, 0.95), max(found)
        print(f"{name:22} {mean:6.3f} {p95:6.3f} {worst:6.3f} {seconds.get(name, 0.0):8.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
