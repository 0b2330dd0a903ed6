"""What would settle a case that these means cannot: the same checks with a better meter.

Every check of the catalogue is imagined with an ideal instrument (the model's own error is all
that is left); the ones that save most are named.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from chargewright.diagnosis.advise import Advice, advise, options
from chargewright.diagnosis.belief import Belief
from chargewright.diagnosis.case import Case
from chargewright.machine.points import Function
from chargewright.meters.card import FunctionCard, MeterCard, Range
from chargewright.meters.load import load_meter

IDEAL = Range(full_scale=1e8, lsd=1e-5, percent=0.01, counts=1)
WORTH_NAMING_MIN = 2.0  # minutes a check with an ideal meter must save
MOST = 3


def ideal_meter() -> MeterCard:
    """Return a meter with every function and next to no error."""
    full = load_meter("trms-6000")
    functions: dict[Function, FunctionCard] = {}
    for function in Function:
        if function is Function.LOOK:
            continue
        card = full.functions.get(function)
        base = card or FunctionCard(ranges=(IDEAL,))
        functions[function] = replace(
            base,
            ranges=(replace(IDEAL, full_scale=base.top if card else IDEAL.full_scale),),
            autorange=True,
            lead_ohm=0.0,
            lead_ohm_u=0.0,
            contact_ohm_u=0.0,
            zero_u_a=0.0,
        )
    return replace(full, id="ideal", title="ideal meter", functions=functions)


def what_would_decide(
    case: Case, belief: Belief, advice: Advice, rng: np.random.Generator
) -> tuple[str, ...]:
    """Return sentences naming what would settle the case."""
    meter = ideal_meter()
    choices = options(
        case.catalogue,
        situation=case.situation,
        effort=case.effort,
        meter=meter,
        belief=belief,
        lights_always_on=case.machine.lights_always_on,
    )
    better = advise(
        belief,
        choices,
        situation=case.situation,
        effort=case.effort,
        meter=meter,
        prices=case.prices,
        nulled=True,
        rng=rng,
        again=advice.again,
    )
    now = {candidate.name: candidate.cost_min for candidate in advice.plan.candidates}
    act = advice.plan.act_now_min
    titles = {option.check.id: option.check.title for option in choices}
    lines: list[str] = []
    for candidate in better.plan.candidates[:MOST]:
        saves = min(now.get(candidate.name, act), act) - candidate.cost_min
        if saves >= WORTH_NAMING_MIN:
            lines.append(
                f"{titles[candidate.name]} with a meter of small error would save about "
                f"{saves:.0f} min on average"
            )
    if not lines:
        lines.append("a sound part borrowed and fitted for a trial, or a specialist's bench")
    return tuple(lines)
