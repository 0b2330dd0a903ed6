"""Machines of some hypotheses on their way to the readings: how wide, how likely, how they move.

A reading that is to be taken in is believed little at first: meter and model count as many times
as uncertain, and the width shrinks step by step. Raising the likelihood to a power instead would
leave its flat foot, the share of blunders, flat: a machine far off would not feel which way to go.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from chargewright.diagnosis.belief import likelihood
from chargewright.diagnosis.guide import Guide, guide, missed
from chargewright.diagnosis.population import Ints, Population, predicted
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.question import Answer
from chargewright.machine.parameters import Array

KEEP_SHARE = 0.4  # of the machines, effective, after each step of tempering
COARSE = 2.0  # first steps of the search for a width
BISECTIONS = 3
LEAST_GAIN = 0.9  # of a width, where even that keeps too few
MOVES = 4  # proposals after each step, every other one led by the readings
SEEN = 3  # rounds of machines the laws are fitted to
STRIDES = np.array([1.0, 0.6, 0.3])  # of a proposal, relative to the prior's width
MOVED = np.array([0.06, 0.15, 0.4])  # share of the latents a proposal moves


@dataclass(slots=True, kw_only=True)
class Cloud:
    """n machines of h hypotheses; ``slot`` (n,) says of which, ``z`` (n, LATENTS) their latents.

    ``known`` (h, m) marks the answers a hypothesis' machines follow already; ``width`` (h,) is how
    wide the others are taken now; ``logs`` (m, n) are log-likelihoods so taken.
    """

    slot: Ints
    member: Ints
    z: Array
    predictions: Predictions
    answers: tuple[Answer, ...]
    known: NDArray[np.bool_]
    width: Array
    logs: Array = field(init=False)
    seen: list[tuple[Array, Array]] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        self.logs = self.weighed(self.predictions)
        self._look_at(self.z, self.predictions)

    def weighed(self, predictions: Predictions) -> Array:
        """Return log-likelihoods (m, n) of machines, the answers taken as wide as they are now."""
        told = [
            likelihood(predictions, answer, None, self._widths(number))
            for number, answer in enumerate(self.answers)
        ]
        return np.stack(told)

    def _widths(self, answer: int) -> Array:
        return np.where(self.known[self.slot, answer], 1.0, self.width[self.slot])

    def narrow(self, k: int, rng: np.random.Generator, *, last: bool) -> float:
        """Take hypothesis ``k``'s fresh answers less wide and resample its machines.

        With ``last`` as they are meant. Returns the logarithm of the mean weight, its evidence's
        gain; ``logs`` have to be worked out anew.
        """
        here = np.flatnonzero(self.slot == k)
        fresh = np.flatnonzero(~self.known[k])
        before = self.logs[np.ix_(fresh, here)].sum(axis=0)

        def gain(width: float) -> Array:
            told = (likelihood(self.predictions, self.answers[a], here, width) for a in fresh)
            return np.asarray(sum(told, -before))

        widest = float(self.width[k])
        width = 1.0 if last else narrowest(gain, np.zeros(len(here)), widest)
        gains = gain(width)
        weights = np.exp(gains - gains.max())
        picks = here[systematic(weights, len(here), rng)]
        self.width[k] = width
        self.z[here] = self.z[picks]
        self.predictions.put(here, self.predictions, picks)
        return float(gains.max() + np.log(weights.mean()))

    def move(self, old: Population, rng: np.random.Generator) -> None:
        """Move every machine ``MOVES`` times: by turns anywhere, and led by the readings.

        Both moves leave the machines' law under the answers, as wide as they are taken, untouched.
        """
        laws = self._laws()
        for turn in range(MOVES):
            led = turn % 2 > 0
            z, favour = self._led(laws, rng) if led else (anywhere(self.z, rng), 0.0)
            predictions = predicted(old.machine, old.hypotheses, old.before, self.member, z)
            for same in by_meter(self.answers):
                predictions.at(same[0]).prepare([a.question for a in same], same[0].meter)
            logs = self.weighed(predictions)
            if led:
                self._look_at(z, predictions)
            gain = (logs - self.logs).sum(axis=0) + favour
            taken = np.flatnonzero(np.log(rng.random(len(gain))) < gain)
            self.z[taken] = z[taken]
            self.predictions.put(taken, predictions, taken)
            self.logs[:, taken] = logs[:, taken]

    def _led(self, laws: Sequence[Guide], rng: np.random.Generator) -> tuple[Array, Array]:
        """Return proposals (n, LATENTS) of the laws, and what acceptance owes them (n,)."""
        z, favour = np.empty_like(self.z), np.empty(len(self.z))
        for k, law in enumerate(laws):
            here = np.flatnonzero(self.slot == k)
            z[here] = law.proposed(self.z[here], rng)
            favour[here] = law.log_density(self.z[here]) - law.log_density(z[here])
        return z, favour

    def _laws(self) -> list[Guide]:
        """Return where the readings lead each hypothesis' machines."""
        power = np.where(self.known, 1.0, 1.0 / self.width[:, None] ** 2)
        found = []
        for k, own in enumerate(power):
            here = np.flatnonzero(self.slot == k)
            z = np.concatenate([z[here] for z, _ in self.seen])
            misses = np.concatenate([missed[:, here] for _, missed in self.seen], axis=1)
            found.append(guide(z, misses, own))
        return found

    def _look_at(self, z: Array, predictions: Predictions) -> None:
        """Keep by how much machines ``z`` miss the readings, for the laws to come."""
        self.seen.append((z.copy(), np.stack([missed(predictions, a) for a in self.answers])))
        del self.seen[:-SEEN]


