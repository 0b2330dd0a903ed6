"""Why this check and not the habit's: both weighed by the planner's own numbers."""

from __future__ import annotations

from dataclasses import dataclass

from chargewright.checks.catalogue import Check
from chargewright.diagnosis.advise import Advice
from chargewright.diagnosis.case import Case
from chargewright.errors import InputError, nearest

# The workshop's usual order (common practice, no source): the battery first, then what charges.
USUAL_ORDER = (
    *("rest_v", "rest_charged_v", "load_v", "idle_v", "high_v", "high_lights_v"),
    *("diode_up_a", "diode_up_b", "diode_up_c", "diode_down_a", "diode_down_b", "diode_down_c"),
    *("pair_ohm_ab", "pair_ohm_bc", "pair_ohm_ca"),
    *("ac_open_high_v_ab", "ac_open_high_v_bc", "ac_open_high_v_ca"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One check as the next step, in minutes.

    ``first_min`` what it costs from here; ``total_min`` the expected cost of the whole job with
    it first, looking ``depth`` checks ahead; ``alone_min`` what its result by itself saves
    against ending now, its cost not taken off.
    """

    check: Check
    first_min: float
    total_min: float
    alone_min: float
    depth: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """The planned check beside another; ``end_min`` is the cost of ending now."""

    planned: Weighed
    other: Weighed
    end_min: float


def usual_next(case: Case, advice: Advice) -> Check | None:
    """Return the check that the usual order would do next, or None when it is through."""
    possible = {option.check.id: option.check for option in advice.options}
    done = {(a.question.function, a.question.plus, a.question.minus, a.title) for a in case.answers}
    for name in USUAL_ORDER:
        check = possible.get(name)
        if check is None:
            continue
        if (check.function, check.plus, check.minus, check.title) not in done:
            return check
    return None


def weighed(advice: Advice, index: int) -> Weighed:
    """Return what the planner knows of option number ``index``."""
    candidate = next(one for one in advice.plan.candidates if one.index == index)
    problem = advice.problem
    loss = problem.loss * advice.world_weights
    now = float(loss.sum(axis=1).min())
    after = loss @ problem.checks[index].outcomes  # (decisions, outcomes)
    return Weighed(
        check=advice.options[index].check,
        first_min=candidate.first_min,
        total_min=candidate.cost_min,
        alone_min=max(0.0, now - float(after.min(axis=0).sum())),
        depth=candidate.depth,
    )


def why_not(advice: Advice, other: str) -> Comparison | None:
    """Return the planned check beside another by its id; None when the plan is to end now.

    Raises ``InputError`` for a check that is not possible from here.
    """
    plan = advice.plan
    if plan.step.kind != "check":
        return None
    names = [option.check.id for option in advice.options]
    if other not in names:
        raise InputError(f"check {other!r} cannot be done from here; {nearest(other, names)}")
    return Comparison(
        planned=weighed(advice, plan.step.index),
        other=weighed(advice, names.index(other)),
        end_min=plan.act_now_min,
    )
