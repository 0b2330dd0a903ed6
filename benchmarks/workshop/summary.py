"""Figures over many outcomes: shares, minutes, calibration, scores; plain numbers, no text."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks.workshop.outcome import Outcome

SURE = 0.95
BINS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """One bin of a reliability diagram: mean stated, share right, how many."""

    stated: float
    right: float
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What one policy came to. NaN where it says nothing of the kind."""

    jobs: int
    right_component: float
    right_repair: float
    mended: float
    healthy_parts: float
    undecided: float
    looks: float
    minutes: float
    finding_min: float
    nothing_on_sound: float
    sound: int
    both_found: float
    doubles: int
    sure: int
    sure_wrong: float
    calibration_error: float
    log_score: float
    seconds: float


def figures(outcomes: Sequence[Outcome]) -> Figures:
    """Return the figures of one policy's outcomes."""
    sound = [one for one in outcomes if one.components == ["none"]]
    doubles = [one for one in outcomes if len(one.causes) > 1]
    stated = [one for one in outcomes if math.isfinite(one.top_share)]
    sure = [one for one in stated if one.top_share >= SURE]
    return Figures(
        jobs=len(outcomes),
        right_component=_mean(outcomes, lambda o: o.right_component),
        right_repair=_mean(outcomes, lambda o: o.right_repair),
        mended=_mean(outcomes, lambda o: o.mended),
        healthy_parts=_mean(outcomes, lambda o: o.healthy_parts),
        undecided=_mean(outcomes, lambda o: o.undecided),
        looks=_mean(outcomes, lambda o: o.looks),
        minutes=_mean(outcomes, lambda o: o.minutes),
        finding_min=_mean(outcomes, lambda o: o.finding_min),
        nothing_on_sound=_mean(sound, lambda o: o.right_component),
        sound=len(sound),
        both_found=_mean(doubles, lambda o: o.mended),
        doubles=len(doubles),
        sure=len(sure),
        sure_wrong=_mean(sure, lambda o: not top_is_true(o)),
        calibration_error=calibration_error(reliability(stated)),
        log_score=_mean(stated, lambda o: -math.log(max(o.truth_share, 1e-6))),
        seconds=_mean(outcomes, lambda o: o.seconds),
    )


def top_is_true(one: Outcome) -> bool:
    """Tell whether the component held likeliest at the first decision is at fault."""
    return one.top in one.components


def reliability(outcomes: Iterable[Outcome]) -> list[Bin]:
    """Return ten equal bins of the leading component's probability; empty ones left out."""
    listed = list(outcomes)
    bins: list[Bin] = []
    for number in range(BINS):
        low, high = number / BINS, (number + 1) / BINS
        here = [
            one for one in listed if low < one.top_share <= high or (number == 0 == one.top_share)
        ]
        if here:
            bins.append(
                Bin(
                    stated=_mean(here, lambda o: o.top_share),
                    right=_mean(here, top_is_true),
                    count=len(here),
                )
            )
    return bins


def calibration_error(bins: Sequence[Bin]) -> float:
    """Return the expected calibration error over bins."""
    total = sum(one.count for one in bins)
    if not total:
        return math.nan
    return sum(one.count * abs(one.stated - one.right) for one in bins) / total


def by(outcomes: Iterable[Outcome], key: Callable[[Outcome], str]) -> dict[str, list[Outcome]]:
    """Return outcomes grouped by a word, in order of the word."""
    groups: dict[str, list[Outcome]] = {}
    for one in outcomes:
        groups.setdefault(key(one), []).append(one)
    return dict(sorted(groups.items()))


def interval(share: float, count: int) -> tuple[float, float]:
    """Return the 95 % Wilson interval of a share (Wilson, J. Am. Stat. Assoc. 22, 1927)."""
    if not count or not math.isfinite(share):
        return math.nan, math.nan
    z = 1.96
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    reach = z * math.sqrt(share * (1 - share) / count + z * z / (4 * count**2))
    reach /= 1 + z * z / count
    return middle - reach, middle + reach


def _mean(outcomes: Sequence[Outcome], value: Callable[[Outcome], float]) -> float:
    return float(np.mean([value(one) for one in outcomes])) if outcomes else math.nan
