"""Bayes' rule in logarithms: what the readings leave of a prior over worlds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from chargewright.diagnosis.problem import Array
from chargewright.errors import ImpossibleReadingsError, InputError


def posterior(prior: Array, likelihood_rows: Sequence[Array] | Array) -> Array:
    """Return the normalised belief (n,) after independent findings.

    ``prior`` (n,) on any positive scale; ``likelihood_rows`` (r, n), row i being the chance of
    finding i in each world. The same physical reading taken twice is one finding and belongs
    in one row. Rows are added as logarithms in order of size, world by world, so the order of
    entry does not change a single digit and a thousand small likelihoods do not underflow.

    Raises ImpossibleReadingsError when no world with prior weight allows all findings, naming
    the first row at which the last one fell away; InputError for shapes or values that are
    not probabilities or densities.
    """
    start = np.asarray(prior, dtype=float)
    rows = np.asarray(likelihood_rows, dtype=float).reshape(-1, len(start))
    for what, values in (("prior", start), ("likelihood", rows)):
        if not np.all((values >= 0.0) & np.isfinite(values)):
            raise InputError(f"{what} holds a negative or non-finite value, expected 0 or more")
    if not np.any(start > 0.0):
        raise InputError("prior gives every world weight 0, expected a positive sum")
    with np.errstate(divide="ignore"):
        log_weight = np.log(start) + np.sort(np.log(rows), axis=0).sum(axis=0)
    top = float(log_weight.max())
    if not np.isfinite(top):
        raise ImpossibleReadingsError(
            f"no world the model knows allows findings 1 to {_first_impossible(start, rows) + 1}"
            " together, expected at least one; repeat the reading that disagrees most"
        )
    weight = np.exp(log_weight - top)
    result: Array = weight / weight.sum()
    return result


def _first_impossible(prior: Array, rows: Array) -> int:
    """Index of the row that rules out the last world still possible."""
    alive = np.cumprod(rows > 0.0, axis=0).astype(bool) & (prior > 0.0)
    return int(np.argmax(~alive.any(axis=1)))


def entropy_bits(belief: Array) -> float:
    """Return the entropy of a normalised belief (n,) [bit].

    >>> entropy_bits(np.array([0.5, 0.25, 0.25]))
    1.5
    """
    positive = belief[belief > 0.0]
    return float(-(positive * np.log2(positive)).sum())
