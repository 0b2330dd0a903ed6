"""The machine with a repair done: what may be left wrong, as one belief to prove it and go on.

A fault can be left in three ways: belief also holds causes that this repair does not mend, the
repair may not have taken, or there is a second fault that nothing pointed to. The machines are
those believed in before, as they are afterwards: the same units, with the causes that are left
as severe as they were, and beside them the units with nothing left. The battery counts as charged.

Each hypothesis is what is left together with what was there, by the same latents, so that what
was read before the repair goes on speaking when machines are drawn anew.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, replace

import numpy as np

from chargewright.diagnosis.belief import Belief, likelihood, weigh
from chargewright.diagnosis.decisions import CHARGE, NOTHING, needed
from chargewright.diagnosis.population import SOUND, Ints, Population, name_of, predicted
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Cause
from chargewright.machine.draw import LATENTS, with_another, with_first
from chargewright.machine.parameters import Array
from chargewright.machine.prior import Hypothesis

NOT_TAKEN = 0.03  # chance that a repair leaves the fault it was meant for (assumed)
OTHER_FAULT = 0.04  # chance of a second fault that nothing pointed to (assumed)
MOST_REMAINING = 0.98  # a fault left is never taken for certain before anything is read
MACHINES = 1000  # that stand for one way in which a fault is left, and for none left
FEWEST = 40  # of them for each cause, however rare
NEGLIGIBLE = 1e-4  # share of a way below which a hypothesis before is not carried on

Causes = tuple[Cause, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Way:
    """Machines that stand for one way things can be.

    ``kinds`` (n) are what is left and what was there, ``z`` (n, LATENTS) fits both; ``logs``
    (m, n) are log-likelihoods of what was read before. ``weights`` (n,) with that sum to one.
    """

    kinds: tuple[tuple[Causes, Causes], ...]
    z: Array
    logs: Array
    weights: Array


def after_repair(belief: Belief, repairs: Set[str], rng: np.random.Generator) -> Belief:
    """Return what to believe of the machine once ``repairs`` (ids) are done, nothing read since.

    The share of ``no_fault`` is the chance that the repair has mended everything. The answers
    since the repair before this one, if any, stay as read before.
    """
    mends = set(repairs) | {CHARGE}
    before = belief.population.hypotheses
    missed = np.array([bool(needed(one, mends)) for one in before])[belief.population.member]
    found = [
        (_missed(belief, mends, missed, rng), float(belief.weights[missed].sum())),
        (_not_taken(belief, repairs, ~missed, rng), NOT_TAKEN),
        (_another(belief, mends, rng), OTHER_FAULT),
    ]
    ways = [(way, chance) for way, chance in found if len(way.z) and chance > 0.0]
    chances = np.array([chance for _, chance in ways])
    remaining = min(1.0 - float(np.prod(1.0 - chances)), MOST_REMAINING)
    parts = [(_sound(belief, ~missed, rng), 1.0 - remaining)]
    parts += [(way, remaining * chance / float(chances.sum())) for way, chance in ways]
    return _believed(belief, parts)


def remaining_fault(belief: Belief) -> float:
    """Return the chance that a fault is left, of a belief about a machine repaired."""
    return 1.0 - float(belief.weights[is_sound(belief.population)].sum())


def is_sound(population: Population) -> np.ndarray:
    """Return which machines (n,) have nothing wrong."""
    sound = np.array([name_of(one) == SOUND for one in population.hypotheses])
    return np.asarray(sound[population.member])


def _believed(belief: Belief, parts: Sequence[tuple[_Way, float]]) -> Belief:
    """Return the machines of all ways as one belief, equal kinds as one hypothesis."""
    machine = belief.population.machine
    kinds = [kind for way, _ in parts for kind in way.kinds]
    weights = np.concatenate([way.weights * mass for way, mass in parts])
    logs = np.concatenate([way.logs for way, _ in parts], axis=1)
    z = np.concatenate([way.z for way, _ in parts])
    numbers = {kind: number for number, kind in enumerate(dict.fromkeys(kinds))}
    member = np.array([numbers[kind] for kind in kinds], dtype=np.intp)
    shares = np.bincount(member, weights, minlength=len(numbers))
    hypotheses, before = (
        tuple(
            Hypothesis(kind[k], float(share)) for kind, share in zip(numbers, shares, strict=True)
        )
        for k in (0, 1)
    )
    answers = tuple(replace(answer, before=True) for answer in belief.fresh)
    follows = frozenset(answer.id for answer in answers)
    predictions = predicted(machine, hypotheses, before, member, z)
    population = Population(
        machine=machine,
        hypotheses=hypotheses,
        member=member,
        z=z,
        params=predictions.params,
        log_base=np.log(np.maximum(weights, 1e-300)) - logs.sum(axis=0),
        absorbed=tuple(follows for _ in hypotheses),
        predictions=predictions,
        before=before,
    )
    return weigh(population, answers, logs)


def _sound(belief: Belief, meant: np.ndarray, rng: np.random.Generator) -> _Way:
    """Return believed machines with every cause gone; of those the repair was meant for, if any."""
    rows, weights = _picked(belief, meant, rng)
    if not rows.size:
        rows, weights = _picked(belief, ~meant, rng)
    every = {cause.repair.id for cause in catalogue().causes}
    return _left_in(belief, rows, weights, [every] * len(rows))


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
    wanting = np.array([bool(want) for want in wants])[belief.population.member]
    rows, weights = _picked(belief, meant & wanting, rng)
    failed = [str(rng.choice(wants[number])) for number in belief.population.member[rows]]
    every = {cause.repair.id for cause in catalogue().causes}
    return _left_in(belief, rows, weights, [every - {one} for one in failed])


def _left_in(belief: Belief, rows: Ints, weights: Array, mends: Sequence[Set[str]]) -> _Way:
    """Return machines ``rows`` with what each of ``mends`` does not mend, sound where it is all.

    Where only the second of two causes is left it becomes the first, in latents and before.
    """
    population = belief.population
    z, kinds = population.z[rows].copy(), []
    for place, (row, done) in enumerate(zip(rows, mends, strict=True)):
        was = population.hypotheses[population.member[row]].causes
        left = [cause for cause in was if cause.repair.id not in {*done, NOTHING}]
        if len(was) > 1 and left == [was[1]]:
            z[place] = with_first(z[place : place + 1], 1)[0]
            was = was[::-1]
        kinds.append((tuple(left) or (catalogue().get(SOUND),), was))
    logs = _fresh_logs(belief)[:, rows]
    return _Way(kinds=tuple(kinds), z=z, logs=logs, weights=weights)


def _fresh_logs(belief: Belief) -> Array:
    """Return the log-likelihoods (m, n) of the answers about the machine as it stood."""
    return belief.log_likelihood[[not answer.before for answer in belief.answers]]


def _another(belief: Belief, mends: Set[str], rng: np.random.Generator) -> _Way:
    """Return machines with a second fault that belief has no name for.

    Causes by the prior's shares, beside the likeliest single cause that the repair has mended.
    What was read before does not weigh them: on a machine that is otherwise than the model
    thinks it would let off the very fault that is there, and nobody would look for it again.
    """
    population = belief.population
    singles = [
        one
        for one in population.hypotheses
        if len(one.causes) == 1 and needed(one) and not set(needed(one)) & mends
    ]
    shares = belief.hypothesis_shares()
    mended = [len(h.causes) == 1 and bool(set(needed(h)) & mends) for h in population.hypotheses]
    first = int(np.argmax(np.where(mended, shares, -1.0)))
    units, _ = _picked(belief, population.member == first, rng)
    if not any(mended) or not singles or not units.size:
        nobody = np.zeros((len(belief.fresh), 0))
        return _Way(kinds=(), z=np.zeros((0, LATENTS)), logs=nobody, weights=nobody.sum(0))
    prior = np.array([one.share for one in singles])
    prior /= prior.sum()
    counts = np.maximum(np.round(prior * MACHINES), FEWEST).astype(int)
    which = np.repeat(np.arange(len(singles)), counts)
    rows = rng.choice(units, len(which))
    z = with_another(population.z[rows], rng.standard_normal((len(rows), LATENTS)))
    alone = population.hypotheses[first].causes
    together = [Hypothesis((*one.causes, *alone), one.share) for one in singles]
    logs = _logs(belief, together, which, z)
    kinds = tuple((singles[number].causes, together[number].causes) for number in which)
    return _Way(kinds=kinds, z=z, logs=logs, weights=(prior / counts)[which])


def _logs(belief: Belief, hypotheses: Sequence[Hypothesis], member: Ints, z: Array) -> Array:
    """Return log-likelihoods (m, n) of the answers about the machine as it stood, on others."""
    predictions = predicted(belief.population.machine, hypotheses, None, member, z)
    found = [likelihood(predictions, answer) for answer in belief.fresh]
    return np.array(found).reshape(len(found), len(member))


def _picked(belief: Belief, among: np.ndarray, rng: np.random.Generator) -> tuple[Ints, Array]:
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
        count = max(round(masses[number] * MACHINES), FEWEST)
        ticks = (rng.random() + np.arange(count)) / count * weights[own].sum()
        places = np.minimum(np.searchsorted(np.cumsum(weights[own]), ticks), len(own) - 1)
        rows.append(own[places])
        shares.append(np.full(count, masses[number] / count))
    if not rows:
        return np.zeros(0, dtype=np.intp), np.zeros(0)
    together = np.concatenate(shares)
    return np.concatenate(rows), together / together.sum()
