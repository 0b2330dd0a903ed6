"""Proving a repair: the readings after which hardly a chance remains that a fault is still there.

Of the machines as they may be after the repair (``repaired``) some have a fault left and some
have none. Of the checks that tell the two apart the quickest set is taken after which, all
results good, a fault is left less than ``ENOUGH``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from chargewright.checks.catalogue import Catalogue, Check
from chargewright.checks.cost import Effort, Situation, minutes
from chargewright.checks.modes import Mode
from chargewright.checks.safety import reason
from chargewright.diagnosis.advise import as_it_stands
from chargewright.diagnosis.belief import Belief
from chargewright.diagnosis.expected import weighted_quantiles
from chargewright.diagnosis.findings import ProofFinding
from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.population import Ints, Population
from chargewright.diagnosis.proof_set import remaining_after, shortest_set
from chargewright.diagnosis.question import Answer, Question
from chargewright.diagnosis.repaired import is_sound, remaining_fault
from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, Function
from chargewright.meters.card import MeterCard

ENOUGH = 0.02  # chance that a fault remains below which a repair counts as proved
EACH = 450  # machines that stand for those with a fault left, and for those without
BAND = (0.025, 0.975)  # of repaired machines, widened by meter and model
FIGURES = (Function.DC_V, Function.AC_V, Function.DC_A, Function.CLAMP_A)

Span = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Group:
    """Some machines of a population: ``rows`` (n,), and weights (n,) that sum to one."""

    population: Population
    rows: Ints
    weights: Array


def _group(belief: Belief, among: np.ndarray) -> _Group:
    """Return up to ``EACH`` machines that stand for those ``among`` (n,)."""
    weights = np.where(among, belief.weights, 0.0)
    ticks = (np.arange(EACH) + 0.5) / EACH * weights.sum()
    places = np.minimum(np.searchsorted(np.cumsum(weights), ticks), len(weights) - 1)
    rows, counts = np.unique(places, return_counts=True)
    return _Group(population=belief.population, rows=rows, weights=counts / counts.sum())


def proof_checks(
    after: Belief,
    *,
    catalogue: Catalogue,
    effort: Effort,
    meter: MeterCard,
    lights_always_on: bool,
) -> tuple[ProofFinding, ...]:
    """Return the shortest set of checks that proves a repair, the most telling first.

    ``after`` is what to believe of the machine repaired (``repaired.after_repair``), before
    anything is read on it.
    """
    sound = is_sound(after.population)
    mended, broken = _group(after, sound), _group(after, ~sound)
    start = Situation(mode=Mode(charged=True))
    candidates = _candidates(catalogue, after, meter, lights_always_on)
    if not candidates:
        return ()
    questions = [question for _, question in candidates]
    for group in (mended, broken):
        after.population.predictions.prepare(questions, meter, group.rows)
    spans = [_span(mended, question, meter) for question in questions]
    passes = np.array(
        [
            np.concatenate([_pass_chance(g, question, meter, span) for g in (mended, broken)])
            for question, span in zip(questions, spans, strict=True)
        ]
    )
    costs = [minutes(check, start, effort).total for check, _ in candidates]
    left = remaining_fault(after)
    weights = np.concatenate([(1.0 - left) * mended.weights, left * broken.weights])
    faulty = np.repeat([False, True], [len(mended.rows), len(broken.rows)])
    picked = shortest_set(weights, faulty, passes, costs, enough=ENOUGH)
    return tuple(
        ProofFinding(
            check=candidates[i][0],
            question=candidates[i][1],
            low=spans[i][0],
            high=spans[i][1],
            remaining=remaining_after(weights, faulty, passes[list(picked[: place + 1])]),
        )
        for place, i in enumerate(picked)
    )


def outside(after: Belief, answers: Sequence[Answer]) -> tuple[tuple[Answer, Span], ...]:
    """Return readings on a machine repaired that one without a fault does not show, with its span.

    ``after`` is belief before they were read. Only volts and amperes, as in a proof: an OL, and a
    figure where OL is usual, have no span to lie in.
    """
    mended = _group(after, is_sound(after.population))
    found = []
    for answer in answers:
        if answer.shown is None or answer.question.function not in FIGURES:
            continue
        low, high = _span(mended, answer.question, answer.meter)
        if not answer.shown.has_value or not low <= answer.shown.middle <= high:
            found.append((answer, (low, high)))
    return tuple(found)


def _candidates(
    catalogue: Catalogue, belief: Belief, meter: MeterCard, lights_always_on: bool
) -> list[tuple[Check, Question]]:
    """Return checks with a figure that suit a machine put together again, battery charged."""
    layout = belief.population.machine.layout
    found: list[tuple[Check, Question]] = []
    for check in catalogue:
        if check.function not in FIGURES:
            continue
        state = check.state
        if check.function not in meter.functions or not state.plug_in or check.charged is False:
            continue
        question = Question(
            function=check.function,
            plus=check.plus,
            minus=check.minus,
            state=replace(state, battery_charged=True),
        )
        question = as_it_stands(question, lights_always_on)
        safe = reason(check.function, check.plus, check.minus, question.state, layout=layout)
        if safe is None and (state.engine is not Engine.RUNNING or state.rpm is not None):
            found.append((check, question))
    return found


def _span(mended: _Group, question: Question, meter: MeterCard) -> Span:
    """Return the span of readings that repaired machines show."""
    centre, sigma, _ = _shown(mended, question, meter)
    reach = 1.5 * float((sigma * mended.weights).sum())
    low, high = weighted_quantiles(centre, mended.weights, BAND)
    low = low - reach
    return (max(low, 0.0) if question.function is Function.AC_V else low), high + reach


def _pass_chance(group: _Group, question: Question, meter: MeterCard, span: Span) -> Array:
    """Return the chance (n,) that a machine's reading falls inside the span.

    AC has no sign: where the span begins at 0 nothing falls below it.
    """
    centre, sigma, over = _shown(group, question, meter)
    open_below = question.function is Function.AC_V and span[0] <= 0.0
    below = 0.0 if open_below else ndtr((span[0] - centre) / sigma)
    inside = ndtr((span[1] - centre) / sigma) - below
    return np.where(over, 0.0, inside)


def _shown(
    group: _Group, question: Question, meter: MeterCard
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return (centre, standard deviation of meter and model, OL) of a group's displays (n,)."""
    predictions = group.population.predictions
    shown = predictions.indication(question, meter, rows=group.rows)
    model = model_sigma(question, shown.centre, predictions.layout)
    return shown.centre, shown.spread(model), shown.over
