"""From belief to the next step: checks that are possible now, weighed by expected cost.

Access counts once: covers already off are free. Charging the battery and warming the engine up
are treated like covers, because what they give is kept. What a check then costs in its first
place is told by the checks room itself.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, replace

import numpy as np

from chargewright.checks.catalogue import Catalogue, Check
from chargewright.checks.cost import Effort, Situation, minutes, needs, state_in
from chargewright.checks.modes import Mode, switch
from chargewright.checks.safety import reason
from chargewright.diagnosis import problem as plain
from chargewright.diagnosis.belief import Belief
from chargewright.diagnosis.decisions import (
    CHARGE,
    NONE_DONE,
    Ending,
    Prices,
    endings,
    losses,
)
from chargewright.diagnosis.outcomes import outcome_table
from chargewright.diagnosis.plan import Plan, Step
from chargewright.diagnosis.planning import look_ahead
from chargewright.diagnosis.question import Question, question_of
from chargewright.diagnosis.rollout import BasePolicy, play_out
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function, Warmth
from chargewright.meters.card import MeterCard

WORLDS = 700  # machines the planner works with
# Ending's own cost differs by 0.2 to 0.3 min (standard deviation) from one draw of the worlds to
# the next, so a smaller saving than this cannot be told from none.
TOLD_APART_MIN = 0.5
CHARGED, WARM = "(charged)", "(warm)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A check that can be done from here, as it would be done."""

    check: Check
    question: Question


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Advice:
    """The plan, and what its numbers stand for. ``again`` are repairs made before, not proved."""

    plan: Plan
    base: BasePolicy | None
    options: tuple[Option, ...]
    ways: tuple[Ending, ...]
    problem: plain.Problem
    here: plain.Situation
    worlds: np.ndarray
    world_weights: Array
    again: Set[str]


def options(
    catalogue: Catalogue,
    *,
    situation: Situation,
    effort: Effort,
    meter: MeterCard,
    belief: Belief,
    lights_always_on: bool,
) -> tuple[Option, ...]:
    """Return the checks worth considering: possible, allowed, in the meter, not yet answered."""
    layout = belief.population.machine.layout
    answered = {answer.question for answer in belief.fresh}
    found: list[Option] = []
    for check in catalogue:
        if check.function is None:
            continue
        if check.function is not Function.LOOK and check.function not in meter.functions:
            continue
        question = question_of(check, state_in(check, situation))
        question = as_it_stands(question, lights_always_on)
        if question in answered or any(option.question == question for option in found):
            continue
        if not np.isfinite(minutes(check, situation, effort).total):
            continue
        if reason(check.function, check.plus, check.minus, question.state, layout=layout) is None:
            found.append(Option(check=check, question=question))
    return tuple(found)


def as_it_stands(question: Question, lights_always_on: bool) -> Question:
    """Return the question on a machine whose lamps cannot be switched off while it runs."""
    state = question.state
    if not lights_always_on or state.lights_on or not _key_in_use(question):
        return question
    return replace(question, state=replace(state, lights_on=True))


def _key_in_use(question: Question) -> bool:
    return question.state.engine.value == "running"


def advise(
    belief: Belief,
    choices: Sequence[Option],
    *,
    situation: Situation,
    effort: Effort,
    meter: MeterCard,
    prices: Prices,
    nulled: bool,
    rng: np.random.Generator,
    depth: int = 2,
    again: Set[str] = NONE_DONE,
) -> Advice:
    """Return the plan of least expected cost over the options and all ways to end the job.

    ``again`` are repairs made before that have not been proved.
    """
    population = belief.population
    rows, weights = _worlds(belief, rng)
    population.predictions.prepare([option.question for option in choices], meter, rows)
    done = repaired(situation)
    ways = endings(population.hypotheses, belief.hypothesis_shares(), done)
    loss = losses(ways, population.hypotheses, prices, done, again)
    loss = loss[:, population.member[rows]]
    nodes = _nodes(effort, prices)
    modes = _modes(choices, situation)
    checks = tuple(
        plain.Check(
            name=option.check.id,
            outcomes=outcome_table(
                population.predictions,
                option.question,
                meter,
                weights=weights,
                rows=rows,
                nulled=nulled,
            )[0],
            minutes=option.check.minutes + option.check.wait_h * prices.wait_min_per_hour,
            access=_access(option, situation, effort, nodes),
            mode=modes[_mode(option)],
        )
        for option in choices
    )
    costs = plain.Costs(
        access_minutes=tuple(cost for _, cost in nodes.values()),
        access_parent=tuple(parent for parent, _ in nodes.values()),
        switch_minutes=_switch_table(list(modes), effort),
    )
    problem = plain.Problem(
        loss=loss, checks=checks, costs=costs, decisions=tuple(way.id for way in ways)
    )
    here = plain.Situation(opened=_opened(situation, effort, nodes), mode=modes[_here(situation)])
    plan = look_ahead(problem, weights, here, depth=depth)
    base = play_out(problem, weights, here, rng)
    return Advice(
        plan=worth_it(going_on(plan, base, problem)),
        base=base,
        options=tuple(choices),
        ways=ways,
        problem=problem,
        here=here,
        worlds=rows,
        world_weights=weights,
        again=again,
    )


