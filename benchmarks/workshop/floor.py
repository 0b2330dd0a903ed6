"""How many of the model's own draws the severity floor refuses, by cause and class."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from benchmarks.workshop.families import CLASSES
from benchmarks.workshop.matters import weigh
from benchmarks.workshop.world import draws
from chargewright.machine.cause_file import catalogue
from chargewright.machine.conditioning import load_class

DRAWS = 40  # of every cause on every class
SEED = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A cause: draws on sound machines over all classes, how many refused, the worst class."""

    cause: str
    sound: int
    refused: int
    worst: str
    worst_share: float

    @property
    def share(self) -> float:
        """Share refused over all classes."""
        return self.refused / max(self.sound, 1)


def refusals() -> Iterator[Refused]:
    """Yield every cause that breaks nothing in some draw, in the order of the catalogue."""
    rng = np.random.default_rng(SEED)
    machines = [load_class(name) for name in CLASSES]
    for cause in catalogue().causes:
        if not cause.changes:
            continue
        sound = refused = 0
        worst, worst_share = "", 0.0
        for machine in machines:
            if not cause.possible(machine):
                continue
            found = weigh(machine, draws(DRAWS, rng), (cause,))
            here, gone = int(found.sound.sum()), int((found.sound & ~found.real).sum())
            sound, refused = sound + here, refused + gone
            if here and gone / here > worst_share:
                worst, worst_share = machine.class_id, gone / here
        if refused:
            yield Refused(
                cause=cause.id, sound=sound, refused=refused, worst=worst, worst_share=worst_share
            )
