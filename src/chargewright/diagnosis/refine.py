"""New machines where the old ones have run out.

Narrow readings leave few of a hypothesis' machines with any weight. Those hypotheses get
fresh ones by tempered sequential Monte Carlo: a new answer is taken wide at first and narrowed
step by step (``cloud.py``); at each step machines are resampled and then moved by proposals
that leave their law untouched: preconditioned Crank-Nicolson ones under the standard normal
prior of the latents, and the same under a normal law fitted to the readings (``guide.py``)
(S. Cotter, G. Roberts, A. Stuart and D. White, Statistical Science 28(3), 2013; P. Del Moral,
A. Doucet and A. Jasra, J. R. Statist. Soc. B 68(3), 2006). The product of the mean weights is
the hypothesis' evidence, so hypotheses stay comparable.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from chargewright.diagnosis.belief import HOPELESS, Belief, believe, likelihood, trust, weigh
from chargewright.diagnosis.cloud import Cloud, narrowest, systematic
from chargewright.diagnosis.population import Ints, Population, predicted, readings_in
from chargewright.diagnosis.question import Answer
from chargewright.machine.parameters import Array

WORTH_REFINING = 0.004  # share below which a hypothesis is left as it is
WORTH_A_LOOK = 0.03  # the same where a share is told generously: few machines judge too hard
GENEROUS = 2.0  # times as uncertain as it is, a fresh answer to a hypothesis of few machines
HARDLY = 1e-9  # share from which a hypothesis may still be told generously
BELIEVED = 0.5  # of a hypothesis' weight that takes an answer for no blunder
ENOUGH = 16.0  # effective machines a hypothesis should keep: evidence within 25 %
TOO_FEW = 8.0  # below this a hypothesis is refined before the next answer is taken in
WIDEST = 64.0  # a reading believed so little says next to nothing
MOST_STEPS = 12
MOST_ROUNDS = 3  # what is left of one hypothesis' share shows who else matters
MACHINES = 240  # of a refined hypothesis
IN_SIGHT = 0.03  # share below which a hypothesis is only kept in sight,
FEWER = 120  # by so many


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
    few = (sizes < least) | _taking_for_slips(belief)
    matters = shares > WORTH_REFINING
    soft = _soft_shares(belief)
    for h in np.flatnonzero(few & ~matters & (shares > HARDLY)):
        matters[h] = soft[h] > WORTH_A_LOOK or _generous_share(belief, int(h)) > WORTH_A_LOOK
    return np.flatnonzero(matters & few)


def _taking_for_slips(belief: Belief) -> NDArray[np.bool_]:
    """Return which hypotheses (h,) take a fresh answer for a slip and might yet explain it.

    All their machines then keep their weight, and seem enough; none of them lies near. Those
    count that would matter if one explained the answer as well as any machine of all.
    """
    population = belief.population
    total = population.log_base + belief.log_likelihood.sum(axis=0)
    count = len(population.hypotheses)
    found = np.zeros(count, dtype=bool)
    for logs, answer in zip(belief.log_likelihood, belief.answers, strict=True):
        rest = np.full(count, -np.inf)
        np.logaddexp.at(rest, population.member, total - logs)
        possible = rest + float(logs.max()) - belief.log_evidence > np.log(WORTH_A_LOOK)
        for h in np.flatnonzero(possible & ~found):
            if not population.follow(int(h), answer.id):
                rows = population.of(int(h))
                rows = rows[total[rows] > total[rows].max() - HOPELESS]
                weights = np.exp(total[rows] - total[rows].max())
                sound = trust(population.predictions, answer, rows, logs[rows])
                found[h] = weights @ sound < BELIEVED * weights.sum()
    return found


def _soft_shares(belief: Belief) -> Array:
    """Return hypothesis shares (h,) had every likelihood only half its weight in logarithms."""
    population = belief.population
    logs = population.log_base + 0.5 * belief.log_likelihood.sum(axis=0)
    weights = np.exp(logs - logs.max())
    shares = np.bincount(population.member, weights, minlength=len(population.hypotheses))
    return np.asarray(shares / shares.sum())


def _generous_share(belief: Belief, hypothesis: int) -> float:
    """Return a hypothesis' share were it judged more mildly by what its machines do not follow.

    A few machines seldom have one near a narrow reading, also where the hypothesis explains it
    well; taken ``GENEROUS`` times as wide, the reading tells whether one could be near.
    """
    population = belief.population
    rows = population.of(hypothesis)
    logs = population.log_base[rows]
    for number, answer in enumerate(belief.answers):
        if population.follow(hypothesis, answer.id):
            logs = logs + belief.log_likelihood[number, rows]
        else:
            logs = logs + likelihood(population.predictions, answer, rows, GENEROUS)
    return float(np.exp(min(np.logaddexp.reduce(logs) - belief.log_evidence, 0.0)))


def refine(belief: Belief, chosen: Ints, rng: np.random.Generator) -> Belief:
    """Return the belief with fresh machines for the chosen hypotheses."""
    old, answers = belief.population, belief.answers
    known = np.array([[old.follow(h, answer.id) for answer in answers] for h in chosen])
    counts = np.where(belief.hypothesis_shares()[chosen] < IN_SIGHT, FEWER, MACHINES)
    starts = [
        _start(belief, h, own, count, rng)
        for h, own, count in zip(chosen, known, counts, strict=True)
    ]
    rows = np.concatenate([picked for picked, _, _ in starts])
    cloud = Cloud(
        slot=np.repeat(np.arange(len(chosen)), counts),
        member=old.member[rows],
        z=old.z[rows],
        predictions=old.predictions.of(rows, [(a.question, a.meter) for a in answers]),
        answers=answers,
        known=known,
        width=np.array([width for _, width, _ in starts]),
    )
    log_z = np.array([log for _, _, log in starts])
    for turn in range(MOST_STEPS):
        cloud.move(old, rng)
        wide = np.flatnonzero(cloud.width > 1.0)
        if not wide.size:
            break
        for k in wide:
            log_z[k] += cloud.narrow(int(k), rng, last=turn == MOST_STEPS - 2)
        cloud.logs = cloud.weighed(cloud.predictions)
    ids = frozenset(part for answer in answers for part in readings_in(answer.id))
    fresh = _spliced(old, chosen, cloud, log_z - np.log(counts), ids)
    stay = ~np.isin(old.member, chosen)
    logs = np.concatenate([belief.log_likelihood[:, stay], cloud.logs], axis=1)
    return weigh(fresh, answers, logs)


def _start(
    belief: Belief, hypothesis: int, known: NDArray[np.bool_], count: int, rng: np.random.Generator
) -> tuple[Ints, float, float]:
    """Return (``count`` machines, how wide the fresh answers were taken, log-evidence so far).

    All of a hypothesis' machines take part, not a random few.
    """
    population = belief.population
    rows = population.of(hypothesis)
    base = population.log_base[rows] + known @ belief.log_likelihood[:, rows]
    rows, base = rows[base > base.max() - HOPELESS], base[base > base.max() - HOPELESS]
    fresh = [answer for answer, had in zip(belief.answers, known, strict=True) if not had]

    def gain(width: float) -> Array:
        told = (likelihood(population.predictions, answer, rows, width) for answer in fresh)
        return np.asarray(sum(told, np.zeros(len(rows))))

    width = narrowest(gain, base, WIDEST)
    total = base + gain(width)
    weights = np.exp(total - total.max())
    picked = rows[systematic(weights, count, rng)]
    return picked, width, float(total.max() + np.log(weights.sum()))


def _spliced(
    old: Population, chosen: Ints, cloud: Cloud, log_each: Array, ids: frozenset[str]
) -> Population:
    """Return the population with the chosen hypotheses' machines replaced by the cloud's.

    ``log_each`` (h,) is the share of evidence that falls to each machine of a hypothesis.
    """
    stay = ~np.isin(old.member, chosen)
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
            [old.log_base[stay], log_each[cloud.slot] - cloud.logs.sum(axis=0)]
        ),
        absorbed=tuple(absorbed),
        predictions=predictions,
    )
