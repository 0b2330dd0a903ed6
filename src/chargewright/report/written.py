"""One report in the form that a file's ending asks for."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import cast

from chargewright.diagnosis.findings import Assessment
from chargewright.errors import InputError
from chargewright.report.customer import customer_report
from chargewright.report.document import Document
from chargewright.report.drawing import pictures_of
from chargewright.report.envelope import envelope_text
from chargewright.report.html import html_text
from chargewright.report.pdf import Paper, pdf_bytes
from chargewright.report.rows import csv_text
from chargewright.report.say import spoken
from chargewright.report.workshop import workshop_report
from chargewright.texts.catalogue import ENGLISH
from chargewright.workbench import Job

CUSTOMER, WORKSHOP = "customer", "workshop"


def report_document(job: Job, found: Assessment, reader: str, *, made: datetime) -> Document:
    """Return the report for ``customer`` or ``workshop``; ``InputError`` for another reader."""
    if reader == CUSTOMER:
        return customer_report(job, found, made=made)
    if reader == WORKSHOP:
        return workshop_report(job, found, made=made, pictures=pictures_of(job, found))
    raise InputError(f"report for {reader!r}: expected {CUSTOMER} or {WORKSHOP}")


def report_bytes(
    job: Job,
    found: Assessment,
    ending: str,
    *,
    reader: str | None = None,
    paper: str | None = None,
    language: str = ENGLISH,
    made: datetime | None = None,
) -> bytes:
    """Return a report as ``ending`` (.pdf, .html, .json or .csv) says; ``made`` is now unless told.

    Only a job from ``repeatable.from_card_alone`` gives figures that can be repeated elsewhere.

    Pages are written in ``language``; JSON and CSV are data and stay English. ``reader`` is
    ``customer`` unless told. A workshop's PDF carries the JSON export inside, so that the answer
    can be repeated from the PDF alone. Raises ``InputError`` for another ending or language.
    """
    now = made or datetime.now(UTC).replace(microsecond=0)
    if ending == ".json":
        return envelope_text(job, found, made=now).encode()
    if ending == ".csv":
        return csv_text(job, found).encode("utf-8-sig")  # spreadsheets know UTF-8 by the mark
    with spoken(language):
        document = report_document(job, found, reader or CUSTOMER, made=now)
        if ending == ".html":
            return html_text(document).encode()
        if ending == ".pdf":
            inside = envelope_text(job, found, made=now).encode() if reader == WORKSHOP else None
            sheet = cast(Paper, paper or "a4")
            return pdf_bytes(document, made=now, paper=sheet, attachment=inside)
    raise InputError(f"report as {ending!r}: expected .pdf, .html, .json or .csv")
