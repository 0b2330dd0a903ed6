"""Readings of one machine over the years, grouped so that like is compared with like."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from chargewright.jobs.parts import iso
from chargewright.jobs.reading import CardState, Reading

# How well a speed was known and how long a battery rested do not make it another check.
_LEFT_OUT = frozenset({"rpm_rel_u", "rest_h"})


@dataclass(frozen=True, slots=True, kw_only=True)
class PastReading:
    """One earlier reading; value in the track's unit, ``at`` in UTC (the job's time if unknown)."""

    job_id: str
    reading_id: str
    at: str
    stage: str
    qualifier: str | None
    value: float | None
    value_max: float | None
    sign: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """The same check on the same machine over time: equal points, function and state."""

    check: str | None
    function: str
    plus: str | None
    minus: str | None
    state_hash: str
    unit: str | None
    readings: tuple[PastReading, ...]


def machine_key(label: str) -> str:
    """Return the label as machines are told apart: without case and spare blanks."""
    return " ".join(label.casefold().split())


def state_hash(state: CardState) -> str:
    """Return a short name for the conditions of a reading; equal ones share it.

    Only what differs from the defaults goes in, so that a field added later changes no old name.
    """
    conditions = {
        name: value
        for name, value in state.model_dump(mode="json", exclude_defaults=True).items()
        if name not in _LEFT_OUT
    }
    text = json.dumps(conditions, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def reading_row(reading: Reading, *, job_id: str, position: int) -> dict[str, Any]:
    """Return the reading as a row of the table ``readings``."""
    shown = reading.shown
    return {
        "job_id": job_id,
        "position": position,
        "reading_id": reading.id,
        "check_id": reading.check,
        "function": reading.function.value,
        "plus": reading.plus.word if reading.plus is not None else None,
        "minus": reading.minus.word if reading.minus is not None else None,
        "state_hash": state_hash(reading.state),
        "qualifier": shown.qualifier.value if shown else None,
        "value": shown.value if shown else None,
        "value_max": shown.value_max if shown else None,
        "unit": shown.unit.value if shown else None,
        "sign": reading.sign,
        "at": iso(reading.at) if reading.at else None,
        "stage": reading.stage.value,
        "excluded": reading.excluded is not None,
    }


def tracks(rows: Iterable[Mapping[str, Any]]) -> tuple[Track, ...]:
    """Group rows of ``readings`` (with the job's ``created``) into tracks, excluded ones left out.

    Tracks are sorted by check, function and points, their readings by time.
    """
    groups: dict[tuple[str, ...], list[Mapping[str, Any]]] = {}
    for row in rows:
        if not row["excluded"]:
            names = ("check_id", "function", "plus", "minus", "state_hash")
            groups.setdefault(tuple(row[name] or "" for name in names), []).append(row)
    return tuple(_track(groups[key]) for key in sorted(groups))


def _when(row: Mapping[str, Any]) -> tuple[datetime, int]:
    # As moments, not as text: "10:00:00.5Z" sorts before "10:00:00Z".
    return datetime.fromisoformat(row["at"] or row["created"]), row["position"]


def _track(rows: list[Mapping[str, Any]]) -> Track:
    first = rows[0]
    past = [
        PastReading(
            job_id=row["job_id"],
            reading_id=row["reading_id"],
            at=row["at"] or row["created"],
            stage=row["stage"],
            qualifier=row["qualifier"],
            value=row["value"],
            value_max=row["value_max"],
            sign=row["sign"],
        )
        for row in sorted(rows, key=_when)
    ]
    return Track(
        check=first["check_id"],
        function=first["function"],
        plus=first["plus"],
        minus=first["minus"],
        state_hash=first["state_hash"],
        unit=first["unit"],
        readings=tuple(past),
    )
