"""Repairs tried: fit the part, see whether it charges, and go on if not.

A repair of the catalogue becomes a check of the planner whose outcome "runs now" ends the job. It
costs the look at the result; in a world that did not need it also its parts and labour, as a repair
that was needed costs nothing (losses are regrets). Charging the battery is no such action: it
makes almost any machine run for a while, and the planner has it as something opened once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from chargewright.diagnosis import problem as plain
from chargewright.diagnosis.decisions import CHARGE, Ending, Prices, needed
from chargewright.diagnosis.population import Ints
from chargewright.machine.causes import Repair
from chargewright.machine.parameters import Array
from chargewright.machine.prior import Hypothesis

FIT = "fit:"  # begins the name of an action, before the repair's id
WORTH_TRYING = 0.02  # share of worlds that need a repair, below which it is not offered


@dataclass(frozen=True, slots=True, kw_only=True)
class Seeing:
    """Looking at the result of a repair (all assumed).

    ``minutes`` to put together, start and read the running volts; ``cured`` the chance that a
    mended machine is taken for mended, ``missed`` that one still faulty is.
    """

    minutes: float = 6.0
    cured: float = 0.97
    missed: float = 0.05


USUAL = Seeing()


def repair_actions(
    ways: Sequence[Ending],
    hypotheses: Sequence[Hypothesis],
    member: Ints,
    weights: Array,
    *,
    prices: Prices,
    seeing: Seeing = USUAL,
) -> tuple[plain.Check, ...]:
    """Return one action per single repair that enough worlds need.

    ``member`` (n,) is each world's hypothesis, ``weights`` (n,) its share. Outcome 0 is "runs
    now" and ends the job; what a missed fault costs then is in the action's own cost. In a world
    with two faults the first repair does not cure; that it is done already the losses do not
    know, so a plan's cost there can only be too high.
    """
    wants = [needed(hypothesis) for hypothesis in hypotheses]
    total = float(weights.sum())
    found: list[plain.Check] = []
    for way in ways:
        if len(way.repairs) != 1 or way.id == CHARGE:
            continue
        repair = way.repairs[0]
        in_need = np.array([repair.id in want for want in wants])[member]
        if float(weights[in_need].sum()) < WORTH_TRYING * total:
            continue
        faulty = np.array([bool(set(want) - {repair.id}) for want in wants])[member]
        found.append(_action(repair, in_need, faulty, prices, seeing))
    return tuple(found)


def _action(
    repair: Repair, in_need: plain.Mask, faulty: plain.Mask, prices: Prices, seeing: Seeing
) -> plain.Check:
    """Return the action of one repair; ``faulty`` (n,) marks worlds it leaves a fault in."""
    runs = np.where(faulty, seeing.missed, seeing.cured)
    wasted = np.where(in_need, 0.0, prices.in_vain_min(repair))
    comeback = np.where(faulty, seeing.missed * prices.comeback_min, 0.0)
    return plain.Check(
        name=FIT + repair.id,
        outcomes=np.stack([runs, 1.0 - runs], axis=1),
        minutes=seeing.minutes,
        ends=(True, False),
        extra_minutes=wasted + comeback,
        labels=("runs now", "no better"),
    )
