"""Work many jobs on hidden machines and print what came of them.

python -m benchmarks.workshop --jobs 60 --processes 2 --seed 1 [--class sport-600-1000]
"""

from __future__ import annotations

import argparse
import os
import tempfile
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import numpy as np

from benchmarks.workshop.technician import Outcome, work
from chargewright.machine.cause_file import catalogue
from chargewright.machine.conditioning import load_class
from chargewright.machine.prior import complaints

CLASSES = ("sport-600-1000", "twin-250-400", "scooter-50-125", "big-twin-tourer", "atv")


def draw_jobs(
    count: int, seed: int, only: str | None
) -> list[tuple[str, tuple[str, ...], str, int]]:
    """Return jobs (class, causes, complaint, seed), drawn by laws of their own."""
    rng = np.random.default_rng(seed)
    jobs = []
    kinds = complaints()
    for number in range(count):
        class_id = only or str(rng.choice(CLASSES))
        machine = load_class(class_id)
        causes = list(catalogue().possible(machine))
        # The world's prior: square roots of the model's shares, so rare faults come often.
        shares = np.sqrt([c.share for c in causes])
        cause = causes[int(rng.choice(len(causes), p=shares / shares.sum()))]
        fit = np.array([kinds[k].factor(cause) for k in kinds])
        complaint = str(rng.choice(list(kinds), p=fit / fit.sum()))
        jobs.append((class_id, (cause.id,), complaint, seed * 100_000 + number))
    return jobs


def _job(job: tuple[str, tuple[str, ...], str, int]) -> Outcome:
    class_id, causes, complaint, seed = job
    return work(class_id, causes, complaint=complaint, seed=seed)


def main() -> None:
    """Run the workshop and print a line per job and a summary."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--jobs", type=int, default=40)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--class", dest="only")
    options = parser.parse_args()
    jobs = draw_jobs(options.jobs, options.seed, options.only)
    with tempfile.TemporaryDirectory() as folder:
        os.environ["CHARGEWRIGHT_CACHE"] = folder
        os.environ["NUMBA_NUM_THREADS"] = "1"
        os.environ["OPENBLAS_NUM_THREADS"] = "1"
        with ProcessPoolExecutor(options.processes, mp_context=get_context("spawn")) as pool:
            outcomes = []
            for outcome in pool.map(_job, jobs):
                outcomes.append(outcome)
                print_line(outcome)
    summary(outcomes)


def print_line(o: Outcome) -> None:
    """Print one job."""
    mark = "right" if o.right_repair else "component" if o.right_component else "WRONG"
    print(
        f"{mark:9s} {o.class_id:15s} {'+'.join(o.causes):28s} -> {o.decision:20s} {o.ending:36s} "
        f"{o.minutes:4.0f} min  truth {o.share_of_truth:.2f}  {o.seconds:4.0f} s {o.top[:2]}",
        flush=True,
    )
    if not o.right_repair:
        print("          ", o.steps, flush=True)


def summary(outcomes: list[Outcome]) -> None:
    """Print shares over all jobs and by component."""
    n = len(outcomes)
    print(f"\njobs {n}")
    print(f"right component  {sum(o.right_component for o in outcomes) / n:.3f}")
    print(f"right repair     {sum(o.right_repair for o in outcomes) / n:.3f}")
    print(f"healthy parts    {sum(o.healthy_parts for o in outcomes) / n:.3f} per job")
    print(f"minutes          {np.mean([o.minutes for o in outcomes]):.1f} mean")
    print(f"seconds          {np.mean([o.seconds for o in outcomes]):.1f} mean")
    sure = [o for o in outcomes if o.top and o.top[0][1] >= 0.95]
    wrong = sum(o.top[0][0] not in o.causes for o in sure)
    print(f"stated 0.95 or more: {len(sure)}, of these wrong {wrong}")
    by = defaultdict(list)
    for o in outcomes:
        by[o.causes].append(o.right_repair)
    for causes, right in sorted(by.items()):
        print(f"  {'+'.join(causes):30s} {sum(right)}/{len(right)}")
