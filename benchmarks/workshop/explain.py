"""One job told step by step: what was read, what it would have read truly, what was believed.

python -m benchmarks.workshop explain 12 [--world world]
"""

from __future__ import annotations

import numpy as np

from benchmarks.workshop.bench import Bench, bench_for
from benchmarks.workshop.families import job
from benchmarks.workshop.instrument import indication
from benchmarks.workshop.policies import program
from benchmarks.workshop.policies.program import Said
from chargewright import Job
from chargewright.machine.parameters import INDEX, NAMES
from chargewright.machine.points import Function


def explain(world: str, seed: int, number: int) -> None:
    """Work a job by the program and print how belief went."""
    one = job(world, seed, number)
    bench = bench_for(one)
    hidden = one.hidden
    print(f"job {number} {one.family} {one.class_id} {one.meter_id} complaint {one.complaint}")
    print(f"  misled {one.misled}; {hidden.quirks}")
    for name, (sound, faulty) in changed(bench).items():
        print(f"  {name}: {sound:.4g} -> {faulty:.4g}")
    told = 0

    def choose(work: Job) -> Said:
        nonlocal told
        said = program.follow(work)
        for step in bench.steps[told:]:
            print("   ", step)
        told = len(bench.steps)
        belief = work.session.now
        top = ", ".join(f"{k} {v:.3f}" for k, v in list(belief.cause_shares().items())[:4])
        shares = belief.cause_shares()
        true = ", ".join(f"{c.id} {shares.get(c.id, 0.0):.4f}" for c in hidden.causes)
        tale = "" if said.step is None else f" next {said.step.check.id}{truth(bench, said)}"
        print(
            f"  n {belief.sample_size():.0f}: {top} | true {true} | {said.decision.value}"
            f" {'+'.join(sorted(said.repairs))} {said.note}{tale}"
        )
        return said

    verdict, undecided = program.work(bench, choose=choose)
    for step in bench.steps[told:]:
        print("   ", step)
    print(f"  said {verdict.repairs}, undecided {undecided}, {dict(bench.spent)}")


def changed(bench: Bench) -> dict[str, tuple[float, float]]:
    """Return the parameters that the faults change, sound and faulty."""
    hidden = bench.job.hidden
    sound, faulty = hidden.params(faulty=False)[0], hidden.params()[0]
    far = np.flatnonzero(np.abs(sound - faulty) > 1e-9 * (1.0 + np.abs(sound)))
    table = {NAMES[i]: (float(sound[i]), float(faulty[i])) for i in far}
    return table | {"soc": (float(sound[INDEX["soc"]]), hidden.soc)}


def truth(bench: Bench, said: Said) -> str:
    """Return what a meter without error would show for a step, faults in and left out."""
    assert said.step is not None
    question, hidden = said.step.question, bench.job.hidden
    if question.function is Function.LOOK:
        return ""
    both = [
        indication(hidden, hidden.params(faulty=faulty), question, bench.meter, nulled=True)
        for faulty in (True, False)
    ]
    return f" [true {both[0].centre[0]:.4g}, sound twin {both[1].centre[0]:.4g}]"
