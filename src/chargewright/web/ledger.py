"""Changes to job cards: each one is on the disk before it is answered, and may come twice.

Nothing here asks the model; a reading is understood, refused when it must not be taken, and kept.
"""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection

from chargewright.checks.safety import refuse_charging
from chargewright.errors import ConflictError, InputError, MissingError, nearest
from chargewright.jobs.card import Act, ConfirmedCause, JobCard, Machine, Repair
from chargewright.jobs.case import CHARGED_ACT, Workshop, case_from
from chargewright.jobs.changes import Kind, changed_since, taken_back
from chargewright.jobs.reading import Reading, Stage
from chargewright.jobs.store import JobStore, Saved
from chargewright.machine.cause_file import catalogue
from chargewright.machine.points import Function
from chargewright.web.models import HeadChange, NewCause, NewJob, NewReading, ReadingChange
from chargewright.web.own import meter_use, sheet_of
from chargewright.workbench import Job

IN_MACHINE = ("label", "spec", "mileage_km", "engine_h")


@dataclass(frozen=True, slots=True)
class Kept:
    """What became of a reading; ``reading`` is None when it had been taken back."""

    saved: Saved
    reading: Reading | None
    since: tuple[Reading, ...]


class Ledger:
    """The jobs of one store, changed one after another."""

    def __init__(self, store: JobStore, workshop: Workshop) -> None:
        self.store = store
        self.workshop = workshop

    def begin(self, new: NewJob) -> Saved:
        """Begin a job; one that is there already with the same head stays as it is."""
        card = self._new_card(new)
        case_from(card, self.workshop)  # a class, complaint or meter that does not exist stops here
        if new.id is not None:
            try:
                stored, revision = self.store.load_with_revision(new.id)
            except MissingError:
                pass
            else:
                if _head(stored) != _head(card):
                    raise ConflictError(
                        f"job {new.id!r} is here already and is another one; choose another id",
                        yours=_head(card),
                        here=_head(stored),
                    )
                return Saved(stored, revision, changed=False)
        return Saved(card, self.store.save(card, expected_revision=0), changed=True)

    def change_head(self, job_id: str, sent: HeadChange) -> Saved:
        """Change fields of the head that still are what they were when they were seen."""

        def change(card: JobCard, _connection: Connection) -> JobCard:
            fields: dict[str, Any] = {}
            machine: dict[str, Any] = {}
            for name in HeadChange.model_fields:
                asked = getattr(sent, name)
                if asked is None:
                    continue
                was, now = asked.was, asked.now
                if name == "meter":
                    was, now = meter_use(self.store, was), meter_use(self.store, now)
                here = getattr(card.machine if name in IN_MACHINE else card, name)
                if here not in (was, now):
                    raise ConflictError(
                        f"{name} of job {job_id!r} has been changed by somebody else",
                        yours=_plain(now),
                        here=_plain(here),
                    )
                (machine if name in IN_MACHINE else fields)[name] = now
            if machine:
                fields["machine"] = card.machine.model_copy(update=machine)
            changed = card.changed(**fields)
            case_from(changed, self.workshop)
            return changed

        return self.store.alter(job_id, change)

    def put_reading(self, job_id: str, sent: NewReading) -> Kept:
        """Put a reading on the card; the same one again changes nothing.

        Raises ``ConflictError`` for another reading of the same id, and for one that speaks of
        the fault though a repair was noted that its phone had not seen.
        """
        gone = False
        since: tuple[str, ...] = ()

        def change(card: JobCard, connection: Connection) -> JobCard:
            nonlocal gone, since
            if sent.seen_revision is not None:
                since = changed_since(connection, job_id, sent.seen_revision, Kind.READING)
            job = Job(card, workshop=self.workshop)
            made = reading_from(job, sent)
            stored = next((one for one in card.readings if one.id == sent.id), None)
            if stored is not None:
                if not _same_reading(stored, made):
                    raise ConflictError(
                        f"reading {sent.id!r} is here already and says something else",
                        yours=_plain(made),
                        here=_plain(stored),
                    )
                return card
            if taken_back(connection, job_id, sent.id):
                gone = True
                return card
            self._refuse_across_repair(card, connection, sent, made)
            job.add(made)
            if sent.check is not None and sent.opened:
                job.opened(*job.check(sent.check).needs)
            return job.card

        saved = self.store.alter(job_id, change)
        by_id = {one.id: one for one in saved.card.readings}
        return Kept(
            saved,
            None if gone else by_id[sent.id],
            tuple(by_id[name] for name in since if name != sent.id and name in by_id),
        )

    def _refuse_across_repair(
        self, card: JobCard, connection: Connection, sent: NewReading, made: Reading
    ) -> None:
        if made.stage is not Stage.FAULT or sent.confirmed or sent.seen_revision is None:
            return
        unseen = changed_since(connection, card.id, sent.seen_revision, Kind.REPAIR)
        if unseen and card.repairs:
            raise ConflictError(
                "a repair was noted that this phone had not seen: was this read before it "
                "(confirmed) or after it (stage after_repair)?",
                yours=_plain(made),
                here=[_plain(repair) for repair in card.repairs],
            )

    def preview(self, job_id: str, sent: NewReading) -> Reading:
        """Return what a reading would be on the card; nothing is stored."""
        return reading_from(Job(self.store.load(job_id), workshop=self.workshop), sent)

    def change_reading(self, job_id: str, reading_id: str, sent: ReadingChange) -> Saved:
        """Exclude a reading or take it in again, or change its note."""

        def change(card: JobCard, _connection: Connection) -> JobCard:
            stored = next((one for one in card.readings if one.id == reading_id), None)
            if stored is None:
                known = [one.id for one in card.readings]
                hint = nearest(reading_id, known) if known else "it has none yet"
                raise MissingError(f"job {job_id!r} has no reading {reading_id!r}; {hint}")
            given = {name: getattr(sent, name) for name in sent.model_fields_set}
            if given.get("note", "") is None:
                raise InputError("note: given null, expected text")
            new = stored.model_copy(update=given)
            readings = tuple(new if one.id == reading_id else one for one in card.readings)
            return card.changed(readings=readings)

        return self.store.alter(job_id, change)

    def drop_reading(self, job_id: str, reading_id: str) -> Saved:
        """Take a reading off the card; nothing happens when it is gone already."""
        return self.store.alter(
            job_id,
            lambda card, _connection: card.changed(
                readings=tuple(one for one in card.readings if one.id != reading_id)
            ),
        )

    def open_covers(self, job_id: str, covers: list[str]) -> Saved:
        """Note covers that are open, with all that lies before them."""

        def change(card: JobCard, _connection: Connection) -> JobCard:
            job = Job(card, workshop=self.workshop)
            job.opened(*covers)
            return job.card

        return self.store.alter(job_id, change)

    def close_cover(self, job_id: str, cover: str) -> Saved:
        """Note a cover as closed again, with those behind it."""

        def change(card: JobCard, _connection: Connection) -> JobCard:
            access = case_from(card, self.workshop).effort.access
            access.opening(cover)
            kept = tuple(name for name in card.opened if cover not in access.closure([name]))
            return card.changed(opened=kept)

        return self.store.alter(job_id, change)

    def note_act(self, job_id: str, act: Act) -> Saved:
        """Note something done; charging is refused where it must not be done."""

        def change(card: JobCard, _connection: Connection) -> JobCard:
            if act in card.done:
                return card
            if act.act != CHARGED_ACT:
                raise InputError(f"act {act.act!r} is unknown; {nearest(act.act, [CHARGED_ACT])}")
            chemistry = case_from(card, self.workshop).machine.chemistries[0]
            refuse_charging(chemistry, card.ambient_c)
            return card.changed(done=(*card.done, act))

        return self.store.alter(job_id, change)

    def drop_act(self, job_id: str, at: datetime) -> Saved:
        """Take back what was noted as done at a time."""
        return self.store.alter(
            job_id,
            lambda card, _connection: card.changed(
                done=tuple(one for one in card.done if one.at != at)
            ),
        )

    def note_repair(self, job_id: str, repair: Repair) -> Saved:
        """Note a repair."""
        known = {cause.id for cause in catalogue().causes}
        repairs = {cause.repair.id for cause in catalogue().causes}
        for name, value, words in (
            ("cause", repair.cause, known),
            ("repair", repair.repair, repairs),
        ):
            if value is not None and value not in words:
                raise InputError(f"{name} {value!r} is unknown; {nearest(value, words)}")
        return self.store.alter(
            job_id,
            lambda card, _connection: (
                card if repair in card.repairs else card.changed(repairs=(*card.repairs, repair))
            ),
        )

    def drop_repair(self, job_id: str, at: datetime) -> Saved:
        """Take back the repairs noted at a time."""
        return self.store.alter(
            job_id,
            lambda card, _connection: card.changed(
                repairs=tuple(one for one in card.repairs if one.at != at)
            ),
        )

    def confirm(self, job_id: str, sent: NewCause | None) -> Saved:
        """Say what it was in the end; None takes it back."""
        cause = None
        if sent is not None:
            known = {cause.id for cause in catalogue().causes}
            for name in (sent.cause, *sent.also):
                if name not in known:
                    raise InputError(f"cause {name!r} is unknown; {nearest(name, known)}")
            cause = ConfirmedCause(
                cause=sent.cause, also=tuple(sent.also), by=sent.by, note=sent.note
            )
        return self.store.alter(
            job_id, lambda card, _connection: card.changed(confirmed_cause=cause)
        )

    def _new_card(self, new: NewJob) -> JobCard:
        class_id, spec = new.class_id, dict(new.spec)
        if new.sheet is not None:
            sheet = sheet_of(self.store, new.sheet)
            class_id = class_id or str(sheet["class"])
            spec = {**sheet["spec"], **spec}
        if class_id is None:
            raise InputError("class is missing: expected a machine class, or a sheet that has one")
        created = self.store.now().astimezone(UTC).replace(microsecond=0)
        return JobCard(
            id=new.id or fresh_id(new.label, created),
            created=created,
            title=new.title,
            machine=Machine(
                class_id=class_id,
                label=new.label,
                spec=spec,
                mileage_km=new.mileage_km,
                engine_h=new.engine_h,
            ),
            battery=new.battery,
            meter=meter_use(self.store, new.meter),
            complaint=new.complaint,
            ambient_c=new.ambient_c,
        )


