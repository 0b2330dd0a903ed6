"""Going on after a repair: what to believe of the machine after each repair on the card.

While a repair's proof goes well nothing is asked anew. When a reading after it speaks for a fault
still there, or the proof is through and has not proved it, the machine as it then is becomes the
machine of the assessment: a second fault, or the first one not mended, is looked for like any.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass

import numpy as np

from chargewright.diagnosis.belief import Belief, combine
from chargewright.diagnosis.case import Case, Mended
from chargewright.diagnosis.findings import OutOfSpan, ProofFinding, Unproved
from chargewright.diagnosis.prove import ENOUGH, outside, proof_checks
from chargewright.diagnosis.question import Question
from chargewright.diagnosis.refine import learn
from chargewright.diagnosis.repaired import after_repair, remaining_fault
from chargewright.diagnosis.settled import settled
from chargewright.machine.points import Function, Point

FAILED = 0.5  # chance of a fault still there from which a proof is broken off


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class After:
    """The machine after one round of repairs: belief before it, after it, and with its proof."""

    mended: Mended
    before: Belief
    start: Belief
    now: Belief

    @property
    def remaining(self) -> float | None:
        """The chance that a fault is left; None where nothing has been read since."""
        return remaining_fault(self.now) if self.mended.answers else None


def follow(case: Case, before: Belief, held: Sequence[After] = ()) -> tuple[After, ...]:
    """Return the machine after each round of the case; what still holds of ``held`` is kept."""
    found: list[After] = []
    for number, mended in enumerate(case.mended):
        old = held[number] if number < len(held) else None
        if old is not None and (old.before is not before or old.mended.ids != mended.ids):
            old = None
        found.append(_after(case, mended, before, old, number))
        before = found[-1].now
    return tuple(found)


def _after(case: Case, mended: Mended, before: Belief, old: After | None, number: int) -> After:
    seeds = [case.seed, len(case.answers), number + 1]
    if old is None:
        start = after_repair(before, mended.ids, np.random.default_rng(seeds))
    elif old.mended == mended:
        return old
    else:
        start = old.start
    # combined first: machines that follow a reading are no start for it and its repeat as one
    answers = combine((*start.answers, *settled(case, mended.answers)))
    known = start
    if old is not None and answers[: len(old.now.answers)] == old.now.answers:
        known = old.now
    rng = np.random.default_rng([*seeds, len(answers)])
    now = learn(known.population, answers, rng, known)
    return After(mended=mended, before=before, start=start, now=now)


def proof_of(case: Case, start: Belief) -> tuple[ProofFinding, ...]:
    """Return the checks that prove a repair after which ``start`` is believed."""
    return proof_checks(
        start,
        catalogue=case.catalogue,
        effort=case.effort,
        meter=case.meter,
        lights_always_on=case.machine.lights_always_on,
    )


def proof_for(case: Case, belief: Belief, repairs: Set[str]) -> tuple[ProofFinding, ...]:
    """Return the checks that would prove repairs (ids) not done yet."""
    return proof_of(case, after_repair(belief, repairs, _rng(case)))


def remaining_for(case: Case, belief: Belief, repairs: Set[str]) -> float:
    """Return the chance that a fault is left, of repairs (ids) proved but not on the card."""
    start = after_repair(belief, repairs, _rng(case))
    answers = (*start.answers, *settled(case, case.proof))
    return remaining_fault(learn(start.population, answers, _rng(case), start))


def _rng(case: Case) -> np.random.Generator:
    return np.random.default_rng([case.seed, len(case.answers)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stand:
    """The machine to look into: belief about it, and how its last repair stands.

    ``behind`` counts the rounds of repair that ``belief`` has behind it. ``proof`` are the checks
    of the round after those, where one is under way; ``unproved`` is the last round behind,
    ``remaining`` the chance of a fault by the readings of whichever of the two is the last.
    """

    belief: Belief
    behind: int = 0
    proof: tuple[ProofFinding, ...] = ()
    remaining: float | None = None
    unproved: Unproved | None = None


def stand(case: Case, belief: Belief, after: Sequence[After]) -> Stand:
    """Return which machine is looked into after the rounds of repair on the card."""
    if not after:
        return Stand(belief=belief)
    last = after[-1]
    proof = proof_of(case, last.start)
    if _failed(last, proof):
        return Stand(
            belief=last.now,
            behind=len(after),
            remaining=last.remaining,
            unproved=_unproved(case, last),
        )
    return Stand(
        belief=last.before,
        behind=len(after) - 1,
        proof=proof,
        remaining=last.remaining,
        unproved=_unproved(case, after[-2]) if len(after) > 1 else None,
    )


def _failed(after: After, proof: Sequence[ProofFinding]) -> bool:
    """Tell whether what was read after a repair leaves it unproved."""
    remaining = after.remaining
    if remaining is None:
        return False
    read = {_asked(answer.question) for answer in after.mended.answers}
    through = all(_asked(one.question) in read for one in proof)
    return remaining > FAILED or (through and remaining > ENOUGH)


def _asked(question: Question) -> tuple[Function, Point | None, Point | None]:
    return question.function, question.plus, question.minus


def _unproved(case: Case, after: After) -> Unproved:
    return Unproved(
        repairs=tuple(sorted(after.mended.ids)),
        title=after.mended.title,
        cure=1.0 - remaining_fault(after.start),
        outside=tuple(
            OutOfSpan(answer=answer, low=low, high=high)
            for answer, (low, high) in outside(after.start, settled(case, after.mended.answers))
        ),
    )
