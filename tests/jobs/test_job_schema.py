"""The published schema: on disk as the program makes it, and right by someone else's validator."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import jsonschema
import pytest
from hypothesis import given, settings
from jobs.card_strategies import cards
from pydantic import BaseModel

from chargewright.errors import InputError
from chargewright.jobs.card import CARD_VERSION, JobCard
from chargewright.jobs.codec import card_dict, card_from_dict
from chargewright.jobs.files import load_card
from chargewright.jobs.refusal import field_names
from chargewright.jobs.schema import job_card_schema, schema_text
from chargewright.jobs.upgrades import upgraded
from chargewright.machine.classes import class_ids
from chargewright.machine.prior import complaints
from chargewright.meters.load import meter_ids

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
DEMO = ROOT / "examples" / "demo-job.json"
SAMPLES = [
    DEMO,
    *sorted((ROOT / "tests" / "cases").glob("*.json")),
    *sorted((ROOT / "tests" / "jobs" / "records").glob("*.json")),
]


@pytest.fixture(scope="module")
def validator() -> jsonschema.protocols.Validator:
    schema = json.loads((DOCS / "job-card.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_the_published_schema_is_the_one_the_program_makes() -> None:
    published = (DOCS / "job-card.schema.json").read_text(encoding="utf-8")
    assert published == schema_text()
    assert json.loads(published)["$id"] == "urn:chargewright:job-card:2"


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_samples_are_valid(path: Path, validator: jsonschema.protocols.Validator) -> None:
    raw = json.loads(path.read_text(encoding="utf-8"))
    validator.validate(upgraded(raw, current=CARD_VERSION, source=path.name))


@settings(max_examples=60, deadline=None)
@given(raw=cards)
def test_what_the_program_writes_its_schema_allows(raw: dict[str, Any]) -> None:
    jsonschema.Draft202012Validator(job_card_schema()).validate(card_dict(card_from_dict(raw)))


@pytest.mark.parametrize(
    "change",
    [
        {"extra": 1},
        {"card_version": 3},
        {"id": "a b"},
        {"created": 5},
        {"machine": {}},
        {"machine": {"class": "Big Bike"}},
        {"ambient_c": 56},
        {"seed": -1},
        {"title": "a\x1b"},
        {"battery": {"chemistry": "lead"}},
        {"readings": [{"id": "r", "function": "volts"}]},
        {"readings": [{"id": "r", "function": "dc_v", "plus": "seat"}]},
        {"readings": [{"id": "r", "function": "dc_v", "state": {"rpm": "fast"}}]},
        {"readings": [{"id": "r", "function": "dc_v", "state": {"rpm": 50}}]},
        {"readings": [{"id": "r", "function": "dc_v", "excluded": ""}]},
    ],
)
def test_schema_and_program_refuse_the_same(
    change: dict[str, Any], validator: jsonschema.protocols.Validator
) -> None:
    raw = {
        "card_version": 2,
        "id": "job-1",
        "created": "2026-08-01T10:00:00Z",
        "machine": {"class": "atv"},
    }
    assert validator.is_valid(raw)
    assert not validator.is_valid(raw | change)
    with pytest.raises(InputError):
        card_from_dict(raw | change)


def models(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    yield model
    for info in model.model_fields.values():
        for inner in parts_of(info.annotation):
            yield from models(inner)


def parts_of(annotation: object) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from parts_of(inner)


def test_every_field_and_word_is_documented() -> None:
    text = (DOCS / "job-card.md").read_text(encoding="utf-8")
    documented = set(re.findall(r"`([^`\n]+)`", text))
    fields = {name for model in models(JobCard) for name in field_names(model)}
    assert len(fields) > 60
    assert fields - documented == set()
    words = {word for part in job_card_schema()["$defs"].values() for word in part.get("enum", [])}
    assert {"running", "overload", "measured_after_repair", "mca"} <= words
    assert words - documented == set()


def test_examples_in_the_document_open() -> None:
    text = (DOCS / "job-card.md").read_text(encoding="utf-8")
    examples = re.findall(r"```json\n(.*?)```", text, re.DOTALL)
    assert examples
    for example in examples:
        card_from_dict(json.loads(example))


def test_the_demonstration_says_that_it_is_invented() -> None:
    card = load_card(DEMO)
    assert card.invented
    assert "invented" in card.title.lower()
    assert "invented" in card.notes.lower()
    assert card.machine.class_id in class_ids()
    assert card.complaint.kind in complaints()
    assert card.meter is not None
    assert card.meter.card in meter_ids()
    assert card.evidence
