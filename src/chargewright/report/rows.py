"""The readings as a table for a spreadsheet: one row per reading and limit, RFC 4180."""

from __future__ import annotations

import csv
import io

from chargewright.checks.word import FUNCTION_WORDS
from chargewright.diagnosis.findings import Assessment, Judged
from chargewright.diagnosis.question import Answer
from chargewright.jobs.reading import Reading
from chargewright.machine.sources import source_of
from chargewright.report.wording import reading_words
from chargewright.workbench import Job

COLUMNS = (
    "job", "machine", "reading", "at_utc", "stage", "check", "title", "dial", "red", "black",
    "engine", "rpm", "rpm_max", "key_on", "lights_on", "plug_in", "battery_in", "warmth", "load",
    "battery_charged", "rest_h", "meter", "leads_nulled", "typed", "shown", "kind", "value",
    "value_max", "unit", "u", "half_width_95", "limit", "limit_low", "limit_high", "verdict",
    "p_inside", "limit_source", "note", "excluded",
)  # fmt: skip
# What a spreadsheet takes for the beginning of a formula (OWASP, CSV Injection).
FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


def csv_text(job: Job, found: Assessment) -> str:
    """Return the table with a header line and CRLF line ends.

    A text that a spreadsheet would take for a formula has an apostrophe before it; numbers are
    plain. Readings kept on the card but not reckoned with come last.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    told = {answer.id: answer for answer in (*job.case.answers, *job.case.proof)}
    ordered = sorted(job.card.readings, key=lambda one: one.id not in told)
    for reading in ordered:
        answer = told.get(reading.id)
        judged = [one for one in found.judged if one.answer == answer and answer is not None]
        lines: list[Judged | None] = [*judged] or [None]
        for one in lines:
            row = _row(job, reading, answer, one)
            writer.writerow([_cell(row.get(name)) for name in COLUMNS])
    return out.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:.6g}"
    text = str(value)
    return f"'{text}" if text.lstrip().startswith(FORMULA) or text[:1].isspace() else text


def _row(
    job: Job, reading: Reading, answer: Answer | None, one: Judged | None
) -> dict[str, object]:
    state = reading.state if answer is None else answer.question.state
    row: dict[str, object] = {
        "job": job.card.id,
        "machine": job.card.machine.label,
        "reading": reading.id,
        "at_utc": None if reading.at is None else f"{reading.at:%Y-%m-%dT%H:%M:%SZ}",
        "stage": reading.stage.value,
        "check": reading.check,
        "title": None if answer is None else answer.title,
        "dial": FUNCTION_WORDS[reading.function],
        "red": None if reading.plus is None else reading.plus.word,
        "black": None if reading.minus is None else reading.minus.word,
        "engine": state.engine.value,
        "rpm": state.rpm,
        "warmth": state.warmth.value,
        "load": state.load.value,
        "note": reading.note,
        "excluded": reading.excluded,
    }
    for name in (
        "rpm_max", "key_on", "lights_on", "plug_in", "battery_in", "battery_charged", "rest_h",
    ):  # fmt: skip
        row[name] = getattr(state, name)
    if reading.shown is not None:
        row |= {
            "typed": reading.shown.text,
            "kind": reading.shown.qualifier.value,
            "value": reading.shown.value,
            "value_max": reading.shown.value_max,
            "unit": reading.shown.unit.value,
        }
    if answer is not None:
        row |= {
            "meter": answer.meter.title,
            "leads_nulled": answer.nulled,
            "shown": reading_words(answer),
        }
    return row | ({} if one is None else _verdict(one))


def _verdict(one: Judged) -> dict[str, object]:
    limit, verdict = one.limit, one.verdict
    return {
        "u": verdict.u,
        "half_width_95": verdict.half_width,
        "limit": limit.title,
        "limit_low": limit.low,
        "limit_high": limit.high,
        "verdict": verdict.outcome.value,
        "p_inside": verdict.p_conform,
        "limit_source": source_of(limit.source, "limit").text,
    }
