"""Invented jobs, one for each place a job can stand at, and what a small diagnosis says of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from typing import Any

from chargewright import Job, open_job
from chargewright.diagnosis.findings import (
    Assessment,
    CauseFinding,
    ComponentFinding,
    Decision,
    Unproved,
)
from chargewright.machine.cause_file import catalogue
from chargewright.report.document import (
    Box,
    Bullets,
    Document,
    Facts,
    Paragraph,
    Pictures,
    Section,
    Table,
)

MADE = datetime(2026, 8, 3, 12, 0, tzinfo=UTC)
RUNNING = {"engine": "running", "rpm": "high", "key_on": True, "lights_on": True}
MID = {"engine": "running", "rpm": "mid", "key_on": True, "lights_on": True}


def reading(
    name: str, function: str, plus: str, minus: str, value: float, *, unit: str = "V",
    stage: str = "fault", lsd: float = 0.01, **state: object,
) -> dict[str, Any]:  # fmt: skip
    """Return one reading as a card writes it."""
    return {
        "id": name,
        "function": function,
        "plus": plus,
        "minus": minus,
        "state": state,
        "stage": stage,
        "shown": {"value": value, "unit": unit, "lsd": lsd, "text": f"{value:.2f}"},
    }


def volts(name: str, value: float, **more: Any) -> dict[str, Any]:  # noqa: ANN401
    """Return DC volts at the battery posts."""
    return reading(name, "dc_v", "battery_pos", "battery_neg", value, **more)


def plug_drop(name: str, value: float, **more: Any) -> dict[str, Any]:  # noqa: ANN401
    """Return the AC drop across contact C of the alternator plug."""
    return reading(name, "ac_v", "alt_c", "reg_c", value, **{**MID, **more})


def card(**fields: object) -> dict[str, Any]:
    """Return an invented card with ``fields`` put over it."""
    return {
        "card_version": 1,
        "id": "job-7",
        "created": "2026-08-01T08:30:00Z",
        "invented": True,
        "title": "Invented: battery goes flat",
        "machine": {"class": "sport-600-1000", "label": "Demo 7", "mileage_km": 12345.0},
        "battery": {"chemistry": "agm", "capacity_ah": 10.0},
        "meter": {"card": "trms-6000"},
        "complaint": {"kind": "battery_goes_flat", "text": "Flat after three days."},
        "seed": 3,
    } | fields


FAULT = [volts("r1", 12.31), volts("r2", 13.4, **RUNNING), plug_drop("r3", 7.32)]
AFTER = [
    plug_drop("p1", 0.06, stage="after_repair", battery_charged=True),
    volts("p2", 14.31, stage="after_repair", battery_charged=True, **RUNNING),
]
REPAIR = {"repair": "repair_plug", "at": "2026-08-02T15:00:00Z", "note": "contacts renewed"}
LEAD = catalogue().get("charge_lead_resistance").repair.title
AS_WELL = "charge the battery and test it again and renew the alternator plug and its contacts"
CHARGED = {"act": "charge_battery", "at": "2026-08-02T08:00:00Z"}


@cache
def job_of(name: str) -> tuple[Job, Assessment]:
    """Return a scene's job and its assessment, the decision set where the scene is about it."""
    cards: dict[str, dict[str, Any]] = {
        "empty": card(),
        "open": card(readings=[volts("r1", 12.31)]),
        "sound": card(readings=[volts("r1", 12.78), volts("r2", 14.30, **RUNNING)]),
        "charge": card(readings=[volts("r1", 11.95)]),
        "charged": card(
            readings=[volts("r1", 11.95), volts("p1", 12.85, stage="after_repair",
                                                battery_charged=True, rest_h=12.0)],
            done=[CHARGED],
        ),
        "advised": card(readings=FAULT),
        "done": card(readings=FAULT, repairs=[REPAIR]),
        "proved": card(readings=[*FAULT, *AFTER], repairs=[REPAIR], done=[CHARGED]),
        "still": card(
            readings=[*FAULT, plug_drop("p1", 6.9, stage="after_repair", battery_charged=True)],
            repairs=[REPAIR],
        ),
        "left": card(readings=[*FAULT, *AFTER], repairs=[REPAIR]),
        "part": card(readings=FAULT, repairs=[REPAIR]),
        "other": card(
            readings=[*FAULT, *AFTER],
            repairs=[{"repair": "replace_battery", "at": "2026-08-02T15:00:00Z"}],
        ),
    }  # fmt: skip
    cards["undecided"] = cards["open"]
    job = open_job(cards[name])
    return job, _set(name, job.assess())


