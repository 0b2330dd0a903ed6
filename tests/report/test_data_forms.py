"""JSON and CSV: complete, in the published forms, safe to open, and enough to repeat the answer."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from report.scenes import FAULT, MADE, card, job_of, volts

from chargewright import open_job
from chargewright.diagnosis import advise, population, prove, refine, rollout
from chargewright.errors import InputError
from chargewright.jobs.schema import job_card_schema
from chargewright.report.envelope import differences, envelope_dict, envelope_text, opened
from chargewright.report.repeatable import from_card_alone
from chargewright.report.rows import COLUMNS, csv_text

REAL_THIN = refine.thin  # as imported, before the fixtures make it small
SCHEMA = Path(__file__).parents[2] / "docs" / "assessment.schema.json"


def test_both_halves_of_the_export_have_their_published_forms() -> None:
    job, found = job_of("proved")
    made = json.loads(envelope_text(job, found, made=MADE))
    jsonschema.validate(made["card"], job_card_schema())
    jsonschema.validate(made["assessment"], json.loads(SCHEMA.read_text(encoding="utf-8")))
    assert made["made"] == "2026-08-03T12:00:00Z"
    assert made["outcome"] == "proved"


def test_another_workshop_repeats_the_answer_from_the_export(tmp_path: Path) -> None:
    """A fresh job from the export's card: the same decision and shares, to the last digit."""
    job = open_job(card(readings=FAULT))
    path = tmp_path / "export.json"
    path.write_text(envelope_text(job, job.assess(), made=MADE), encoding="utf-8")
    raw = opened(path)
    assert raw is not None
    again = open_job(raw["card"])
    assert differences(raw, again, again.assess()) == ()
    other = open_job(raw["card"] | {"seed": 99})
    assert differences(raw, other, other.assess()) != ()


def test_a_report_does_not_depend_on_how_the_readings_came_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One by one at the bench, with a belief kept in between, or all at once: the same report.

    Refinement, which makes the belief depend on its history, is switched on again for this.
    """
    monkeypatch.setattr(population, "SINGLE_COUNT", 60)
    monkeypatch.setattr(population, "SOUND_COUNT", 60)
    monkeypatch.setattr(population, "PAIR_COUNT", 6)
    monkeypatch.setattr(advise, "WORLDS", 60)
    monkeypatch.setattr(prove, "EACH", 20)
    monkeypatch.setattr(rollout, "PLAYS", 2)
    monkeypatch.setattr(refine, "MACHINES", 40)
    monkeypatch.setattr(refine, "thin", REAL_THIN)
    monkeypatch.setenv("CHARGEWRIGHT_CACHE", str(tmp_path))
    bench = open_job(card(readings=FAULT[:1]))
    for reading in open_job(card(readings=FAULT)).card.readings[1:]:
        bench.assess()
        bench.add(reading)
    grown = bench.assess()
    whole = from_card_alone(bench)
    raw = envelope_dict(whole, whole.assess(), made=MADE)
    again = from_card_alone(open_job(raw["card"]))  # from what the first one kept
    assert differences(raw, again, again.assess()) == ()
    monkeypatch.setenv("CHARGEWRIGHT_CACHE", "off")
    elsewhere = from_card_alone(open_job(raw["card"]))
    assert differences(raw, elsewhere, elsewhere.assess()) == ()
    assert differences(raw, bench, grown) != ()  # else this test would show nothing


def test_a_changed_catalogue_or_decision_is_named() -> None:
    job, found = job_of("advised")
    raw = envelope_dict(job, found, made=MADE)
    raw["origin"] = raw["origin"] | {"catalogue_sha256": "0" * 64}
    raw["assessment"]["decision"]["ending"] = "replace_stator"
    lines = differences(raw, job, found)
    assert any(line.startswith("catalogue was 000000000000") for line in lines)
    assert any("replace_stator" in line for line in lines)


def test_what_is_no_export_is_left_to_whoever_opens_cards(tmp_path: Path) -> None:
    path = tmp_path / "card.json"
    path.write_text(json.dumps(card()), encoding="utf-8")
    assert opened(path) is None
    assert opened(tmp_path / "none.json") is None
    path.write_text('{"report_format": 2}', encoding="utf-8")
    with pytest.raises(InputError, match="expected 1"):
        opened(path)
    path.write_text('{"report_format": 1, "card": []}', encoding="utf-8")
    with pytest.raises(InputError, match="card is missing"):
        opened(path)


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_every_reading_and_limit_is_a_row_and_excluded_ones_stay() -> None:
    lost = volts("r9", 1.25) | {"excluded": "probe slipped"}
    job = open_job(card(readings=[*FAULT, lost]))
    found = job.assess()
    text = csv_text(job, found)
    rows = rows_of(text)
    assert [row["reading"] for row in rows] == ["r1", "r2", "r2", "r3", "r9"]
    assert {row["reading"]: row["excluded"] for row in rows}["r9"] == "probe slipped"
    assert text.count("\r\n") == len(rows) + 1
    assert "\n" not in text.replace("\r\n", "")
    judged = next(row for row in rows if row["reading"] == "r3")
    assert float(judged["value"]) == 7.32
    assert judged["verdict"] == "outside"


def is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


FORMULAS = st.sampled_from(["=1+1", "+1", "-1", "@SUM(A1)", " =cmd|'/c x'!A1", "\t=1", "＝1"])


@settings(max_examples=40)
@given(note=FORMULAS | st.text(max_size=40), label=FORMULAS | st.text(max_size=40))
def test_no_cell_is_a_formula(note: str, label: str) -> None:
    """A spreadsheet takes a cell for a formula by its first sign (OWASP, CSV Injection)."""
    keep = "".join(sign for sign in label if sign >= " " and sign != "\x7f")
    kept = "".join(sign for sign in note if sign in "\n\r\t" or (sign >= " " and sign != "\x7f"))
    job = open_job(
        card(
            machine={"class": "sport-600-1000", "label": keep},
            readings=[volts("r1", 12.31) | {"note": kept}],
        )
    )
    found = job_of("open")[1]
    rows = rows_of(csv_text(job, found))
    assert len(rows) == 1
    for cell in rows[0].values():
        assert is_number(cell) or not cell.lstrip().startswith(
            ("=", "+", "-", "@", "＝", "＋", "－", "＠")
        )
    assert rows[0]["note"].removeprefix("'") == kept
    assert set(rows[0]) == set(COLUMNS)
