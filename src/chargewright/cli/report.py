"""``chargewright report``: a job as a document for the customer or for another workshop."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from chargewright.cli.open import FILE, card_argument, open_card, workshop_options
from chargewright.errors import InputError, StoreError

if TYPE_CHECKING:
    from chargewright.workbench import Job

PAGES = (".pdf", ".html")
DATA = (".json", ".csv")


@click.command(short_help="Write a report: PDF, HTML, JSON or CSV.")
@card_argument
@click.option(
    "--to", "target", type=FILE, required=True, help="File to write: .pdf, .html, .json or .csv."
)
@click.option(
    "--for",
    "reader",
    type=click.Choice(["customer", "workshop"]),
    help="Who reads a .pdf or .html: customer (one page) or workshop (all figures).",
)
@click.option(
    "--paper", type=click.Choice(["a4", "us-letter"]), help="Paper of a .pdf; a4 unless told."
)
@click.option("--language", help="Language of a .pdf or .html, en or de; en unless told.")
@click.option("--force", is_flag=True, help="Write over an existing file.")
@workshop_options
def report(
    card: Path,
    target: Path,
    reader: str | None,
    paper: str | None,
    language: str | None,
    force: bool,
    checks_file: Path | None,
    prices: Path | None,
) -> None:
    """Write a report of CARD, a job card or the JSON export of an earlier report.

    An export is worked out again and compared: another workshop can repeat the answer.
    """
    _refuse(card, target, reader, paper, language, force)
    from chargewright.report.envelope import differences, opened
    from chargewright.report.repeatable import from_card_alone
    from chargewright.report.written import report_bytes

    raw = opened(card)
    job = (
        open_card(card, checks_file, prices)
        if raw is None
        else _again(raw, card, checks_file, prices)
    )
    from chargewright.cli.screen import working

    job = from_card_alone(job)
    with working("Working it out, up to a minute the first time"):
        found = job.assess()
    data = report_bytes(
        job, found, target.suffix.lower(), reader=reader, paper=paper, language=language or "en"
    )
    _write(target, data)
    click.echo(f"{target}: {len(data) / 1000:.0f} kB")
    if raw is not None:
        lines = differences(raw, job, found)
        click.echo(
            "Repeated: same decision and shares as in the export."
            if not lines
            else "Repeated, and differs from the export:"
        )
        for line in lines:
            click.echo(f"- {line}")


def _refuse(
    card: Path,
    target: Path,
    reader: str | None,
    paper: str | None,
    language: str | None,
    force: bool,
) -> None:
    """Refuse what cannot be written, before anything is worked out."""
    kind = target.suffix.lower()
    if kind not in PAGES + DATA:
        expected = ", ".join(PAGES + DATA)
        raise InputError(f"--to {target}: expected a name that ends in one of {expected}")
    if reader is not None and kind in DATA:
        raise InputError(f"--for {reader}: a {kind} holds everything; leave --for out")
    if language is not None and kind in DATA:
        raise InputError(f"--language {language}: a {kind} is data and stays English; leave it out")
    if language is not None:
        from chargewright.texts.speech import speech

        speech(language)  # names the known ones where this is none
    if paper is not None and kind != ".pdf":
        raise InputError(f"--paper {paper}: only a .pdf has paper, --to names a {kind}")
    if target.exists():
        if card.exists() and target.samefile(card):
            raise InputError(f"--to {target}: that is the card itself; choose another name")
        if not force:
            raise InputError(f"{target} exists; choose another name, or --force to write over it")
    if not target.parent.is_dir():
        raise InputError(f"--to {target}: there is no folder {target.parent}")


def _again(raw: dict[str, Any], path: Path, checks_file: Path | None, prices: Path | None) -> Job:
    from chargewright.jobs.case import Workshop
    from chargewright.workbench import open_job

    workshop = Workshop(checks_file=checks_file, prices_file=prices)
    try:
        return open_job(raw["card"], workshop=workshop)
    except InputError as error:
        raise InputError(f"{path}: {error}") from error


def _write(target: Path, data: bytes) -> None:
    """Write beside the target, then put it in its place: no half report is left behind."""
    draft = target.with_name(f".{target.name}.draft")
    try:
        draft.write_bytes(data)
        draft.replace(target)
    except OSError as error:
        draft.unlink(missing_ok=True)
        raise StoreError(f"{target}: cannot be written: {error.strerror or error}") from error
