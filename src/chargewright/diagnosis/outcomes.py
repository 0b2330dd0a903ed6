"""Readings in bins: what a planner sees of a question.

Bins are cut where the machines' predictions lie; a machine spreads over bins by the meter's
distribution widened by the model's error. OL is a bin of its own.
"""

from __future__ import annotations

import numpy as np

from chargewright.diagnosis.belief import LOOK_BLUNDER_SHARE
from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.question import Question
from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters.card import MeterCard
from chargewright.meters.likelihood import BLUNDER_SHARE

BINS = 10
Labels = tuple[str, ...]


def outcome_table(
    predictions: Predictions,
    question: Question,
    meter: MeterCard,
    *,
    weights: Array,
    rows: np.ndarray,
    nulled: bool,
) -> tuple[Array, Array]:
    """Return (P(bin | machine) (r, k), edges between the bins) for machines ``rows``.

    The last bin is OL where the meter can show it; a look has two: sign seen, not seen.
    """
    if question.function is Function.LOOK:
        seen = predictions.sign(question)[rows]
        seen = seen * (1 - LOOK_BLUNDER_SHARE) + (1 - seen) * LOOK_BLUNDER_SHARE
        return np.stack([seen, 1.0 - seen], axis=1), np.zeros(0)
    indication = predictions.indication(question, meter, nulled=nulled, rows=rows)
    centre, over = indication.centre, indication.over
    model = model_sigma(question, centre, predictions.layout)
    spread = indication.spread(model)
    edges = _edges(centre, spread, over, weights)
    below = ndtr((edges[None, :] - centre[:, None]) / spread[:, None])
    table = np.diff(np.pad(below, ((0, 0), (1, 1)), constant_values=((0, 0), (0, 1))), axis=1)
    table = np.where(over[:, None], 0.0, table)
    table = np.concatenate([table, over[:, None].astype(float)], axis=1)
    table = np.maximum(table, 0.0)
    table /= table.sum(axis=1, keepdims=True)
    return (1.0 - BLUNDER_SHARE) * table + BLUNDER_SHARE / table.shape[1], edges


def _edges(centre: Array, spread: Array, over: np.ndarray, weights: Array) -> Array:
    """Return up to BINS - 1 edges: weighted quantiles, no two nearer than a spread."""
    here = np.flatnonzero(~over)
    if not here.size or weights[here].sum() <= 0.0:
        return np.zeros(0)
    order = here[np.argsort(centre[here])]
    cumulative = np.cumsum(weights[order])
    ticks = cumulative[-1] * np.arange(1, BINS) / BINS
    place = np.minimum(np.searchsorted(cumulative, ticks), len(order) - 1)
    after = np.minimum(place + 1, len(order) - 1)
    edges = 0.5 * (centre[order[place]] + centre[order[after]])
    gaps = spread[order[place]]
    kept: list[float] = []
    for edge, gap in zip(edges, gaps, strict=True):
        if not kept or edge - kept[-1] > 0.8 * gap:
            kept.append(float(edge))
    return np.array(kept)
