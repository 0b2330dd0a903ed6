"""The published JSON Schema of the job card, made from the classes that read it."""

from __future__ import annotations

import json
from typing import Any

from chargewright.jobs.card import CARD_VERSION, JobCard

SCHEMA_ID = f"urn:chargewright:job-card:{CARD_VERSION}"


def job_card_schema() -> dict[str, Any]:
    """Return the schema (JSON Schema draft 2020-12) of the present ``card_version``.

    It tells form, types, limits and words. Rules between fields (a look needs ``sign``)
    are checked by the program only; ``docs/job-card.md`` lists them.
    """
    schema = JobCard.model_json_schema(by_alias=True, mode="validation")
    _drop_field_titles(schema)
    required = sorted({*schema.pop("required"), "card_version"})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": SCHEMA_ID,
        "title": "Chargewright job card",
        "required": required,
        **schema,
    }


def schema_text() -> str:
    """Return the schema as the text of ``docs/job-card.schema.json``."""
    return json.dumps(job_card_schema(), indent=2, ensure_ascii=False) + "\n"


def _drop_field_titles(schema: dict[str, Any]) -> None:
    """Take out the titles that only repeat a field's name or a class's."""
    schema.pop("title", None)
    for part in (schema, *schema["$defs"].values()):
        part.pop("title", None)
        for field in part.get("properties", {}).values():
            field.pop("title", None)
