"""What is asked of the machine, and what came back."""

from __future__ import annotations

from dataclasses import dataclass, replace

from chargewright.checks.catalogue import Check
from chargewright.checks.looks import Sign
from chargewright.errors import InputError
from chargewright.machine.points import Engine, Function, Point, State
from chargewright.machine.speeds import Speeds
from chargewright.meters.card import MeterCard
from chargewright.meters.shown import Shown

AS_FOUND = State()


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A meter function between two points in a state; or a look, which has a sign instead."""

    function: Function
    plus: Point | None = None
    minus: Point | None = None
    state: State = AS_FOUND
    sign: Sign | None = None

    def __post_init__(self) -> None:
        if self.function is Function.LOOK:
            if self.sign is None:
                raise InputError("a look without a sign: expected one from the catalogue")
        elif self.plus is None or self.minus is None:
            raise InputError(f"{self.function.value} without two test points")

    @property
    def same_point(self) -> bool:
        """Whether both probes touch the same point (the ohms of the leads themselves)."""
        return self.plus is not None and self.plus is self.minus

    @property
    def probe(self) -> tuple[Point, Point]:
        """Both points; ``InputError`` for a look."""
        if self.plus is None or self.minus is None:
            raise InputError("a look has no test points")
        return self.plus, self.minus


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answered question: what a meter showed (``shown``), or what a look found (``seen``).

    ``title`` is how the answer is called in sentences; ``meter`` and ``nulled`` say with what
    it was measured. ``before`` tells that a machine repaired was read before the repair.
    """

    id: str
    title: str
    question: Question
    meter: MeterCard
    shown: Shown | None = None
    seen: bool | None = None
    nulled: bool = False
    before: bool = False

    def __post_init__(self) -> None:
        is_look = self.question.function is Function.LOOK
        if is_look and self.seen is None:
            raise InputError(f"reading {self.id!r}: a look needs what was seen, yes or no")
        if not is_look and self.shown is None:
            raise InputError(f"reading {self.id!r}: nothing was shown; expected a figure or OL")


def question_of(check: Check, state: State | None = None) -> Question:
    """Return the question a catalogue check asks, in ``state`` where another than its own."""
    if check.function is None:
        raise InputError(f"check {check.id!r} changes the machine and asks nothing")
    return Question(
        function=check.function,
        plus=check.plus,
        minus=check.minus,
        state=state or check.state,
        sign=check.sign,
    )


def with_known_speed(question: Question, speeds: Speeds) -> Question:
    """Return the question with an unnoted speed spread from idle to the high speed."""
    state = question.state
    if state.engine is not Engine.RUNNING or state.rpm is not None:
        return question
    state = replace(state, rpm=speeds.idle_rpm, rpm_max=speeds.high_rpm)
    return replace(question, state=state)
