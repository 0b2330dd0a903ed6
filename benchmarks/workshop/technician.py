"""One job with a cause of one's choosing, worked by the program: for tests, or a closer look."""

from __future__ import annotations

import time

import numpy as np

from benchmarks.workshop.bench import bench_for
from benchmarks.workshop.families import BATCH, WORLD, Job
from benchmarks.workshop.matters import weigh
from benchmarks.workshop.outcome import Outcome, needs_of, outcome
from benchmarks.workshop.policies import program
from benchmarks.workshop.world import Hidden, draws, ordinary_quirks
from chargewright.errors import InputError
from chargewright.machine.cause_file import catalogue
from chargewright.machine.conditioning import load_class

BATCHES = 10


def chosen_job(
    class_id: str, causes: tuple[str, ...], *, complaint: str, meter_id: str, seed: int
) -> Job:
    """Return a job of the other world with the named causes, above the severity floor.

    Raises ``InputError`` when no draw is a real fault.
    """
    rng = np.random.default_rng(seed)
    machine = load_class(class_id)
    present = tuple(catalogue().get(name) for name in causes if name != "no_fault")
    for _ in range(BATCHES):
        drawn = draws(BATCH, rng)
        found = weigh(machine, drawn, present)
        real = found.sound & found.real
        if real.any():
            hidden = Hidden(
                machine=machine,
                causes=present,
                drawn=drawn.one(int(np.argmax(real))),
                quirks=ordinary_quirks(rng),
                rng=np.random.default_rng([seed, 7]),
            )
            return Job(
                world=WORLD,
                seed=seed,
                number=0,
                family="chosen",
                class_id=class_id,
                complaint=complaint,
                misled=False,
                meter_id=meter_id,
                hidden=hidden,
            )
    raise InputError(f"{'+'.join(causes)} on {class_id}: no draw that anybody would notice")


def work(
    class_id: str,
    causes: tuple[str, ...],
    *,
    complaint: str,
    meter_id: str = "trms-6000",
    seed: int,
) -> Outcome:
    """Work one job through the front door and return how it went."""
    started = time.perf_counter()
    bench = bench_for(
        chosen_job(class_id, causes, complaint=complaint, meter_id=meter_id, seed=seed)
    )
    truth = needs_of(bench.job)
    first, undecided = program.work(bench)
    spent = time.perf_counter() - started
    return outcome(bench, "ours", first, truth, undecided=undecided, seconds=spent)