def reading_from(job: Job, sent: NewReading) -> Reading:
    """Return the reading a phone sent, understood for this machine as it stands."""
    if sent.check is not None:
        if sent.function or sent.plus or sent.minus:
            raise InputError("given 'check' and points: expected one or the other")
        reading = job.reading_as_it_stands(job.check(sent.check), sent.text, state=sent.state)
    else:
        if sent.function is None or sent.plus is None or sent.minus is None:
            raise InputError("expected 'check', or 'function', 'plus' and 'minus'")
        if sent.function == Function.LOOK.value:
            raise InputError("function 'look': a look needs 'check', which says what to look at")
        reading = job.free_reading(
            sent.function, sent.plus, sent.minus, sent.text, state=sent.state
        )
    at = sent.at or datetime.now(UTC)
    return reading.model_copy(
        update={"id": sent.id, "at": at, "stage": sent.stage, "note": sent.note}
    )


def fresh_id(label: str, created: datetime) -> str:
    """Return an id made of the label, the time and chance."""
    stem = re.sub(r"[^A-Za-z0-9]+", "-", label).strip("-")[:30] or "job"
    return f"{stem}-{created:%Y%m%d-%H%M%S}-{secrets.token_hex(2)}"


def _same_reading(stored: Reading, made: Reading) -> bool:
    """Tell whether two readings say the same; when and in which mode may have been filled in."""

    def says(one: Reading) -> tuple[object, ...]:
        return one.check, one.function, one.plus, one.minus, one.shown, one.sign, one.stage

    return says(stored) == says(made)


def _head(card: JobCard) -> Any:  # noqa: ANN401 - JSON
    names = {"title", "machine", "battery", "meter", "complaint", "ambient_c"}
    return card.model_dump(mode="json", by_alias=True, include=names)


def _plain(value: Any) -> Any:  # noqa: ANN401 - JSON
    return (
        value.model_dump(mode="json", exclude_none=True) if hasattr(value, "model_dump") else value
    )
