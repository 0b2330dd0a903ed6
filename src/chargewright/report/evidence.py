"""Which readings a report rests on: those that decided, those before and after, what is missing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from chargewright.diagnosis.case import Case
from chargewright.diagnosis.findings import Assessment, CauseFinding, Judged
from chargewright.diagnosis.population import SOUND
from chargewright.diagnosis.question import Answer, Question
from chargewright.machine.points import Engine, Function, Load, Point, Warmth
from chargewright.meters.verdict import Outcome as Verdict
from chargewright.report.say import say

TELLING = 3.0  # a reading decided when it made the cause three times likelier or more (assumed)
SAME_SPEED = 0.10  # speeds this close are compared, as in the words of a check
LEADS = frozenset({Point.ALT_A, Point.ALT_B, Point.ALT_C, Point.REG_A, Point.REG_B, Point.REG_C})


@dataclass(frozen=True, slots=True)
class Zone:
    """Where a sound machine reads, and how that is known."""

    low: float | None
    high: float | None
    published: bool  # a limit; otherwise worked out for this machine


@dataclass(frozen=True, slots=True)
class Compared:
    """One reading, or the same one before and after the repair, with a sound machine's zone."""

    before: Answer | None
    after: Answer | None
    zone: Zone | None

    @property
    def answer(self) -> Answer:
        """The later of the two."""
        found = self.after or self.before
        assert found is not None
        return found


def at_fault(found: Assessment) -> tuple[CauseFinding, ...]:
    """Return the causes that the ending would mend, the likeliest first."""
    repairs = set(found.ending.split("+"))
    return tuple(cause for cause in found.causes if cause.repair in repairs and cause.id != SOUND)


def deciding(case: Case, found: Assessment) -> tuple[Answer, ...]:
    """Return the readings that made the leading causes likelier, the strongest first."""
    leading = {cause.id for cause in at_fault(found)[:2]}
    if not leading and found.causes:
        leading = {found.causes[0].id}
    score: dict[str, float] = {}
    for one in found.evidence:
        factors = [say.factor for say in one.says if say.cause in leading]
        best = max(factors, default=0.0)
        if best >= TELLING and one.id not in found.repeat:
            score[one.id] = math.log(best)
    by_id = {answer.id: answer for answer in (*case.answers, *case.proof)}
    order = sorted(score, key=lambda name: -score[name])
    return tuple(by_id[name] for name in order if name in by_id)


def compared(case: Case, found: Assessment) -> tuple[Compared, ...]:
    """Return every reading after the repair with its like before, in the card's order."""
    pairs = []
    for after in case.proof:
        like = [one for one in case.answers if alike(one.question, after.question)]
        before = like[-1] if like else None
        pairs.append(Compared(before, after, zone_of(found, after)))
    return tuple(pairs)


def alike(first: Question, second: Question) -> bool:
    """Tell whether two readings can be compared: same points, dial and machine state."""
    if (first.function, first.plus, first.minus) != (second.function, second.plus, second.minus):
        return False
    one, two = first.state, second.state
    if (one.engine, one.plug_in, one.load, one.lights_on) != (
        two.engine,
        two.plug_in,
        two.load,
        two.lights_on,
    ):
        return False
    if one.engine is not Engine.RUNNING:
        return True
    if one.rpm is None or two.rpm is None:
        return one.rpm is two.rpm
    return abs(one.rpm - two.rpm) <= SAME_SPEED * two.rpm


def zone_of(found: Assessment, answer: Answer) -> Zone | None:
    """Return where a sound machine reads: its limits, else the span worked out for the proof."""
    limits = [one.limit for one in found.judged if one.answer == answer]
    if limits:
        lows = [limit.low for limit in limits if limit.low is not None]
        highs = [limit.high for limit in limits if limit.high is not None]
        return Zone(max(lows, default=None), min(highs, default=None), published=True)
    for one in found.proof:
        if alike(one.question, answer.question):
            return Zone(one.low, one.high, published=False)
    return None


def worst(found: Assessment, answer: Answer) -> Judged | None:
    """Return the verdict of a reading that matters most: outside, else open, else inside."""
    order = {Verdict.OUTSIDE: 0, Verdict.UNDECIDED: 1, Verdict.INSIDE: 2}
    mine = [one for one in found.judged if one.answer == answer]
    return min(mine, key=lambda one: order[one.verdict.outcome], default=None)


def not_tested(case: Case) -> tuple[str, ...]:
    """Return what no reading of this job looked at, told by points, dial and state alone."""
    asked = [answer.question for answer in (*case.answers, *case.proof)]
    electric = [one for one in asked if one.function is not Function.LOOK]

    def any_of(*, engine: Engine | None = None, functions: frozenset[Function]) -> bool:
        return any(
            one.function in functions and (engine is None or one.state.engine is engine)
            for one in electric
        )

    volts, amps = frozenset({Function.DC_V}), frozenset({Function.DC_A, Function.CLAMP_A})
    loaded = any(
        one.state.engine is Engine.CRANKING or one.state.load is not Load.NONE for one in electric
    )
    leads = any({one.plus, one.minus} & LEADS for one in electric)
    hot = any(one.state.warmth is Warmth.HOT for one in electric)
    missing = [
        (
            any_of(engine=Engine.RUNNING, functions=volts),
            say("the charging voltage, engine running"),
        ),
        (leads, say("the alternator itself, at its leads")),
        (loaded, say("the battery under load or while cranking")),
        (any_of(engine=Engine.OFF, functions=amps), say("the current that flows with the key off")),
        (hot, say("the parts when hot, after a longer ride")),
    ]
    return tuple(text for tested, text in missing if not tested)
