"""How good a diagnoser is: proper scores, calibration, healthy parts fitted.

Log score and Brier score are proper (best expected score only for honest probabilities).
The calibration error is not, and depends on its bins, so it is never quoted without them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from chargewright.diagnosis.problem import Array
from chargewright.errors import InputError

Labels = NDArray[np.intp]


def log_loss(forecasts: Array, truths: Labels) -> float:
    """Return the mean of -ln(probability given to the truth), infinite after a certain error.

    ``forecasts`` (m, k) hold m distributions over k causes, ``truths`` (m,) the causes found.
    """
    given, truth = _checked(forecasts, truths)
    with np.errstate(divide="ignore"):
        return float(-np.log(given[np.arange(len(truth)), truth]).mean())


def brier(forecasts: Array, truths: Labels) -> float:
    """Return the multi-class Brier score in sum form: mean of sum_k (p_k - [k is true])^2.

    Arguments as ``log_loss``. Brier (1950): 0 is perfect, 2 certain and wrong.
    """
    given, truth = _checked(forecasts, truths)
    hit = np.zeros_like(given)
    hit[np.arange(len(truth)), truth] = 1.0
    return float(((given - hit) ** 2).sum(axis=1).mean())


def top_accuracy(forecasts: Array, truths: Labels) -> float:
    """Return the share of cases whose most probable cause is the true one; ties: lowest index."""
    given, truth = _checked(forecasts, truths)
    return float((given.argmax(axis=1) == truth).mean())


def calibration_error(forecasts: Array, truths: Labels, *, bins: int) -> float:
    """Return the expected calibration error of the top forecast over equal-width bins.

    Bins are half-open below, (i/bins, (i+1)/bins]: a confidence on an edge belongs to the bin
    that ends there (Guo et al. 2017). Arguments as ``log_loss``.
    """
    if bins < 1:
        raise InputError(f"calibration error over {bins} bins, expected 1 or more")
    given, truth = _checked(forecasts, truths)
    confidence = given.max(axis=1)
    hit = given.argmax(axis=1) == truth
    # the tiny step down keeps 0.7 in the bin that ends at 0.7 despite binary rounding
    index = np.ceil(confidence * bins - 1e-9).astype(int) - 1
    gap = np.bincount(np.maximum(index, 0), weights=hit - confidence, minlength=bins)
    return float(np.abs(gap).sum() / len(truth))


def diagnosis_utility(
    *, components: int, faulty: frozenset[int], reported: frozenset[int]
) -> float:
    """Return the utility of a reported set of faulty parts, 1 best.

    1 - n(N+1)/(f(n+1)) - m(M+1)/(f(m+1)), where n faults are missed among the N parts reported
    sound and m false alarms are among the M reported faulty, f parts in all: the expected share
    of parts opened in vain (metric of the first international diagnosis competition, 2009).
    """
    unknown = (faulty | reported) - frozenset(range(components))
    if unknown:
        raise InputError(f"parts {sorted(unknown)} of {components}, expected 0 to {components - 1}")
    missed, alarms = len(faulty - reported), len(reported - faulty)
    sound, blamed = components - len(reported), len(reported)
    searching = missed * (sound + 1) / (missed + 1) + alarms * (blamed + 1) / (alarms + 1)
    return 1.0 - searching / components


def wasted_share(*, faulty: frozenset[int], replaced: frozenset[int], components: int) -> float:
    """Return the share of the healthy parts that were replaced (wasted cost, Stern et al. 2017)."""
    healthy = components - len(faulty)
    if healthy < 1:
        raise InputError(f"{len(faulty)} faulty parts of {components} leave no healthy part")
    return len(replaced - faulty) / healthy


def healthy_share_of_removals(
    *, prevalence: float, sensitivity: float, specificity: float
) -> float:
    """Return the share of healthy parts among those removed.

    (1-q)(1-sp) / (q se + (1-q)(1-sp)) for a test of one part that is faulty with chance q.
    Raises InputError when an argument is no probability or nothing is ever removed.
    """
    given = {"prevalence": prevalence, "sensitivity": sensitivity, "specificity": specificity}
    for name, value in given.items():
        if not 0.0 <= value <= 1.0:
            raise InputError(f"{name} {value:g} is outside 0 to 1")
    healthy = (1.0 - prevalence) * (1.0 - specificity)
    removed = prevalence * sensitivity + healthy
    if removed == 0.0:
        raise InputError("with these probabilities no part is ever removed")
    return healthy / removed


def _checked(forecasts: Array, truths: Labels) -> tuple[Array, Labels]:
    given, truth = np.asarray(forecasts, dtype=float), np.asarray(truths, dtype=np.intp)
    if given.ndim != 2 or truth.shape != given.shape[:1] or not len(truth):
        raise InputError(
            f"forecasts of shape {given.shape} for truths of shape {truth.shape},"
            " expected (m, k) and (m,) with m of 1 or more"
        )
    if truth.min() < 0 or truth.max() >= given.shape[1]:
        raise InputError(
            f"truth {truth.min()} to {truth.max()}, expected 0 to {given.shape[1] - 1}"
        )
    if not np.all(np.abs(given.sum(axis=1) - 1.0) <= 1e-6) or not np.all(given >= 0.0):
        raise InputError("forecasts must be probabilities that sum to 1 in every row")
    return given, truth
