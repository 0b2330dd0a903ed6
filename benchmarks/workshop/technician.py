"""A technician who does what the front door says, on a hidden machine, until it decides."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np

from benchmarks.workshop.world import Hidden, hidden_machine, reading
from chargewright import open_job
from chargewright.diagnosis.findings import Assessment, Decision
from chargewright.meters.load import load_meter

MOST_STEPS = 25


@dataclass(slots=True)
class Outcome:
    """How one job went."""

    class_id: str
    causes: tuple[str, ...]
    decision: str
    ending: str
    right_component: bool
    right_repair: bool
    healthy_parts: int
    minutes: float
    steps: list[str] = field(default_factory=list)
    top: list[tuple[str, float]] = field(default_factory=list)
    share_of_truth: float = 0.0
    seconds: float = 0.0


def work(
    class_id: str,
    causes: tuple[str, ...],
    *,
    complaint: str | None,
    meter_id: str = "trms-6000",
    seed: int,
) -> Outcome:
    """Work one job through the front door and return how it went."""
    rng = np.random.default_rng(seed)
    meter = load_meter(meter_id)
    hidden = hidden_machine(class_id, causes, meter, rng)
    card = {
        "card_version": 1,
        "id": f"sim-{seed}",
        "created": "2026-01-01T00:00:00Z",
        "invented": True,
        "machine": {"class": class_id},
        "meter": {"card": meter_id},
        "complaint": {"kind": complaint} if complaint else {},
    }
    started = time.perf_counter()
    job = open_job(card)
    minutes = 0.0
    steps: list[str] = []
    for _ in range(MOST_STEPS):
        step = job.next_step()
        if step is None:
            break
        text = reading(hidden, step.question, meter)
        steps.append(f"{step.check.id}={text}")
        minutes += step.minutes
        job.record(step, text)
    found = job.assess()
    return _outcome(hidden, found, class_id, causes, minutes, steps, time.perf_counter() - started)


def _outcome(
    hidden: Hidden,
    found: Assessment,
    class_id: str,
    causes: tuple[str, ...],
    minutes: float,
    steps: list[str],
    seconds: float,
) -> Outcome:
    fitted = set() if found.decision is Decision.UNDECIDED else set(found.ending.split("+"))
    fitted -= {"nothing", "undecided"}
    needed = hidden.repairs
    components = {c.component for c in found.causes if c.repair in fitted} or {"none"}
    top = found.components[0].id if found.components else "none"
    shares = {c.id: c.share for c in found.causes}
    return Outcome(
        class_id=class_id,
        causes=causes,
        decision=found.decision.value,
        ending=found.ending,
        right_component=top in hidden.components or bool(components & hidden.components),
        right_repair=fitted == needed,
        healthy_parts=len(fitted - needed - {"charge_battery", "find_drain", "reduce_loads"}),
        minutes=minutes,
        steps=steps,
        top=[(c.id, round(c.share, 3)) for c in found.causes[:4]],
        share_of_truth=sum(shares.get(name, 0.0) for name in causes) / max(len(causes), 1),
        seconds=seconds,
    )
