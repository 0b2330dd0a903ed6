"""What confirmed jobs teach: the shares of causes before anything is measured.

Shares are Dirichlet at two levels. Over all classes they start at the shipped ones, worth
``pooled_strength`` jobs, and take in the jobs of every other class; the class itself starts at
what comes out, worth ``class_strength`` jobs, and takes in its own. No job counts twice. The
posterior mean of a Dirichlet with counts n is (strength * mean + n) / (strength + sum n)
(A. Gelman et al., *Bayesian Data Analysis*, 3rd ed., section 3.4).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from chargewright.jobs.card import Confirmation
from chargewright.jobs.lessons import Lesson
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Catalogue
from chargewright.machine.fields import read_toml
from chargewright.machine.model import Machine

Counts = Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Teaching:
    """Strengths of the two priors in jobs, and what one job counts by its confirmation."""

    pooled_strength: float
    class_strength: float
    weight: Mapping[Confirmation, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """The share of one cause in one class: shipped, after other classes, after its own jobs.

    ``own`` and ``others`` are the weights of the jobs behind it.
    """

    cause: str
    shipped: float
    pooled: float
    learned: float
    own: float
    others: float


@cache
def load_teaching(path: Path | None = None) -> Teaching:
    """Return the shipped figures, or those of a file; ``InputError`` names file and field."""
    top = read_toml(path or Path(__file__).with_name("data") / "teaching.toml")
    top.only(("pooled_strength", "class_strength", "weight"))
    weight = top.table("weight")
    weight.only([kind.value for kind in Confirmation])
    return Teaching(
        pooled_strength=top.number("pooled_strength", low=1e-3),
        class_strength=top.number("class_strength", low=1e-3),
        weight={kind: weight.number(kind.value, low=0.0, high=1.0) for kind in Confirmation},
    )


def dirichlet_mean(
    shares: Mapping[str, float], strength: float, counts: Counts
) -> dict[str, float]:
    """Return the posterior mean of shares that were worth ``strength`` jobs, after ``counts``.

    ``shares`` sum to 1; counts of what is not among them are passed over.

    >>> dirichlet_mean({"a": 0.5, "b": 0.5}, 2.0, {"a": 3.0})
    {'a': 0.8, 'b': 0.2}
    """
    total = strength + math.fsum(counts.get(name, 0.0) for name in shares)
    return {
        name: (strength * share + counts.get(name, 0.0)) / total for name, share in shares.items()
    }


def counted(lessons: Iterable[Lesson], teaching: Teaching) -> dict[str, float]:
    """Return the weight of every cause; a job with several causes is divided among them."""
    found: dict[str, list[float]] = {}
    for lesson in lessons:
        for cause in lesson.causes:
            part = teaching.weight[lesson.by] / len(lesson.causes)
            found.setdefault(cause, []).append(part)
    return {cause: math.fsum(parts) for cause, parts in found.items()}


def taught(
    machine: Machine, lessons: Iterable[Lesson], teaching: Teaching | None = None
) -> tuple[Taught, ...]:
    """Return the share of every cause that ``machine`` can have, before and after."""
    teaching = teaching or load_teaching()
    told = tuple(lessons)
    possible = catalogue().possible(machine)
    total = math.fsum(cause.share for cause in possible)
    shipped = {cause.id: cause.share / total for cause in possible}
    own = counted((one for one in told if one.class_id == machine.class_id), teaching)
    others = counted((one for one in told if one.class_id != machine.class_id), teaching)
    pooled = dirichlet_mean(shipped, teaching.pooled_strength, others)
    learned = dirichlet_mean(pooled, teaching.class_strength, own)
    return tuple(
        Taught(
            cause=name,
            shipped=shipped[name],
            pooled=pooled[name],
            learned=learned[name],
            own=own.get(name, 0.0),
            others=others.get(name, 0.0),
        )
        for name in shipped
    )


def learned_catalogue(
    machine: Machine, lessons: Iterable[Lesson], teaching: Teaching | None = None
) -> Catalogue:
    """Return the causes with the shares that the lessons leave for this class of machine.

    How often two faults come together is not learned: pairs keep their part of all jobs.
    """
    known = catalogue()
    total = math.fsum(cause.share for cause in known.possible(machine))
    shares = {one.cause: one.learned * total for one in taught(machine, lessons, teaching)}
    return replace(
        known,
        causes=tuple(
            replace(cause, share=shares.get(cause.id, cause.share)) for cause in known.causes
        ),
    )
