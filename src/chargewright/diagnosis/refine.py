"""New machines where the old ones have run out.

Narrow readings leave few of a hypothesis' machines with any weight. Those hypotheses get
fresh ones by tempered sequential Monte Carlo: the new answers' likelihood is raised step by
step from 0 to 1; at each step machines are resampled and then moved by preconditioned
Crank-Nicolson proposals, which leave the standard normal prior of the latents untouched
(S. Cotter, G. Roberts, A. Stuart and D. White, Statistical Science 28(3), 2013; P. Del Moral,
A. Doucet and A. Jasra, J. R. Statist. Soc. B 68(3), 2006). The product of the mean weights is
the hypothesis' evidence, so hypotheses stay comparable.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from chargewright.diagnosis.belief import Belief, believe, likelihood, weigh
from chargewright.diagnosis.population import Ints, Population, predicted
from chargewright.diagnosis.question import Answer
from chargewright.machine.parameters import Array

WORTH_REFINING = 0.004  # share below which a hypothesis is left as it is
WORTH_A_LOOK = 0.03  # the same with every likelihood's square root: few machines judge too hard
ENOUGH = 16.0  # effective machines a hypothesis should keep: evidence within 25 %
TOO_FEW = 8.0  # below this a hypothesis is refined before the next answer is taken in
KEEP_SHARE = 0.5  # of the machines, effective, after each step of tempering
MOVES = 8  # proposals after each step
MOST_STEPS = 12
MOST_ROUNDS = 3  # what is left of one hypothesis' share shows who else matters
MACHINES = 200  # of a refined hypothesis
STRIDES = np.array([1.0, 0.6, 0.3])  # of a proposal, relative to the prior's width
MOVED = np.array([0.06, 0.15, 0.4])  # share of the latents a proposal moves


@dataclass(slots=True)
class _Cloud:
    """Machines under way: their hypothesis, latents and log-likelihoods per answer (m, n)."""

    member: Ints
    z: Array
    params: Array
    logs: Array


def learn(
    population: Population,
    answers: Sequence[Answer],
    rng: np.random.Generator,
    known: Belief | None = None,
) -> Belief:
    """Return the belief after all answers, refined wherever too few machines carry it.

    Answers are taken in one after another, so that no step asks too much of the machines.
    """
    learned = frozenset().union(*population.absorbed)
    start = 0
    while start < len(answers) and answers[start].id in learned:
        start += 1
    belief = believe(population, answers[:start], known)
    for count in range(max(start, 1), len(answers) + 1):
        belief = believe(belief.population, answers[:count], belief)
        least = ENOUGH if count == len(answers) else TOO_FEW
        for _ in range(MOST_ROUNDS):
            chosen = thin(belief, least)
            if not chosen.size:
                break
            belief = refine(belief, chosen, rng)
    return belief


def thin(belief: Belief, least: float = ENOUGH) -> Ints:
    """Return the hypotheses that matter and have fewer than ``least`` effective machines."""
    shares, sizes = belief.hypothesis_shares(), belief.sample_sizes()
    soft = _soft_shares(belief)
    matters = (shares > WORTH_REFINING) | ((soft > WORTH_A_LOOK) & (shares > 1e-9))
    return np.flatnonzero(matters & (sizes < least))


def _soft_shares(belief: Belief) -> Array:
    """Return hypothesis shares (h,) had every likelihood only half its weight in logarithms."""
    population = belief.population
    logs = population.log_base + 0.5 * belief.log_likelihood.sum(axis=0)
    weights = np.exp(logs - logs.max())
    shares = np.bincount(population.member, weights, minlength=len(population.hypotheses))
    return np.asarray(shares / shares.sum())


def refine(belief: Belief, chosen: Ints, rng: np.random.Generator) -> Belief:
    """Return the belief with fresh machines for the chosen hypotheses."""
    old = belief.population
    answers = belief.answers
    ids = [answer.id for answer in answers]
    rows = np.concatenate([rng.choice(old.of(h), MACHINES) for h in chosen])
    keep = np.concatenate([np.array([aid in old.absorbed[h] for aid in ids]) for h in chosen])
    known = keep.reshape(len(chosen), len(ids))
    cloud = _Cloud(
        member=old.member[rows],
        z=old.z[rows].copy(),
        params=old.params[rows].copy(),
        logs=belief.log_likelihood[:, rows].copy(),
    )
    start = [_log_mean_base(belief, h, known[k]) for k, h in enumerate(chosen)]
    log_z = np.array(start)
    beta = np.zeros(len(chosen))
    slot = np.searchsorted(chosen, cloud.member)
    # All of a hypothesis' machines take part in the first resampling, not a random few.
    for k, h in enumerate(chosen):
        step, gain, picks = _first_step(belief, h, known[k], rng)
        beta[k] = step
        log_z[k] += gain
        here = np.flatnonzero(slot == k)
        cloud.z[here] = old.z[picks]
        cloud.params[here] = old.params[picks]
        cloud.logs[:, here] = belief.log_likelihood[:, picks]
    for turn in range(MOST_STEPS):
        _move(cloud, old, answers, known[slot].T, beta[slot], rng)
        if np.all(beta >= 1.0):
            break
        for k in range(len(chosen)):
            if beta[k] < 1.0:
                here = np.flatnonzero(slot == k)
                last = turn == MOST_STEPS - 2
                fresh = (~known[k]) @ cloud.logs[:, here]
                step = 1.0 - beta[k] if last else _largest_step(fresh, 1.0 - beta[k])
                weights = np.exp(step * (fresh - fresh.max()))
                log_z[k] += step * fresh.max() + np.log(weights.mean())
                picks = here[_systematic(weights, len(here), rng)]
                cloud.z[here] = cloud.z[picks]
                cloud.params[here] = cloud.params[picks]
                cloud.logs[:, here] = cloud.logs[:, picks]
                beta[k] = min(1.0, beta[k] + step)
    fresh = _spliced(old, chosen, cloud, log_z, frozenset(ids))
    stay = ~np.isin(old.member, chosen)
    logs = np.concatenate([belief.log_likelihood[:, stay], cloud.logs], axis=1)
    return weigh(fresh, belief.answers, logs)


def _log_mean_base(belief: Belief, hypothesis: int, known: np.ndarray) -> float:
    """Return the log of the evidence of a hypothesis under the answers it has absorbed."""
    rows = belief.population.of(hypothesis)
    logs = belief.population.log_base[rows] + known @ belief.log_likelihood[:, rows]
    top = logs.max()
    return float(top + np.log(np.exp(logs - top).sum()))


def _first_step(
    belief: Belief, hypothesis: int, known: np.ndarray, rng: np.random.Generator
) -> tuple[float, float, Ints]:
    """Return (how far the first step goes, its log-evidence, the machines picked)."""
    rows = belief.population.of(hypothesis)
    base = belief.population.log_base[rows] + known @ belief.log_likelihood[:, rows]
    fresh = (~known) @ belief.log_likelihood[:, rows]
    base = np.exp(base - base.max())
    step = _largest_step(fresh, 1.0, base)
    weights = base * np.exp(step * (fresh - fresh.max()))
    gain = step * fresh.max() + np.log(weights.sum() / base.sum())
    return step, float(gain), rows[_systematic(weights, MACHINES, rng)]


def _largest_step(fresh: Array, most: float, base: Array | None = None) -> float:
    """Return the largest tempering step that keeps ``KEEP_SHARE`` of the machines effective."""
    start = np.ones_like(fresh) if base is None else base
    full = start.sum() ** 2 / (start**2).sum()

    def share(step: float) -> float:
        w = start * np.exp(step * (fresh - fresh.max()))
        return float(w.sum() ** 2 / max((w**2).sum(), 1e-300) / full)

    if share(most) >= KEEP_SHARE:
        return most
    low, high = 0.0, most
    for _ in range(25):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if share(middle) >= KEEP_SHARE else (low, middle)
    return max(low, 1e-4)


def _systematic(weights: Array, count: int, rng: np.random.Generator) -> Ints:
    """Return ``count`` indices drawn by systematic resampling."""
    edges = np.cumsum(weights) / weights.sum()
    ticks = (rng.random() + np.arange(count)) / count
    return np.minimum(np.searchsorted(edges, ticks), len(weights) - 1).astype(np.intp)


def _move(
    cloud: _Cloud,
    old: Population,
    answers: Sequence[Answer],
    known: np.ndarray,
    beta: Array,
    rng: np.random.Generator,
) -> None:
    """Move every machine ``MOVES`` times; ``known`` (m, n) marks absorbed answers."""
    power = np.where(known, 1.0, beta[None, :])
    for _ in range(MOVES):
        z = _proposed(cloud.z, rng)
        predictions = predicted(old.machine, old.hypotheses, old.before, cloud.member, z)
        params = predictions.params
        for same in _by_meter(answers):
            predictions.at(same[0]).prepare([a.question for a in same], same[0].meter)
        logs = np.stack([likelihood(predictions, answer) for answer in answers])
        gain = (power * (logs - cloud.logs)).sum(axis=0)
        accept = np.log(rng.random(len(beta))) < gain
        cloud.z[accept] = z[accept]
        cloud.params[accept] = params[accept]
        cloud.logs[:, accept] = logs[:, accept]


def _proposed(z: Array, rng: np.random.Generator) -> Array:
    """Return proposals (n, LATENTS): a few latents of each machine moved, the rest as they are.

    Moving all at once would keep the latents that no reading bears on frozen at their
    ancestors' values, because the few that matter get the whole proposal refused.
    """
    n = len(z)
    stride = rng.choice(STRIDES, size=n)[:, None]
    chosen = rng.random(z.shape) < rng.choice(MOVED, size=n)[:, None]
    moved = np.sqrt(1.0 - stride**2) * z + stride * rng.standard_normal(z.shape)
    return np.where(chosen, moved, z)


def _by_meter(answers: Sequence[Answer]) -> list[list[Answer]]:
    groups: dict[tuple[str, bool], list[Answer]] = {}
    for answer in answers:
        groups.setdefault((answer.meter.id, answer.before), []).append(answer)
    return list(groups.values())


def _spliced(
    old: Population, chosen: Ints, cloud: _Cloud, log_z: Array, ids: frozenset[str]
) -> Population:
    """Return the population with the chosen hypotheses' machines replaced by the cloud's."""
    stay = ~np.isin(old.member, chosen)
    slot = np.searchsorted(chosen, cloud.member)
    sources = np.concatenate([np.flatnonzero(stay), np.full(len(cloud.member), -1)])
    fresh = predicted(old.machine, old.hypotheses, old.before, cloud.member, cloud.z)
    predictions = old.predictions.moved(fresh, sources)
    absorbed = [ids if h in chosen else had for h, had in enumerate(old.absorbed)]
    return replace(
        old,
        member=np.concatenate([old.member[stay], cloud.member]),
        z=np.concatenate([old.z[stay], cloud.z]),
        params=predictions.params,
        log_base=np.concatenate(
            [old.log_base[stay], log_z[slot] - np.log(MACHINES) - cloud.logs.sum(axis=0)]
        ),
        absorbed=tuple(absorbed),
        predictions=predictions,
    )
