"""The population of virtual machines: every cause, and plausible pairs of causes.

Stratified: each hypothesis (no fault, one cause, two causes) gets machines of its own, however
rare it is, and its prior probability is shared among them. A machine is a vector of standard
normal latents; the machine room turns it into parameters. After a refinement a hypothesis'
machines follow the readings it has absorbed, and carry the evidence found on the way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from chargewright.diagnosis.predict import Predictions
from chargewright.machine.draw import LATENTS, afflict, healthy
from chargewright.machine.model import Machine
from chargewright.machine.parameters import Array
from chargewright.machine.prior import Hypothesis

Ints = NDArray[np.intp]

SINGLE_COUNT = 640  # machines per single cause
SOUND_COUNT = 1000  # machines without a fault
PAIR_COUNT = 200  # machines per pair of causes


SOUND = "no_fault"


def name_of(hypothesis: Hypothesis) -> str:
    """Return the ids of a hypothesis' causes, joined by a plus."""
    return "+".join(cause.id for cause in hypothesis.causes)


def readings_in(answer_id: str) -> list[str]:
    """Return the readings an answer is made of: repeats of one question are joined by a plus."""
    return answer_id.split("+")


def size_of(hypothesis: Hypothesis) -> int:
    """Return how many machines a hypothesis gets at first."""
    if len(hypothesis.causes) > 1:
        return PAIR_COUNT
    return SOUND_COUNT if name_of(hypothesis) == SOUND else SINGLE_COUNT


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Population:
    """n machines: ``member`` (n,) their hypothesis, ``z`` (n, LATENTS), ``params`` (n, COUNT).

    A machine's weight under a set of answers is exp(``log_base`` + sum of its log-likelihoods).
    ``absorbed`` lists, per hypothesis, the readings its machines already follow. ``before`` has,
    for machines repaired, what each hypothesis was before the repair, by the same latents.
    """

    machine: Machine
    hypotheses: tuple[Hypothesis, ...]
    member: Ints
    z: Array
    params: Array
    log_base: Array
    absorbed: tuple[frozenset[str], ...]
    predictions: Predictions = field(repr=False)
    before: tuple[Hypothesis, ...] | None = None

    def of(self, hypothesis: int) -> Ints:
        """Return the indices of a hypothesis' machines."""
        return np.flatnonzero(self.member == hypothesis)

    def follow(self, hypothesis: int, answer_id: str) -> bool:
        """Tell whether a hypothesis' machines follow an answer, or the first of its repeats."""
        return not self.absorbed[hypothesis].isdisjoint(readings_in(answer_id))


def populate(
    machine: Machine, hypotheses: Sequence[Hypothesis], rng: np.random.Generator
) -> Population:
    """Draw a population from the prior.

    Every hypothesis gets the same units: luck in what no cause bears on then cancels between
    hypotheses instead of deciding for one of them.
    """
    sizes = [size_of(hypothesis) for hypothesis in hypotheses]
    member = np.repeat(np.arange(len(sizes)), sizes)
    units = rng.standard_normal((max(sizes), LATENTS))
    z = np.concatenate([units[:size] for size in sizes])
    priors = np.array([hypothesis.share for hypothesis in hypotheses])
    log_base = np.log(priors / priors.sum() / sizes)[member]
    params = parameters_of(machine, hypotheses, member, z)
    return Population(
        machine=machine,
        hypotheses=tuple(hypotheses),
        member=member,
        z=z,
        params=params,
        log_base=log_base,
        absorbed=tuple(frozenset() for _ in hypotheses),
        predictions=Predictions(machine.layout, params),
    )


def predicted(
    machine: Machine,
    hypotheses: Sequence[Hypothesis],
    before: Sequence[Hypothesis] | None,
    member: Ints,
    z: Array,
) -> Predictions:
    """Return predictions, nothing asked yet, of machines given by hypothesis number and latents.

    With ``before``, also of the same machines as they were before they were repaired.
    """
    found = Predictions(machine.layout, parameters_of(machine, hypotheses, member, z))
    if before is not None:
        found.before = predicted(machine, before, None, member, z)
    return found


def parameters_of(
    machine: Machine, hypotheses: Sequence[Hypothesis], member: Ints, z: Array
) -> Array:
    """Return parameters (n, COUNT) of machines given by hypothesis number and latents."""
    params = healthy(machine, z)
    for number in np.unique(member):
        rows = np.flatnonzero(member == number)
        params[rows] = afflict(machine, hypotheses[number].causes, z[rows], params[rows])
    return params
