"""Work many jobs on hidden machines under many policies, and keep what came of them.

python -m benchmarks.workshop run --jobs 0:200 --policies ours,usual,oracle --processes 2
python -m benchmarks.workshop page
python -m benchmarks.workshop explain 12

Outcomes are appended to a JSON-lines file; what is there already is not worked again, so a run
can be stopped and continued, and parts can be summarised.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from benchmarks.workshop import page
from benchmarks.workshop.bench import Bench, bench_for
from benchmarks.workshop.explain import explain
from benchmarks.workshop.families import MODEL, WORLD, job
from benchmarks.workshop.outcome import (
    Outcome,
    Verdict,
    append,
    code,
    load,
    needs_of,
    outcome,
)
from benchmarks.workshop.policies import ablations, gain, habit, oracle, ordered, program

KEPT = Path(__file__).parent / "outcomes.jsonl"
SEED = 1
POLICIES: dict[str, Callable[[Bench], tuple[Verdict, bool]]] = {
    "ours": program.work,
    "usual": habit.work,
    "most_likely": partial(ordered.work, score=ordered.most_likely),
    "cost_over_p": partial(ordered.work, score=ordered.cost_over_p),
    "gain": partial(program.work, choose=gain.choose),
    "oracle": oracle.work,
    "no_meter_model": ablations.no_meter_model,
    "no_access_cost": ablations.no_access_cost,
    "one_step": ablations.one_step,
    "no_pairs": ablations.no_pairs,
}


def work(world: str, seed: int, number: int, policy: str) -> Outcome:
    """Work one job under one policy."""
    os.environ.setdefault("NUMBA_NUM_THREADS", "1")
    started = time.perf_counter()
    one = job(world, seed, number)
    bench, truth = bench_for(one), needs_of(one)
    first, undecided = POLICIES[policy](bench)
    spent = time.perf_counter() - started
    return outcome(bench, policy, first, truth, undecided=undecided, seconds=spent)


def run(options: argparse.Namespace) -> None:
    """Work what is asked for and not kept yet."""
    low, high = (int(part) for part in options.jobs.split(":"))
    policies = options.policies.split(",")
    known = {one.key for one in load(options.out)}
    todo = [
        (options.world, options.seed, number, policy, code())
        for number in range(low, high)
        for policy in policies
    ]
    todo = [key for key in todo if key not in known]
    os.environ["NUMBA_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"
    started, done = time.perf_counter(), 0
    context = get_context("spawn")
    with ProcessPoolExecutor(options.processes, mp_context=context) as pool:
        waiting = {pool.submit(work, *key[:4]): key for key in todo}
        for future in as_completed(waiting):
            done += 1
            try:
                one = future.result()
            except Exception as error:  # a crash of the program is an outcome worth counting
                print(f"CRASH {waiting[future]}: {error!r}", flush=True)
                continue
            append(options.out, one)
            _progress(one, done, len(todo), time.perf_counter() - started)


def _progress(one: Outcome, done: int, total: int, spent_s: float) -> None:
    left_min = spent_s / done * (total - done) / 60.0
    mark = "right" if one.right_repair else "part" if one.right_component else "WRONG"
    print(
        f"{done}/{total} {left_min:4.0f} min left  {mark:5s} {one.policy:14s} {one.number:5d} "
        f"{one.family:18s} {'+'.join(one.causes):40s} -> {'+'.join(one.first) or '-'} "
        f"{'undecided ' if one.undecided else ''}{one.minutes:.0f} min {one.seconds:.0f} s",
        flush=True,
    )


def make_page(options: argparse.Namespace) -> None:
    """Write the page from outcomes kept."""
    kept = [one for path in options.outcomes for one in load(path)]
    if not kept:
        raise SystemExit(f"{options.outcomes[0]}: no outcomes yet; run some jobs first")
    wanted = options.code or kept[-1].code
    chosen = [one for one in kept if one.code == wanted]
    page.write(chosen)
    print(f"{page.PAGE}: {len(chosen)} outcomes of code {wanted}")


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    commands = parser.add_subparsers(required=True)
    runs = commands.add_parser("run", help="work jobs")
    runs.add_argument("--jobs", default="0:2000", help="first:last, the last not included")
    runs.add_argument("--policies", default=",".join(POLICIES))
    runs.add_argument("--world", choices=(WORLD, MODEL), default=WORLD)
    runs.add_argument("--seed", type=int, default=SEED)
    runs.add_argument("--processes", type=int, default=2)
    runs.add_argument("--out", type=Path, default=KEPT)
    runs.set_defaults(act=run)
    pages = commands.add_parser("page", help="write docs/validation/workshop.md")
    pages.add_argument("--outcomes", type=Path, nargs="+", default=[KEPT])
    pages.add_argument("--code", help="outcomes of this code only; the last one's by default")
    pages.set_defaults(act=make_page)
    tells = commands.add_parser("explain", help="tell one job step by step")
    tells.add_argument("number", type=int)
    tells.add_argument("--world", choices=(WORLD, MODEL), default=WORLD)
    tells.add_argument("--seed", type=int, default=SEED)
    tells.set_defaults(act=lambda o: explain(o.world, o.seed, o.number))
    options = parser.parse_args()
    options.act(options)