def _set(name: str, found: Assessment) -> Assessment:
    """Return the assessment with the scene's own decision and ranking, not a rough one."""
    ending = {
        "sound": (Decision.NOTHING, "nothing", "nothing wrong found"),
        "undecided": (Decision.UNDECIDED, "undecided", "cannot tell with these means"),
        "charge": (Decision.CHARGE, "charge_battery", "charge the battery and test it again"),
        "charged": (Decision.CHARGE, "charge_battery", "charge the battery and test it again"),
        "open": (Decision.CHECK, found.ending, found.ending_title),
    }.get(name)
    plug = replace(
        found,
        decision=Decision.REPAIR,
        ending="repair_plug",
        ending_title="renew the alternator plug and its contacts",
        **_blamed(found, "plug_resistance", 0.9),
        remaining={"proved": 0.002, "other": 0.002, "still": 0.95}.get(name),
        behind=0,
        unproved=None,
    )
    if name == "left":
        plug_done = Unproved(
            repairs=("repair_plug",), title=plug.ending_title, cure=0.9, outside=()
        )
        found = replace(plug, behind=1, unproved=plug_done, remaining=0.95)
        found = replace(found, **_blamed(found, "charge_lead_resistance", 0.8))
        return replace(found, ending="repair_charge_lead", ending_title=LEAD)
    if name == "part":
        return replace(plug, ending="charge_battery+repair_plug", ending_title=AS_WELL)
    if ending is None:
        return found if name == "empty" else plug
    decision, way, title = ending
    decides = ("a second meter",) if name == "undecided" else ()
    return replace(found, decision=decision, ending=way, ending_title=title, would_decide=decides)


def _blamed(found: Assessment, cause: str, share: float) -> dict[str, Any]:
    """Return causes and components with ``share`` on one cause, the rest shared as it stood."""
    blamed = catalogue().get(cause)
    finding = CauseFinding(
        id=cause,
        title=blamed.title,
        component=blamed.component,
        share=share,
        severity=(),
        repair=blamed.repair.id,
        repair_title=blamed.repair.title,
    )
    others = [one for one in found.causes if one.id != cause]
    rest = (1.0 - share) / sum(one.share for one in others)
    causes = (finding, *(replace(one, share=one.share * rest) for one in others))
    of = dict.fromkeys((one.component for one in causes), 0.0)
    for one in causes:
        of[one.component] += one.share
    components = tuple(ComponentFinding(id=name, share=part) for name, part in of.items())
    return {"causes": causes, "components": components}


def texts_of(document: Document) -> list[str]:
    """Return every text of a document, in order; pictures by their captions."""
    found = [document.title, document.subtitle, document.notice, document.foot]
    for block in document.blocks:
        match block:
            case Facts(pairs):
                found += [text for pair in pairs for text in pair]
            case Box(_, headline, texts):
                found += [headline, *texts]
            case Section(title):
                found.append(title)
            case Paragraph(text):
                found.append(text)
            case Bullets(texts):
                found += texts
            case Table(head, rows):
                found += [*head, *(cell.text for row in rows for cell in row)]
            case Pictures(pictures):
                found += [picture.caption for picture in pictures]
    return found


def words(document: Document) -> str:
    """Return everything a document says as one text."""
    return "\n".join(texts_of(document))
