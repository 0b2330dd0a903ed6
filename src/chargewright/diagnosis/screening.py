"""Which checks deserve a deeper look: cheap scores that need one matrix product at most."""

from __future__ import annotations

import numpy as np

from chargewright.diagnosis.problem import Array, Problem, checked_weights
from chargewright.diagnosis.stacked import Stacked, State, stack

LEAST_MINUTES = 0.1  # assumed: keeps gain per minute finite for checks that cost nothing


def shortlist(
    stacked: Stacked, belief: Array, state: State, one_step: Array, width: int
) -> list[int]:
    """Return up to ``width`` unused checks, best first, drawn in turn from three rankings.

    The rankings are the one-step value, the information per minute about *which decision is
    right*, and that about *which world it is*. The second alone would miss a pair of checks
    that only together tell decisions apart; the third alone chases differences that change no
    repair.
    """
    free = np.flatnonzero(~state.used)
    if len(free) <= width:
        return [int(i) for i in free[np.argsort(one_step[free], kind="stable")]]
    minutes = np.maximum(stacked.first_minutes(state), LEAST_MINUTES)
    about_world, about_decision = gains_bits(stacked, belief)
    rankings = [
        free[np.argsort(score[free], kind="stable")]
        for score in (one_step, -about_decision / minutes, -about_world / minutes)
    ]
    chosen: dict[int, None] = {}
    for places in zip(*rankings, strict=True):
        for check in places:
            if len(chosen) < width:
                chosen.setdefault(int(check))
    return list(chosen)


def gains_bits(stacked: Stacked, belief: Array) -> tuple[Array, Array]:
    """Return the information each check gives about the world and about the decision, (c,) [bit].

    ``belief`` (n,) may be unnormalised. The decision is the one of least loss in each world.
    """
    if not len(stacked.starts):
        return np.zeros(0), np.zeros(0)
    share = belief / belief.sum()
    per_run = np.add.reduceat(share[:, None] * stacked.table, stacked.edges[:-1], axis=0)
    run_share = np.add.reduceat(share, stacked.edges[:-1])
    right = np.argmin(stacked.rows[: stacked.decisions], axis=0)
    member = (right == np.unique(right)[:, None]).astype(float)
    joint = member @ per_run
    outcome = _plogp(joint.sum(axis=0))
    entropy = -np.add.reduceat(outcome, stacked.starts)
    about_world = entropy - stacked.blur @ share
    group_entropy = -_plogp(member @ run_share).sum()
    joint_entropy = -np.add.reduceat(_plogp(joint).sum(axis=0), stacked.starts)
    about_decision = entropy + group_entropy - joint_entropy
    return np.maximum(about_world, 0.0), np.maximum(about_decision, 0.0)


def information_bits(problem: Problem, weights: Array) -> Array:
    """Return the expected drop in entropy over the worlds that each check brings, (c,) [bit].

    For deterministic outcomes this is the entropy of the outcome (de Kleer and Williams, 1987).
    """
    stacked = stack(problem)
    return gains_bits(stacked, checked_weights(problem, weights)[stacked.worlds])[0]


def _plogp(p: Array) -> Array:
    """p*log2(p) with 0 at p = 0."""
    result: Array = p * np.log2(np.where(p > 0.0, p, 1.0))
    return result
