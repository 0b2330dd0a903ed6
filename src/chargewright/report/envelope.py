"""A whole report as data: the card and its assessment in one JSON object, and the way back.

Both halves have the forms they have elsewhere (docs/job-card.md, docs/assessment-json.md);
``report_format`` rises when the envelope itself changes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from chargewright.diagnosis.findings import Assessment
from chargewright.errors import InputError
from chargewright.jobs.assessment_json import Json, assessment_dict
from chargewright.jobs.codec import card_dict
from chargewright.jobs.parts import iso
from chargewright.report.origin import catalogue_fingerprint, code_fingerprint
from chargewright.report.outcome import outcome_of
from chargewright.version import __version__
from chargewright.workbench import Job

REPORT_FORMAT = 1
MOST_BYTES = 40_000_000
SAME_SHARE = 1e-9  # figures of one program on one computer are the same to the last digits


def envelope_dict(job: Job, found: Assessment, *, made: datetime) -> Json:
    """Return card and assessment in one JSON-ready object."""
    return {
        "report_format": REPORT_FORMAT,
        "made": iso(made),
        "outcome": outcome_of(job, found).value,
        "origin": {
            "chargewright": __version__,
            "catalogue_sha256": catalogue_fingerprint(job),
            "model_sha256": code_fingerprint(),
            "seed": job.case.seed,
            "own_checks": job.workshop.checks_file is not None,
            "own_prices": job.workshop.prices_file is not None,
        },
        "card": card_dict(job.card),
        "assessment": assessment_dict(job.case, found),
    }


def envelope_text(job: Job, found: Assessment, *, made: datetime) -> str:
    """Return the envelope as JSON text."""
    made_from = envelope_dict(job, found, made=made)
    return json.dumps(made_from, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def opened(path: Path) -> dict[str, Any] | None:
    """Return the export of a report that a file holds; None for anything else, a card too.

    Raises ``InputError`` for an export of a later form or without a card.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            return None
        raw = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return None  # whoever opens it as a card says what is wrong with it
    if not isinstance(raw, dict) or "report_format" not in raw:
        return None
    if raw["report_format"] != REPORT_FORMAT:
        raise InputError(
            f"{path}: report_format is {str(raw['report_format'])[:40]!r}, expected "
            f"{REPORT_FORMAT}; a newer program may have written it"
        )
    for name in ("card", "assessment", "origin"):
        if not isinstance(raw.get(name), dict):
            raise InputError(f"{path}: {name} is missing, expected an object")
    return raw


def differences(raw: Mapping[str, Any], job: Job, found: Assessment) -> tuple[str, ...]:
    """Return how an answer worked out again differs from the one in an export; none is best.

    Raises ``InputError`` where the export lacks a field or has another form there.
    """
    try:
        return tuple(_differences(raw, envelope_dict(job, found, made=job.card.created)))
    except (KeyError, TypeError, AttributeError) as error:
        raise InputError(f"report export: {error}: missing, or not of that form") from None


def _differences(then: Mapping[str, Any], now: Json) -> list[str]:
    found = []
    names = {"chargewright": "program", "catalogue_sha256": "catalogue", "model_sha256": "model"}
    for key, name in names.items():
        was, is_now = then["origin"][key], now["origin"][key]
        if was != is_now:
            found.append(f"{name} was {str(was)[:12]}, is {str(is_now)[:12]}")
    first, second = then["assessment"]["decision"], now["assessment"]["decision"]
    for key in ("kind", "ending"):
        if first[key] != second[key]:
            found.append(f"decision.{key} was {first[key]!r}, is {second[key]!r}")
    shares = [
        {one["id"]: one["share"] for one in whole["assessment"]["causes"]} for whole in (then, now)
    ]
    for name in sorted(set(shares[0]) | set(shares[1])):
        was, is_now = shares[0].get(name, 0.0), shares[1].get(name, 0.0)
        if abs(was - is_now) > SAME_SHARE:
            found.append(f"share of {name} was {was:.4f}, is {is_now:.4f}")
    return found
