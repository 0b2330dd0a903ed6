"""A population under another prior: the same machines, other shares of their hypotheses.

Machines are drawn within their hypothesis, so a new share only scales the weights of its machines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from chargewright.diagnosis.belief import Belief, weigh
from chargewright.machine.prior import Hypothesis


def reweighed(belief: Belief, hypotheses: Sequence[Hypothesis]) -> Belief:
    """Return the belief as it would be had its hypotheses these shares.

    ``hypotheses`` are the population's own, in its order, with other shares above zero.
    """
    population = belief.population
    old = np.array([one.share for one in population.hypotheses])
    new = np.array([one.share for one in hypotheses])
    if np.array_equal(old, new):
        return belief
    shift = np.log(new / new.sum()) - np.log(old / old.sum())
    moved = replace(
        population,
        hypotheses=tuple(hypotheses),
        log_base=population.log_base + shift[population.member],
    )
    return weigh(moved, belief.answers, belief.log_likelihood)