def repaired(situation: Situation) -> frozenset[str]:
    """Return the repairs that how the machine stands shows as made: a charged battery."""
    return frozenset({CHARGE} if situation.mode.charged else ())


def going_on(plan: Plan, base: BasePolicy | None, problem: plain.Problem) -> Plan:
    """Return the plan, or the base policy's where looking ahead costs more than playing it.

    Where looking ahead has found a check, that check stays: the base policy then only says that
    going on will be cheaper still.
    """
    if base is None or base.cost_min >= plan.cost_min:
        return plan
    step = plan.step
    if step.kind == "decide":
        name = problem.checks[base.first].name
        step = Step(kind="check", index=base.first, name=name)
    return replace(plan, step=step, cost_min=base.cost_min)


def worth_it(plan: Plan) -> Plan:
    """Return the plan, ending now where going on would save no more than can be told apart."""
    if plan.step.kind == "decide" or plan.worth_min >= TOLD_APART_MIN:
        return plan
    return replace(plan, step=plan.act_now, cost_min=plan.act_now_min)


def _worlds(belief: Belief, rng: np.random.Generator) -> tuple[np.ndarray, Array]:
    """Return (machines, weights): a resampled few that keep small shares in sight.

    Machines are picked in proportion to the square root of their weight and then weighed back.
    """
    weights = belief.weights
    tempered = np.sqrt(weights)
    tempered /= tempered.sum()
    if np.count_nonzero(weights > 1e-12) <= WORLDS:
        rows = np.flatnonzero(weights > 1e-12)
        return rows, weights[rows] / weights[rows].sum()
    ticks = (rng.random() + np.arange(WORLDS)) / WORLDS
    picked = np.minimum(np.searchsorted(np.cumsum(tempered), ticks), len(weights) - 1)
    rows, counts = np.unique(picked, return_counts=True)
    share = counts * weights[rows] / tempered[rows]
    return rows, share / share.sum()


Nodes = dict[str, tuple[int, float]]


def _nodes(effort: Effort, prices: Prices) -> Nodes:
    """Return access nodes by id as (parent's number, minutes), parents first."""
    nodes: Nodes = {}

    def add(name: str) -> int:
        if name not in nodes:
            opening = effort.access.opening(name)
            parent = -1 if opening.parent is None else add(opening.parent)
            nodes[name] = (parent, opening.total_min)
        return list(nodes).index(name)

    for name in effort.access.ids:
        add(name)
    charge = effort.charge
    nodes[CHARGED] = (-1, charge.minutes + charge.wait_h * prices.wait_min_per_hour)
    nodes[WARM] = (-1, effort.switches.warm_up)
    return nodes


def _access(option: Option, situation: Situation, effort: Effort, nodes: Nodes) -> frozenset[int]:
    names = set(needs(option.check, situation.mode, effort))
    if option.question.state.battery_charged:
        names.add(CHARGED)
    if option.question.state.warmth is Warmth.HOT:
        names.add(WARM)
    numbers = {name: number for number, name in enumerate(nodes)}
    return frozenset(numbers[name] for name in names)


def _opened(situation: Situation, effort: Effort, nodes: Nodes) -> frozenset[int]:
    names = set(effort.access.closure(situation.open))
    if situation.mode.charged:
        names.add(CHARGED)
    if situation.mode.warmth is Warmth.HOT:
        names.add(WARM)
    numbers = {name: number for number, name in enumerate(nodes)}
    return frozenset(numbers[name] for name in names)


def _mode(option: Option) -> Mode:
    state = option.question.state
    return Mode(engine=state.engine, plug_in=state.plug_in, battery_in=state.battery_in)


def _here(situation: Situation) -> Mode:
    return replace(situation.mode, warmth=Warmth.COLD, charged=False)


def _modes(choices: Sequence[Option], situation: Situation) -> dict[Mode, int]:
    found = dict.fromkeys([_here(situation), *(_mode(option) for option in choices)])
    return {mode: number for number, mode in enumerate(found)}


def _switch_table(modes: list[Mode], effort: Effort) -> Array:
    return np.array(
        [[sum(cost for _, cost in switch(a, b, effort.switches)) for b in modes] for a in modes]
    )
