"""The machine with a repair done: what may be left wrong, as one belief to prove it and go on.

A fault can be left in three ways: belief also holds causes that this repair does not mend, the
repair may not have taken, or there is a second fault that nothing pointed to. The machines are
those believed in before, as they are afterwards: the same units, with the causes that are left
as severe as they were, and beside them the units with nothing left. The battery counts as charged.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass

import numpy as np

from chargewright.diagnosis.belief import Belief, believe, likelihood
from chargewright.diagnosis.decisions import CHARGE, needed
from chargewright.diagnosis.population import (
    SOUND,
    Ints,
    Population,
    name_of,
    parameters_of,
)
from chargewright.diagnosis.predict import Predictions
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Cause
from chargewright.machine.draw import LATENTS, with_another, with_first
from chargewright.machine.parameters import Array
from chargewright.machine.prior import Hypothesis

NOT_TAKEN = 0.03  # chance that a repair leaves the fault it was meant for (assumed)
OTHER_FAULT = 0.04  # chance of a second fault that nothing pointed to (assumed)
MOST_REMAINING = 0.98  # a fault left is never taken for certain before anything is read
MACHINES = 300  # that stand for one way in which a fault is left, and for none left
FEWEST = 24  # of them for each cause, however rare
NEGLIGIBLE = 1e-4  # share of a way below which a hypothesis before is not carried on

Causes = tuple[Cause, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Way:
    """Machines that stand for one way things can be: what is left (n), latents, weights (n,).

    The weights sum to one, or to zero where there are none.
    """

    left: tuple[Causes, ...]
    z: Array
    weights: Array


def after_repair(belief: Belief, repairs: Set[str], rng: np.random.Generator) -> Belief:
    """Return what to believe of the machine once ``repairs`` (ids) are done, nothing read since.

    The share of ``no_fault`` is the chance that the repair has mended everything.
    """
    mends = set(repairs) | {CHARGE}
    before = belief.population.hypotheses
    missed = np.array([bool(needed(one, mends)) for one in before])[belief.population.member]
    share = float(belief.weights[missed].sum())
    other, speaks = _another(belief, mends, rng)
    found = (
        (_missed(belief, mends, missed, rng), share),
        (_not_taken(belief, repairs, ~missed, rng), NOT_TAKEN),
        (other, OTHER_FAULT * speaks / (1.0 - OTHER_FAULT + OTHER_FAULT * speaks)),
    )
    ways = [(way, mass if len(way.z) else 0.0) for way, mass in found]
    masses = np.array([mass for _, mass in ways])
    remaining = min(1.0 - float(np.prod(1.0 - masses)), MOST_REMAINING)
    sound = _sound(belief, ~missed, rng)
    shares = [remaining * mass / max(masses.sum(), 1e-300) for mass in masses]
    parts = [(sound, 1.0 - remaining)]
    parts += [(way, mass) for (way, _), mass in zip(ways, shares, strict=True) if mass > 0.0]
    return believe(_population(belief, parts), ())


def remaining_fault(belief: Belief) -> float:
    """Return the chance that a fault is left, of a belief about a machine repaired."""
    return 1.0 - float(belief.weights[is_sound(belief.population)].sum())


def is_sound(population: Population) -> np.ndarray:
    """Return which machines (n,) have nothing wrong."""
    sound = np.array([name_of(one) == SOUND for one in population.hypotheses])
    return np.asarray(sound[population.member])


def _population(belief: Belief, parts: Sequence[tuple[_Way, float]]) -> Population:
    """Return machines of all ways in one population, equal causes as one hypothesis."""
    machine = belief.population.machine
    left = [causes for way, _ in parts for causes in way.left]
    weights = np.concatenate([way.weights * mass for way, mass in parts])
    numbers = {causes: number for number, causes in enumerate(dict.fromkeys(left))}
    member = np.array([numbers[causes] for causes in left], dtype=np.intp)
    shares = np.bincount(member, weights, minlength=len(numbers))
    hypotheses = tuple(
        Hypothesis(causes, float(share)) for causes, share in zip(numbers, shares, strict=True)
    )
    z = np.concatenate([way.z for way, _ in parts])
    params = parameters_of(machine, hypotheses, member, z)
    return Population(
        machine=machine,
        hypotheses=hypotheses,
        member=member,
        z=z,
        params=params,
        log_base=np.log(np.maximum(weights, 1e-300)),
        absorbed=tuple(frozenset() for _ in hypotheses),
        predictions=Predictions(machine.layout, params),
    )


def _sound(belief: Belief, meant: np.ndarray, rng: np.random.Generator) -> _Way:
    """Return believed machines with every cause gone; of those the repair was meant for, if any."""
    rows, weights = _picked(belief, meant, rng)
    if not rows.size:
        rows, weights = _picked(belief, ~meant, rng)
    nothing = (catalogue().get(SOUND),)
    return _Way(left=(nothing,) * len(rows), z=belief.population.z[rows], weights=weights)


def _missed(belief: Belief, mends: Set[str], missed: np.ndarray, rng: np.random.Generator) -> _Way:
    """Return believed machines with a cause that the repair does not mend; only that is left."""
    rows, weights = _picked(belief, missed, rng)
    return _left_in(belief, rows, weights, [mends] * len(rows))


def _not_taken(
    belief: Belief, repairs: Set[str], meant: np.ndarray, rng: np.random.Generator
) -> _Way:
    """Return believed machines in which one repair that they needed has not taken."""
    hypotheses = belief.population.hypotheses
    wants = [sorted((set(needed(one)) & repairs) - {CHARGE}) for one in hypotheses]
    rows, weights = _picked(
        belief, meant & np.array([bool(want) for want in wants])[belief.population.member], rng
    )
    failed = [str(rng.choice(wants[number])) for number in belief.population.member[rows]]
    others = {cause.repair.id for cause in catalogue().causes}
    return _left_in(belief, rows, weights, [others - {one} for one in failed])


def _left_in(belief: Belief, rows: Ints, weights: Array, mends: Sequence[Set[str]]) -> _Way:
    """Return machines ``rows`` with what each of ``mends`` does not mend."""
    population = belief.population
    z, left = population.z[rows].copy(), []
    for place, (row, done) in enumerate(zip(rows, mends, strict=True)):
        causes = population.hypotheses[population.member[row]].causes
        slots = [k for k, one in enumerate(causes) if one.repair.id not in {*done, "nothing"}]
        left.append(tuple(causes[k] for k in slots))
        if slots[:1] == [1]:
            z[place] = with_first(z[place : place + 1], 1)[0]
    return _Way(left=tuple(left), z=z, weights=weights)


def _another(belief: Belief, mends: Set[str], rng: np.random.Generator) -> tuple[_Way, float]:
    """Return machines with a second fault that belief has no name for, and how readings speak.

    Causes by the prior's shares, in believed machines that had one fault beside it, which the
    repair has mended. What was read before the repair was read on both together: each machine
    counts by how many times likelier the two make those readings than the first alone. The mean
    of that is the second value, one where nothing was read.
    """
    population = belief.population
    singles = [
        one
        for one in population.hypotheses
        if len(one.causes) == 1 and needed(one) and not set(needed(one)) & mends
    ]
    one_mended = np.array(
        [len(h.causes) == 1 and bool(set(needed(h)) & mends) for h in population.hypotheses]
    )[population.member]
    units, _ = _picked(belief, one_mended, rng, fewest=0)
    if not singles or not units.size:
        return _Way(left=(), z=np.zeros((0, LATENTS)), weights=np.zeros(0)), 1.0
    shares = np.array([one.share for one in singles])
    counts = np.maximum(np.round(shares / shares.sum() * MACHINES), FEWEST).astype(int)
    cause = np.repeat(np.arange(len(singles)), counts)
    rows = rng.choice(units, len(cause))
    z = with_another(population.z[rows], rng.standard_normal((len(rows), LATENTS)))
    weights = (shares / shares.sum() / counts)[cause] * _both(belief, rows, singles, cause, z)
    speaks = float(weights.sum())
    left = tuple(singles[number].causes for number in cause)
    return _Way(left=left, z=z, weights=weights / max(speaks, 1e-300)), speaks


def _both(
    belief: Belief, rows: Ints, singles: Sequence[Hypothesis], cause: Ints, z: Array
) -> Array:
    """Return how many times likelier (n,) a second fault makes all that was read."""
    if not belief.answers:
        return np.ones(len(rows))
    population = belief.population
    first = population.member[rows]
    pairs, member = np.unique(np.stack([cause, first], axis=1), axis=0, return_inverse=True)
    hypotheses = tuple(
        Hypothesis((*singles[new].causes, *population.hypotheses[old].causes), 1.0)
        for new, old in pairs
    )
    params = parameters_of(population.machine, hypotheses, member.reshape(-1), z)
    predictions = Predictions(population.machine.layout, params)
    together = sum(likelihood(predictions, answer) for answer in belief.answers)
    alone = belief.log_likelihood[:, rows].sum(axis=0)
    return np.asarray(np.exp(together - alone))


def _picked(
    belief: Belief, among: np.ndarray, rng: np.random.Generator, *, fewest: int = FEWEST
) -> tuple[Ints, Array]:
    """Return (machines, weights that sum to one) that stand for those ``among`` (n,) all.

    Each hypothesis by itself in proportion to its machines' weights; none where all weigh zero.
    """
    weights = np.where(among, belief.weights, 0.0)
    total, member = float(weights.sum()), belief.population.member
    rows: list[Ints] = []
    shares: list[Array] = []
    masses = np.bincount(member, weights) / max(total, 1e-300)
    for number in np.flatnonzero(masses > NEGLIGIBLE):
        own = np.flatnonzero(member == number)
        count = max(round(masses[number] * MACHINES), fewest, 1)
        ticks = (rng.random() + np.arange(count)) / count * weights[own].sum()
        places = np.minimum(np.searchsorted(np.cumsum(weights[own]), ticks), len(own) - 1)
        rows.append(own[places])
        shares.append(np.full(count, masses[number] / count))
    if not rows:
        return np.zeros(0, dtype=np.intp), np.zeros(0)
    together = np.concatenate(shares)
    return np.concatenate(rows), together / together.sum()
