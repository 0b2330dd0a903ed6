"""The stand: a policy reads, charges and mends here, and every minute is written down.

The same stand serves all policies, so the same reading costs everyone the same: covers once,
changes of mode, the check itself, hours on a charger at the price of the prices file.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from benchmarks.workshop.families import Job
from benchmarks.workshop.instrument import typed
from chargewright.checks.catalogue import Catalogue, Check
from chargewright.checks.cost import Situation, after, minutes, state_in
from chargewright.checks.load import Book, kind_of, load_book
from chargewright.checks.modes import Mode
from chargewright.diagnosis.advise import as_it_stands
from chargewright.diagnosis.decisions import Prices, load_prices
from chargewright.diagnosis.question import Question, question_of
from chargewright.machine.cause_file import catalogue as cause_catalogue
from chargewright.machine.causes import Repair
from chargewright.machine.points import Function
from chargewright.meters.card import MeterCard
from chargewright.meters.load import load_meter

CHARGE = "charge_battery"
FLAT_SOC = 0.75  # below it every policy charges the battery before it proves a repair
# What they cost here, whatever a policy reckons with.
COMEBACK_MIN = 200.0  # a fault left in
UNDECIDED_MIN = 240.0  # a machine handed on
PART_FROM = 5.0  # money units from which a repair fits a part; below it something is cleaned
UNPARTED = frozenset({CHARGE, "find_drain", "reduce_loads", "wake_battery"})


def repairs() -> dict[str, Repair]:
    """Return every repair by id."""
    return {cause.repair.id: cause.repair for cause in cause_catalogue().causes}


@dataclass(slots=True, kw_only=True)
class Bench:
    """One hidden machine under one policy. ``spent`` holds minutes by what they went into."""

    job: Job
    book: Book
    catalogue: Catalogue
    meter: MeterCard
    prices: Prices
    situation: Situation = field(default_factory=Situation)
    spent: Counter[str] = field(default_factory=Counter)
    steps: list[str] = field(default_factory=list)
    fitted: list[str] = field(default_factory=list)
    healthy_parts: int = 0
    proving: bool = False

    @property
    def charged(self) -> bool:
        """Whether the battery has been on the charger (or is new)."""
        return self.situation.mode.charged

    def question(self, check: Check) -> Question:
        """Return what a check asks as the machine stands."""
        lit = self.job.hidden.machine.lights_always_on
        return as_it_stands(question_of(check, state_in(check, self.situation)), lit)

    def possible(self, check: Check) -> bool:
        """Tell whether the meter can read a check and the reading can still be had."""
        if check.function is None:
            return False
        if check.function is not Function.LOOK and check.function not in self.meter.functions:
            return False
        return math.isfinite(minutes(check, self.situation, self.book.effort).total)

    def price(self, check: Check) -> float:
        """Return the minutes a check would cost from here, waiting included."""
        cost = minutes(check, self.situation, self.book.effort)
        return cost.total + cost.wait_h * self.prices.wait_min_per_hour

    def read(self, check: Check, question: Question | None = None) -> str:
        """Take a reading and return what is typed."""
        asked = question or self.question(check)
        cost = minutes(check, self.situation, self.book.effort)
        total = cost.total if math.isfinite(cost.total) else check.minutes
        self.spent["proof" if self.proving else "checks"] += total
        self.spent["waiting"] += cost.wait_h * self.prices.wait_min_per_hour
        self.situation = after(check, self.situation, self.book.effort)
        text = typed(self.job.hidden, asked, self.meter)
        self.steps.append(f"{'proof ' if self.proving else ''}{check.id}={text}")
        return text

    def charge(self) -> None:
        """Put the battery on the charger."""
        act = self.book.effort.charge
        cost = minutes(act, self.situation, self.book.effort)
        wait_h = 0.0 if self.charged else act.wait_h
        self.spent["charging"] += cost.total
        self.spent["waiting"] += wait_h * self.prices.wait_min_per_hour
        self.situation = after(act, self.situation, self.book.effort)
        self.steps.append("charged")
        self.job.hidden.mend(CHARGE)

    def repair(self, names: Iterable[str]) -> None:
        """Do repairs; those that were not needed are wasted minutes, and healthy parts."""
        for name in sorted(set(names) - {CHARGE}):
            repair = repairs()[name]
            self.fitted.append(name)
            self.steps.append(f"[{name}]")
            if self.job.hidden.mend(name):
                self.spent["needed"] += repair.minutes
            else:
                self.spent["wasted"] += self.prices.wasted_min(repair)
                self.healthy_parts += repair.parts_cost >= PART_FROM and name not in UNPARTED
            mode = replace(self.situation.mode, plug_in=True, battery_in=True)
            if name == "replace_battery":
                mode = Mode(warmth=mode.warmth, charged=True)
            self.situation = replace(self.situation, mode=mode)
        if CHARGE in names:
            self.charge()

    def ready_to_prove(self) -> None:
        """Charge a battery that is far from full, as every workshop does before it hands over."""
        self.proving = True
        if not self.charged and self.job.hidden.soc < FLAT_SOC:
            self.charge()

    def close(self, *, undecided: bool) -> None:
        """Hand the machine over and charge what follows from faults left in it."""
        left = self.job.hidden.repairs - ({CHARGE} if self.charged else set())
        if undecided:
            self.spent["undecided"] += UNDECIDED_MIN
        elif left:
            self.spent["comeback"] += COMEBACK_MIN


def bench_for(job: Job) -> Bench:
    """Return the stand of a job, nothing done yet."""
    machine = job.hidden.machine
    book = load_book(kind_of(job.class_id))
    return Bench(
        job=job,
        book=book,
        catalogue=book.catalogue(
            machine.layout, machine.speeds, lights_always_on=machine.lights_always_on
        ),
        meter=load_meter(job.meter_id),
        prices=load_prices(),
    )