def anywhere(z: Array, rng: np.random.Generator) -> Array:
    """Return proposals (n, LATENTS): a few latents of each machine moved, the rest as they are.

    Moving all at once would keep the latents that no reading bears on frozen at their
    ancestors' values, because the few that matter get the whole proposal refused.
    """
    n = len(z)
    stride = rng.choice(STRIDES, size=n)[:, None]
    chosen = rng.random(z.shape) < rng.choice(MOVED, size=n)[:, None]
    moved = np.sqrt(1.0 - stride**2) * z + stride * rng.standard_normal(z.shape)
    return np.where(chosen, moved, z)


def by_meter(answers: Sequence[Answer]) -> list[list[Answer]]:
    """Return the answers, those of one meter and one state of repair together."""
    groups: dict[tuple[str, bool], list[Answer]] = {}
    for answer in answers:
        groups.setdefault((answer.meter.id, answer.before), []).append(answer)
    return list(groups.values())


def systematic(weights: Array, count: int, rng: np.random.Generator) -> Ints:
    """Return ``count`` indices drawn by systematic resampling of ``weights`` (n,)."""
    edges = np.cumsum(weights) / weights.sum()
    ticks = (rng.random() + np.arange(count)) / count
    return np.minimum(np.searchsorted(edges, ticks), len(weights) - 1).astype(np.intp)


def narrowest(gain: Callable[[float], Array], base: Array, widest: float) -> float:
    """Return the narrowest width, below ``widest``, that keeps ``KEEP_SHARE`` of the machines.

    ``gain`` gives the change of log-weights (n,) at a width, ``base`` (n,) the weights before.
    """
    full = _effective(base)

    def keeps(width: float) -> bool:
        return _effective(base + gain(width)) >= KEEP_SHARE * full

    # From wide to narrow: far too narrow, a reading that none is near is a blunder to all alike,
    # and would seem to keep every machine.
    high = widest
    while high > 1.0 and keeps(low := max(high / COARSE, 1.0)):
        high = low
    if high <= 1.0:
        return 1.0
    for _ in range(BISECTIONS):
        middle = (low * high) ** 0.5
        low, high = (low, middle) if keeps(middle) else (middle, high)
    return max(min(high, LEAST_GAIN * widest), 1.0)


def _effective(logs: Array) -> float:
    weights = np.exp(logs - logs.max())
    return float(weights.sum() ** 2 / (weights**2).sum())
