"""What an assessment says, as plain frozen objects. No numbers are made here."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from chargewright.checks.catalogue import Check
from chargewright.diagnosis.expected import Band
from chargewright.diagnosis.explain import Evidence
from chargewright.diagnosis.question import Answer, Question
from chargewright.machine.limit import Limit
from chargewright.meters.verdict import Verdict


class Decision(StrEnum):
    """What to do now."""

    CHECK = "check"  # the next check is worth its minutes
    REPAIR = "repair"
    CHARGE = "charge_and_test_again"
    NOTHING = "nothing_wrong_found"
    UNDECIDED = "cannot_tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One reading against one limit."""

    answer: Answer
    limit: Limit
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseFinding:
    """A cause with its probability, how severe it would be, and what mends it.

    ``severity`` holds the 5, 50 and 95 % points of its leading figure in words.
    """

    id: str
    title: str
    component: str
    share: float
    severity: tuple[str, ...]
    repair: str
    repair_title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentFinding:
    """A component and the probability that it is at fault."""

    id: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """A check to do next, with everything the bench needs.

    ``minutes`` is what it costs from here, ``parts`` why; ``wait_h`` hours of waiting.
    ``total_min`` the expected minutes of the whole job when going on with it, against
    ``act_now_min`` for ending at once. ``expected`` what it would read per leading cause.
    """

    check: Check
    question: Question
    minutes: float
    parts: tuple[tuple[str, float], ...]
    wait_h: float
    cautions: tuple[str, ...]
    expected: tuple[Band, ...]
    total_min: float
    act_now_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofFinding:
    """A check after the repair, the span of a sound machine, and the doubt left by then."""

    check: Check
    question: Question
    low: float
    high: float
    remaining: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OutOfSpan:
    """A reading after a repair, and the span of a machine without a fault that it lies outside."""

    answer: Answer
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Unproved:
    """Repairs (ids, and in words) done together that the readings after them have not proved.

    ``cure`` is the chance that they would leave no fault, before anything was read after them;
    ``outside`` are the readings that a machine without a fault does not show.
    """

    repairs: tuple[str, ...]
    title: str
    cure: float
    outside: tuple[OutOfSpan, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """The answer to a case.

    It speaks of the machine with the first ``behind`` rounds of repair done: all but the one that
    is being proved. ``unproved`` is the last of those, where any.
    ``ending`` and ``ending_title`` is the best way to end the job now, ``cure`` its chance of
    leaving no fault, ``end_min`` its expected cost; ``decision`` says whether to end or to go on.
    ``repeat`` are readings to take again, ``would_decide`` what would settle an open case.
    """

    decision: Decision
    ending: str
    ending_title: str
    cure: float
    end_min: float
    go_on_min: float
    components: tuple[ComponentFinding, ...]
    causes: tuple[CauseFinding, ...]
    steps: tuple[NextStep, ...]
    judged: tuple[Judged, ...]
    evidence: tuple[Evidence, ...]
    repeat: tuple[str, ...]
    would_decide: tuple[str, ...]
    proof: tuple[ProofFinding, ...]
    remaining: float | None
    behind: int
    unproved: Unproved | None
    explanation: tuple[str, ...]
    machines: float
    log_evidence: float
