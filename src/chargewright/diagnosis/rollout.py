"""What a simple policy would cost from here: the guard against stopping too early.

Looking two checks ahead sees no way out where it takes four to tell the causes apart, and gives
up. So before giving up, a base policy is played out on sampled worlds: always the check with
the most information about *which decision is right* per minute, access and mode changes
included, stopped after the number of checks that proves cheapest on average. Its mean cost is
that of a policy in hand, so going on with it is never a guess (rollout over an information
heuristic: Ruan, Tu, Pattipati and Patterson-Hine, IEEE Trans. SMC-B 34, 2004).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from chargewright.diagnosis.problem import Array, Problem, Situation
from chargewright.diagnosis.stacked import Stacked, stack

PLAYS = 24  # sampled jobs
MOST_CHECKS = 10
ROUNDING = 1e-9  # relative: costs that differ no more are one and the same
LEAST_MINUTES = 0.5  # keeps gain per minute finite for checks that cost next to nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class BasePolicy:
    """The base policy from one situation: first check, how many to make, its expected cost."""

    first: int
    checks: int
    cost_min: float
    spent_min: float


@dataclass(slots=True)
class _Plays:
    """Jobs played side by side: belief (m, n), opened nodes, mode, used checks, minutes spent."""

    belief: Array
    opened: NDArray[np.bool_]
    mode: NDArray[np.intp]
    used: NDArray[np.bool_]
    spent: Array


def play_out(
    problem: Problem, weights: Array, situation: Situation, rng: np.random.Generator
) -> BasePolicy | None:
    """Return the base policy and its mean cost over sampled worlds; None without any check."""
    if not problem.checks:
        return None
    stacked = stack(problem)
    belief = weights[stacked.worlds] / weights.sum()
    state = stacked.state(situation)
    truths = rng.choice(len(belief), PLAYS, p=belief / belief.sum())
    plays = _Plays(
        belief=np.repeat(belief[None], PLAYS, axis=0),
        opened=np.repeat(state.opened[None], PLAYS, axis=0),
        mode=np.full(PLAYS, state.mode, dtype=np.intp),
        used=np.repeat(state.used[None], PLAYS, axis=0),
        spent=np.zeros(PLAYS),
    )
    losses = stacked.losses(belief[None])[0]
    ending = int(np.argmin(losses))
    costs = [float(losses[ending])]
    spent = [0.0]
    first = -1
    for _ in range(MOST_CHECKS):
        chosen = _choose(stacked, plays)
        if first < 0:
            first = int(chosen[0])
        _make(stacked, plays, chosen, truths, rng)
        left = least_left(stacked.losses(plays.belief), ending, costs[0])
        costs.append(float(plays.spent.mean()) + left)
        spent.append(float(plays.spent.mean()))
        if plays.used.all():
            break
    best = int(np.argmin(costs[1:])) + 1
    return BasePolicy(first=first, checks=best, cost_min=costs[best], spent_min=spent[best])


def least_left(losses: Array, ending: int, now_min: float) -> float:
    """Return the mean least loss [min] of ending at the beliefs played to; ``losses`` (m, d).

    Over all worlds a fixed ``ending`` costs ``now_min`` on average however much is known. How
    far the plays' worlds are off there tells how far they are off here (a control variate;
    P. Glasserman, *Monte Carlo Methods in Financial Engineering*, 2003, section 4.1).
    """
    fixed, least = losses[:, ending], losses.min(axis=1)
    off = fixed - fixed.mean()
    square = float(off @ off)
    tells = square > len(fixed) * (ROUNDING * now_min) ** 2
    share = float(off @ least) / square if tells else 0.0
    return max(float(least.mean()) - share * (float(fixed.mean()) - now_min), 0.0)


def _choose(stacked: Stacked, plays: _Plays) -> NDArray[np.intp]:
    """Return the check each job makes next (m,)."""
    gain = _gain_bits(stacked, plays.belief)
    opening = (stacked.need[None] & ~plays.opened[:, None, :]) @ stacked.node_minutes
    switch = np.asarray(stacked.problem.costs.switch_minutes, dtype=float)[plays.mode]
    switching = np.where(stacked.mode < 0, 0.0, switch[:, np.maximum(stacked.mode, 0)])
    minutes = np.maximum(stacked.minutes + opening + switching, LEAST_MINUTES)
    score = np.where(plays.used, -1.0, gain / minutes)
    best: NDArray[np.intp] = np.argmax(score, axis=1).astype(np.intp)
    return best


def _gain_bits(stacked: Stacked, belief: Array) -> Array:
    """Return the information (m, c) [bit] every check gives about the right decision."""
    right = np.argmin(stacked.rows[: stacked.decisions], axis=0)
    groups = np.unique(right)
    joint = np.zeros((len(groups), len(belief), stacked.table.shape[1]))
    place = {int(group): number for number, group in enumerate(groups)}
    for run, (a, b) in enumerate(pairwise(stacked.edges)):
        joint[place[int(right[run])]] += belief[:, a:b] @ stacked.table[a:b]
    outcome = np.add.reduceat(_plogp(joint.sum(axis=0)), stacked.starts, axis=1)
    both = np.add.reduceat(_plogp(joint).sum(axis=0), stacked.starts, axis=1)
    group_mass = np.add.reduceat(joint, stacked.starts, axis=2)[:, :, 0]
    of_group = _plogp(group_mass).sum(axis=0)
    gain: Array = np.maximum(both - outcome - of_group[:, None], 0.0)
    return gain


def _make(
    stacked: Stacked,
    plays: _Plays,
    chosen: NDArray[np.intp],
    truths: NDArray[np.intp],
    rng: np.random.Generator,
) -> None:
    """Make one check in every job: pay, draw its outcome in the true world, update belief."""
    for job, check in enumerate(chosen):
        missing = stacked.need[check] & ~plays.opened[job]
        minutes = float(stacked.minutes[check] + missing @ stacked.node_minutes)
        wanted = int(stacked.mode[check])
        if wanted >= 0:
            table = np.asarray(stacked.problem.costs.switch_minutes)
            minutes += float(table[plays.mode[job], wanted])
            plays.mode[job] = wanted
        plays.spent[job] += minutes
        plays.opened[job] |= stacked.need[check]
        plays.used[job, check] = True
        columns = slice(int(stacked.starts[check]), int(stacked.stops[check]))
        law = stacked.table[truths[job], columns]
        outcome = int(np.searchsorted(np.cumsum(law), rng.random() * law.sum()))
        outcome = min(outcome, len(law) - 1)
        belief = plays.belief[job] * stacked.table[:, stacked.starts[check] + outcome]
        plays.belief[job] = belief / belief.sum()


def _plogp(p: Array) -> Array:
    result: Array = p * np.log2(np.where(p > 0.0, p, 1.0))
    return result
