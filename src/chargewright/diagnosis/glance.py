"""What can be said at once: the machines at hand weighed again, before any are drawn anew.

A full assessment draws fresh machines where few are left and plans ahead, which takes seconds of
computing at times. Verdicts and ranked causes need neither.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from chargewright.diagnosis.assess import (
    components_of,
    judged,
    likely_causes,
    settled,
    to_repeat,
)
from chargewright.diagnosis.belief import Belief, believe
from chargewright.diagnosis.case import Case
from chargewright.diagnosis.explain import Evidence, evidence
from chargewright.diagnosis.findings import CauseFinding, ComponentFinding, Judged, NextStep
from chargewright.machine.points import Function

BELIEVED = 1e-9  # weight from which a machine is worth solving in advance


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """Verdicts, ranked causes and what the readings say, without a plan."""

    components: tuple[ComponentFinding, ...]
    causes: tuple[CauseFinding, ...]
    judged: tuple[Judged, ...]
    evidence: tuple[Evidence, ...]
    repeat: tuple[str, ...]


def glance(belief: Belief, case: Case) -> Glance:
    """Return what the readings of ``case`` say to the machines of an earlier ``belief``."""
    now = believe(belief.population, settled(case, case.answers), belief)
    causes = likely_causes(now)
    said = evidence(now, [(cause.id, cause.title) for cause in causes])
    return Glance(
        components=components_of(now),
        causes=causes,
        judged=judged(case),
        evidence=said,
        repeat=to_repeat(said),
    )


def anticipate(belief: Belief, case: Case, steps: Sequence[NextStep]) -> None:
    """Work out what the offered checks read on every machine believed in, for the next glance."""
    rows = np.flatnonzero(belief.weights > BELIEVED)
    asked = [
        step.question
        for step in steps
        if step.question.function is not Function.LOOK and not step.question.same_point
    ]
    belief.population.predictions.prepare(asked, case.meter, rows)
