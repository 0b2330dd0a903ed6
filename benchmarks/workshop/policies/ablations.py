"""The program with one part of its design taken out, by what its front door accepts.

- no meter model: the card names a meter without error (face value), readings stay as they are;
- no access cost: the workshop's own checks file prices every cover and change of mode at nothing;
- one step: the planner looks one check ahead and does not play on (its function is wrapped:
  the front door has no switch for this);
- no pairs: the population holds single causes only.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.workshop.bench import Bench
from benchmarks.workshop.outcome import Verdict
from benchmarks.workshop.policies import program
from chargewright import Job, open_job
from chargewright.checks.load import load_book
from chargewright.diagnosis import advise as advising
from chargewright.diagnosis import assess as assessing
from chargewright.diagnosis.belief import Belief, believe
from chargewright.diagnosis.population import populate
from chargewright.jobs.case import Workshop
from chargewright.jobs.codec import card_from_dict
from chargewright.machine.model import Machine
from chargewright.machine.prior import prior
from chargewright.meters.card import MeterCard
from chargewright.meters.load import load_meter


def no_meter_model(bench: Bench) -> tuple[Verdict, bool]:
    """Work as if the meter had no error."""
    return program.work(bench, meter={"own_card": exact_card(bench.job.meter_id)})


def exact_card(meter_id: str) -> dict[str, Any]:
    """Return a meter card with the functions and ranges of another and no error."""
    meter: MeterCard = load_meter(meter_id)
    functions: dict[str, Any] = {}
    for function, card in meter.functions.items():
        one: dict[str, Any] = {
            "source": "ablation: no error",
            "autorange": card.autorange,
            "ranges": [
                {"full_scale": r.full_scale, "lsd": r.lsd, "percent": 0.0, "counts": 0}
                for r in card.ranges
            ],
        }
        if card.open_v is not None:
            one |= {"open_v": card.open_v, "short_a": card.short_a}
        if card.average_responding:
            one["average_responding"] = True
        functions[function.value] = one
    return {
        "id": f"exact-{meter_id}",
        "title": "no error",
        "source": "ablation",
        "functions": functions,
    }


def no_access_cost(bench: Bench) -> tuple[Verdict, bool]:
    """Work as if covers and changes of mode cost nothing; they are paid all the same."""
    shop = Workshop(checks_file=free_of_access(bench.book.kind))
    return program.work(bench, opener=lambda card: open_job(card, workshop=shop))


@cache
def free_of_access(kind: str) -> Path:
    """Return a workshop's checks file with every cover and change of mode at no minutes."""
    book = load_book(kind)
    lines = ["[switch]"]
    switches = ("start", "crank", "warm_up", "cool_down", "plug", "battery_lead")
    lines += [f"{name} = 0.0" for name in switches]
    for name in book.effort.access.ids:
        lines += ["[[access]]", f'id = "{name}"', "open_min = 0.0", "close_min = 0.0"]
    path = Path(tempfile.mkdtemp(prefix="workshop-")) / "checks.toml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def one_step(bench: Bench) -> tuple[Verdict, bool]:
    """Work with a planner that looks one check ahead and stops when none pays by itself."""
    with _one_step_planner():
        return program.work(bench)


@contextmanager
def _one_step_planner() -> Iterator[None]:
    advise, play_out = assessing.advise, advising.play_out
    assessing.advise = partial(advise, depth=1)  # type: ignore[assignment]
    advising.play_out = lambda *given, **named: None
    try:
        yield
    finally:
        assessing.advise, advising.play_out = advise, play_out


class Pairless(Job):
    """A job whose population holds single causes only; the shelf has no part in it."""

    def _keep(self) -> None:
        """Keep nothing: the shelf is for whole populations."""

    def _start(self, machine: Machine, complaint: str | None, seed: int) -> Belief:
        singles = tuple(h for h in prior(machine, complaint) if len(h.causes) < 2)
        return believe(populate(machine, singles, np.random.default_rng(seed)), ())


def no_pairs(bench: Bench) -> tuple[Verdict, bool]:
    """Work as if no machine had two faults."""
    return program.work(bench, opener=lambda card: Pairless(card_from_dict(card)))
