"""The workshop that measures the program: its machines, its prices and its rivals' data."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

import numpy as np
import pytest

from benchmarks.workshop.bench import Bench, bench_for, repairs
from benchmarks.workshop.face_value import checks_of, confirming
from benchmarks.workshop.families import FAMILIES, WORLD, Job, family_of, job
from benchmarks.workshop.matters import effects, facts
from benchmarks.workshop.outcome import Outcome, Verdict, needs_of, outcome
from benchmarks.workshop.policies import habit, oracle, ordered
from benchmarks.workshop.summary import Bin, calibration_error, interval
from chargewright.checks.load import load_book
from chargewright.machine.prior import complaints

SEED = 11
JOBS = range(12)


@pytest.mark.parametrize("number", JOBS)
def test_a_job_is_known_by_its_number(number: int) -> None:
    """Two policies meet the same machine, meter and technician."""
    first, second = job(WORLD, SEED, number), job(WORLD, SEED, number)
    assert np.array_equal(first.hidden.params(), second.hidden.params())
    assert first.hidden.quirks == second.hidden.quirks
    assert (first.complaint, first.meter_id) == (second.complaint, second.meter_id)


@pytest.mark.parametrize("number", JOBS)
def test_every_fault_can_be_noticed(number: int) -> None:
    """A hidden fault does at least one of the things the severity floor names."""
    hidden = job(WORLD, SEED, number).hidden
    sound, faulty = hidden.params(faulty=False), hidden.params()
    done = effects(
        facts(hidden.machine, faulty, sound), facts(hidden.machine, sound, sound), hidden.causes
    )
    assert any(flags[0] for flags in done.values()) == bool(hidden.causes)


def test_families_come_in_their_shares() -> None:
    names = [family_of(SEED, number) for number in range(200)]
    assert {name: names.count(name) for name in FAMILIES} == FAMILIES


@pytest.mark.parametrize("number", JOBS)
def test_the_oracle_mends_everything_and_fits_no_sound_part(number: int) -> None:
    done = _worked(number, oracle.work, "oracle")
    assert done.mended
    assert done.right_repair
    assert done.healthy_parts == 0
    needed = sum(repairs()[name].minutes for name in done.repairs if name != "charge_battery")
    assert math.isclose(done.spent.get("needed", 0.0), needed)


@pytest.mark.parametrize("number", JOBS)
def test_rivals_end_and_pay_for_what_they_leave(number: int) -> None:
    for policy in (habit.work, partial(ordered.work, score=ordered.cost_over_p)):
        done = _worked(number, policy, "rival")
        cost = done.spent.get("comeback", 0.0) + done.spent.get("undecided", 0.0)
        assert done.mended == (cost == 0.0)


def test_rivals_name_repairs_checks_and_complaints_that_exist() -> None:
    known = {check.id for check in load_book().checks}
    steps = habit.order()
    rows = [row for one in confirming().values() for row in one]
    rows += [row for step in steps for row in step.rows]
    for row in rows:
        for name in row.checks:
            assert any(one == name or one.startswith(f"{name}_") for one in known), name
    assert set(confirming()) == set(repairs())
    assert {step.repair for step in steps if step.repair} <= set(repairs())
    assert {word for step in steps for word in step.only} <= set(complaints())
    assert {step.good for step in steps if step.good} <= {step.id for step in steps}


def test_every_part_can_be_tested_by_the_simple_orders() -> None:
    bench = bench_for(_family("healthy"))
    shares = ordered.repair_shares(bench)
    for name in shares:
        if name not in ("nothing", "wake_battery", "repair_sense_lead"):
            assert any(checks_of(bench, row) for row in confirming()[name]), name


def test_calibration_error_of_four_forecasts() -> None:
    """B1 of the scoring literature's worked checks: 0.275 with ten bins (Guo et al. 2017)."""
    bins = [Bin(stated=s, right=r, count=1) for s, r in ((0.7, 1), (0.8, 1), (0.4, 0), (0.8, 1))]
    assert calibration_error(bins) == pytest.approx(0.275)


def test_interval_of_a_share() -> None:
    """Wilson 1927: 10 of 20 gives 0.299 to 0.701."""
    assert interval(0.5, 20) == pytest.approx((0.2993, 0.7007), abs=5e-4)


def _family(name: str) -> Job:
    return next(job(WORLD, SEED, n) for n in range(200) if family_of(SEED, n) == name)


def _worked(number: int, policy: Callable[[Bench], tuple[Verdict, bool]], name: str) -> Outcome:
    bench = bench_for(job(WORLD, SEED, number))
    truth = needs_of(bench.job)
    first, undecided = policy(bench)
    return outcome(bench, name, first, truth, undecided=undecided, seconds=0.0)
