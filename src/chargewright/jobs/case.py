"""From the card to the case: words turned into machine, meter, checks and answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from chargewright.checks.catalogue import Catalogue, Check
from chargewright.checks.cost import Situation
from chargewright.checks.load import Book, kind_of, load_book
from chargewright.checks.modes import Mode
from chargewright.checks.word import describe
from chargewright.diagnosis.case import Case, Mended
from chargewright.diagnosis.decisions import Prices, load_prices
from chargewright.diagnosis.question import Answer, Question
from chargewright.errors import InputError, nearest
from chargewright.jobs.card import JobCard
from chargewright.jobs.codec import card_dict
from chargewright.jobs.lessons import Lesson
from chargewright.jobs.place import workshop_store
from chargewright.jobs.reading import MeterUse, Reading
from chargewright.jobs.rounds import repair_id, rounds
from chargewright.jobs.teaching import learned_catalogue
from chargewright.machine.battery_spec import BatterySpec
from chargewright.machine.cause_file import catalogue as cause_catalogue
from chargewright.machine.conditioning import machine_of
from chargewright.machine.model import Machine
from chargewright.machine.points import Function, State, Warmth
from chargewright.machine.prior import Hypothesis, complaints, prior
from chargewright.machine.spec import SpecSheet
from chargewright.meters.card import MeterCard
from chargewright.meters.load import DEFAULT_METER, load_meter

CHARGED_ACT = "charge_battery"


@dataclass(frozen=True, slots=True, kw_only=True)
class Workshop:
    """What a workshop has made its own: checks and minutes, prices; None for what is shipped.

    ``lessons`` are its closed jobs, which shift the shares of causes.
    """

    checks_file: Path | None = None
    prices_file: Path | None = None
    lessons: tuple[Lesson, ...] = ()
    prices: Prices | None = None  # instead of a file

    def hypotheses(self, machine: Machine, complaint: str | None) -> tuple[Hypothesis, ...]:
        """Return the prior of a machine and a complaint, with what the lessons teach."""
        shipped = prior(machine, complaint)
        if not self.lessons:
            return shipped
        taught = prior(machine, complaint, causes=learned_catalogue(machine, self.lessons))
        return tuple(
            Hypothesis(one.causes, other.share) for one, other in zip(shipped, taught, strict=True)
        )


def this_workshop(
    checks_file: Path | None = None, prices_file: Path | None = None, *, store: Path | None = None
) -> Workshop:
    """Return the workshop with what its store teaches; ``store`` None is the usual one, if any.

    Raises StoreError when a store is there and cannot be read.
    """
    path = store or workshop_store()
    lessons: tuple[Lesson, ...] = ()
    if path is not None:
        from chargewright.jobs.store import JobStore  # the database is slow to load

        with JobStore(path) as opened:
            lessons = opened.lessons.counting()
    return Workshop(checks_file=checks_file, prices_file=prices_file, lessons=lessons)


def machine_from(card: JobCard) -> Machine:
    """Return the machine that a card describes; ``InputError`` names the field."""
    battery = card_dict(card).get("battery", {})
    return machine_of(
        card.machine.class_id,
        SpecSheet.from_dict(card.machine.spec, "machine.spec") if card.machine.spec else None,
        battery=BatterySpec.from_dict(battery, "battery") if battery else None,
        ambient_c=card.ambient_c,
    )


def case_from(card: JobCard, workshop: Workshop | None = None) -> Case:
    """Return the case of a card.

    Raises ``InputError`` for a class, complaint, meter, check or opening that does not exist.
    """
    workshop = workshop or Workshop()
    machine = machine_from(card)
    kind = card.complaint.kind
    if kind is not None and kind not in complaints():
        raise InputError(f"complaint.kind {kind!r} is unknown; {nearest(kind, complaints())}")
    book = load_book(kind_of(card.machine.class_id, workshop.checks_file), workshop.checks_file)
    for name in card.opened:
        if name not in book.effort.access.ids:
            hint = nearest(name, book.effort.access.ids)
            raise InputError(f"opened names {name!r}, which does not exist; {hint}")
    meter = meter_from(card.meter)
    proof = _answers(card.proof, card, machine, book)
    return Case(
        machine=machine,
        book=book,
        meter=meter,
        prices=workshop.prices or load_prices(workshop.prices_file),
        complaint=kind,
        nulled=card.meter.leads_nulled if card.meter is not None else False,
        answers=_answers(card.evidence, card, machine, book),
        proof=proof,
        mended=_mended(card, proof),
        situation=situation_from(card, machine),
        seed=card.seed,
    )


def _mended(card: JobCard, proof: tuple[Answer, ...]) -> tuple[Mended, ...]:
    """Return the rounds of repair and proof; a repair that no catalogue knows mends nothing."""
    known = {cause.repair.id: cause.repair for cause in cause_catalogue().causes}
    found = []
    for one in rounds(card):
        ids = dict.fromkeys(repair_id(repair) for repair in one.repairs)
        found.append(
            Mended(
                repairs=tuple(known[name] for name in ids if name in known),
                answers=tuple(answer for answer in proof if answer.id in one.readings),
            )
        )
    return tuple(found)


def meter_from(use: MeterUse | None) -> MeterCard:
    """Return the meter a card names; the coarser of the shipped ones when nobody said which."""
    if use is None:
        return _shipped_meter(DEFAULT_METER)
    if use.own_card is not None:
        return load_meter(use.own_card)
    return _shipped_meter(str(use.card))


@cache
def _shipped_meter(name: str) -> MeterCard:
    return load_meter(name)


def situation_from(card: JobCard, machine: Machine) -> Situation:
    """Return how the machine stands after the last reading and what has been done."""
    mode = Mode()
    counted = [reading for reading in card.readings if reading.excluded is None]
    if counted and counted[-1].function is not Function.LOOK:
        state = counted[-1].state
        mode = Mode(
            engine=state.engine,
            # Not known is taken as cold: warming up is then paid for where it is wanted.
            warmth=Warmth.COLD if state.warmth is Warmth.UNKNOWN else state.warmth,
            plug_in=state.plug_in,
            battery_in=state.battery_in,
        )
    charged = (
        any(act.act == CHARGED_ACT for act in card.done)
        or any(reading.state.battery_charged for reading in counted)
        or bool(card.repairs and card.proof)  # a repair is proved on a charged battery
    )
    return Situation(open=frozenset(card.opened), mode=replace(mode, charged=charged))


def speeds_of(machine: Machine) -> Mapping[str, float]:
    """Return the speeds [rpm] behind the words idle, mid and high."""
    return {word: machine.speeds.rpm(word) for word in ("idle", "mid", "high")}


def state_of(reading: Reading, machine: Machine) -> State:
    """Return the state of a reading, words turned into speeds."""
    state = reading.state.machine_state(speeds_of(machine))
    if reading.state.rpm == "idle":
        return replace(state, rpm_rel_u=machine.speeds.idle_rel_sd)
    return state


def check_of(reading: Reading, book: Book, catalogue: Catalogue) -> Check | None:
    """Return the check a reading names, or None where this machine's catalogue has no use for it.

    Raises ``InputError`` for an id that no machine has.
    """
    if reading.check is None or reading.check in catalogue:
        return None if reading.check is None else catalogue.get(reading.check)
    by_id = {check.id: check for check in book.checks}
    if reading.check not in by_id:
        hint = nearest(reading.check, by_id)
        raise InputError(f"reading {reading.id!r}: check {reading.check!r} does not exist; {hint}")
    return by_id[reading.check] if reading.function is Function.LOOK else None


def answer_from(
    reading: Reading,
    card: JobCard,
    machine: Machine,
    book: Book,
    *,
    catalogue: Catalogue | None = None,
) -> Answer | None:
    """Return the answer a reading gives, or None where nothing usable was shown."""
    if catalogue is None:
        catalogue = book.catalogue(
            machine.layout, machine.speeds, lights_always_on=machine.lights_always_on
        )
    check = check_of(reading, book, catalogue)
    state = state_of(reading, machine)
    sign = check.sign if check is not None and reading.function is Function.LOOK else None
    if reading.function is Function.LOOK and sign is None:
        raise InputError(f"reading {reading.id!r}: check {reading.check!r} is no look")
    shown = reading.shown.for_meter() if reading.shown is not None else None
    if reading.function is not Function.LOOK and shown is None:
        return None
    title = (
        check.title
        if check is not None
        else describe(reading.function, reading.plus, reading.minus, state)
    )
    use = reading.meter or card.meter
    return Answer(
        id=reading.id,
        title=title,
        question=Question(
            function=reading.function,
            plus=reading.plus,
            minus=reading.minus,
            state=check.state if sign is not None and check is not None else state,
            sign=sign,
        ),
        meter=meter_from(use),
        shown=shown,
        seen=reading.sign,
        nulled=use.leads_nulled if use is not None else False,
    )


def _answers(
    readings: tuple[Reading, ...], card: JobCard, machine: Machine, book: Book
) -> tuple[Answer, ...]:
    catalogue = book.catalogue(
        machine.layout, machine.speeds, lights_always_on=machine.lights_always_on
    )
    found = (answer_from(reading, card, machine, book, catalogue=catalogue) for reading in readings)
    return tuple(answer for answer in found if answer is not None)
