"""One job as the diagnosis sees it: a machine, a meter, a complaint, what was read so far."""

from __future__ import annotations

from dataclasses import dataclass, field

from chargewright.checks.catalogue import Catalogue
from chargewright.checks.cost import Effort, Situation
from chargewright.checks.load import Book
from chargewright.diagnosis.decisions import Prices
from chargewright.diagnosis.question import Answer
from chargewright.machine.causes import Repair
from chargewright.machine.model import Machine
from chargewright.meters.card import MeterCard


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """Repairs done together, and what was read after them and before the next."""

    repairs: tuple[Repair, ...]
    answers: tuple[Answer, ...] = ()

    @property
    def ids(self) -> frozenset[str]:
        """The ids of the repairs."""
        return frozenset(repair.id for repair in self.repairs)

    @property
    def title(self) -> str:
        """What was done, in words."""
        return " and ".join(repair.title for repair in self.repairs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Everything an assessment starts from.

    ``answers`` speak about the fault, ``proof`` were read after a repair, ``mended`` are the
    repairs in their order with what was read after each. ``situation`` is how the machine
    stands now. ``seed`` makes the assessment repeatable.
    """

    machine: Machine
    book: Book
    meter: MeterCard
    prices: Prices
    complaint: str | None = None
    nulled: bool = False
    answers: tuple[Answer, ...] = ()
    proof: tuple[Answer, ...] = ()
    mended: tuple[Mended, ...] = ()
    situation: Situation = field(default_factory=Situation)
    seed: int = 0

    @property
    def catalogue(self) -> Catalogue:
        """The checks that exist on this machine."""
        machine = self.machine
        return self.book.catalogue(
            machine.layout, machine.speeds, lights_always_on=machine.lights_always_on
        )

    @property
    def effort(self) -> Effort:
        """What this workshop's minutes are made of."""
        return self.book.effort
