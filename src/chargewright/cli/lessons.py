"""``chargewright lessons``: what closed jobs have taught, and from which of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from chargewright.cli.energy_options import USUAL_CLASS
from chargewright.cli.open import FILE
from chargewright.cli.screen import Cell, Screen, echo_json
from chargewright.cli.store import store_option, with_store
from chargewright.errors import InputError

if TYPE_CHECKING:
    from chargewright.jobs.lesson_book import BookLine
    from chargewright.jobs.store import JobStore
    from chargewright.jobs.teaching import Taught

FEW_SHARES = 12
MOVED = 0.001  # a share that moved less is not listed


@click.group(short_help="What closed jobs have taught about the shares of causes.")
@store_option
@click.pass_context
def lessons(context: click.Context, store: Path | None) -> None:
    """What closed jobs have taught about the shares of causes.

    Jobs of the store with a confirmed cause shift the shares that every new diagnosis starts from.
    """
    context.obj = store


@lessons.command()
@click.option(
    "--class", "class_id", default=USUAL_CLASS, metavar="CLASS", show_default=True, help="Class."
)
@click.option("--json", "as_json", is_flag=True, help="Write JSON.")
@with_store(create=False)
def show(store: JobStore, class_id: str, as_json: bool) -> None:
    """Show the shares of causes before and after, and the jobs behind them."""
    from chargewright.jobs.teaching import taught
    from chargewright.machine.conditioning import load_class

    lines = store.lessons.lines()
    shares = taught(load_class(class_id), [line.lesson for line in lines if line.counts])
    if as_json:
        echo_json({"class": class_id, "shares": _shares(shares), "jobs": _jobs(lines)})
        return
    screen = Screen.here()
    counting = [line for line in lines if line.counts]
    screen.line(f"Shares of causes, {class_id}", "bold")
    screen.line(f"{len(counting)} closed jobs count, {len(lines) - len(counting)} taken out.")
    _show_shares(screen, shares)
    if lines:
        screen.heading("From these jobs")
        screen.rows([_job_row(line) for line in lines])


def _show_shares(screen: Screen, shares: tuple[Taught, ...]) -> None:
    moved = [one for one in shares if abs(one.learned - one.shipped) >= MOVED]
    if not moved:
        screen.line("Nothing has moved: these are the shares that ship.")
        return
    moved.sort(key=lambda one: -abs(one.learned - one.shipped))
    head: list[Cell] = [("before", "dim"), ("now", "dim"), ("jobs", "dim"), ("cause", "dim")]
    rows: list[list[Cell]] = [head]
    for one in moved[:FEW_SHARES]:
        behind = f"{one.own:.3g}" + (f"+{one.others:.3g}" if one.others else "")
        rows.append([f"{one.shipped:.1%}", f"{one.learned:.1%}", behind, one.cause])
    screen.rows(rows)
    screen.line("jobs: weight of this class's own, + that of other classes", "dim")


def _job_row(line: BookLine) -> list[Cell]:
    lesson = line.lesson
    name = line.job_id or f"{lesson.job[:8]} (elsewhere)"
    told = f"{lesson.class_id}: {' and '.join(lesson.causes)} ({lesson.by.value})"
    return [name, told if line.counts else (f"taken out: {told}", "dim")]


def _shares(shares: tuple[Taught, ...]) -> list[dict[str, object]]:
    return [
        {
            "cause": one.cause,
            "shipped": one.shipped,
            "pooled": one.pooled,
            "learned": one.learned,
            "own": one.own,
            "others": one.others,
        }
        for one in shares
    ]


def _jobs(lines: tuple[BookLine, ...]) -> list[dict[str, object]]:
    return [
        {
            "hash": line.lesson.job,
            "id": line.job_id,
            "class": line.lesson.class_id,
            "causes": list(line.lesson.causes),
            "by": line.lesson.by.value,
            "counts": line.counts,
        }
        for line in lines
    ]


@lessons.command("take-out")
@click.argument("job")
@with_store(create=False)
def take_out(store: JobStore, job: str) -> None:
    """Let JOB (its id, or the beginning of its hash) teach no longer."""
    line = store.lessons.take_out(job)
    click.echo(f"{line.job_id or line.lesson.job} teaches no longer.")


@lessons.command("put-back")
@click.argument("job")
@with_store(create=False)
def put_back(store: JobStore, job: str) -> None:
    """Let JOB teach again."""
    line = store.lessons.put_back(job)
    click.echo(f"{line.job_id or line.lesson.job} teaches again.")


@lessons.command("export")
@click.argument("file", type=FILE)
@click.option("--force", is_flag=True, help="Write over FILE when it is there.")
@with_store(create=False)
def export_lessons(store: JobStore, file: Path, force: bool) -> None:
    """Write what counts to FILE for another workshop: classes, causes and hashes, no customers."""
    import json

    from chargewright.jobs.files import write_text
    from chargewright.jobs.lessons import lessons_dict

    if file.exists() and not force:
        raise InputError(f"{file} exists already; choose a new name, or --force")
    counting = store.lessons.counting()
    write_text(json.dumps(lessons_dict(counting), indent=1) + "\n", file)
    click.echo(f"{len(counting)} jobs written to {file}.")


@lessons.command("import")
@click.argument("files", type=FILE, nargs=-1, required=True)
@with_store(create=True)
def import_lessons(store: JobStore, files: tuple[Path, ...]) -> None:
    """Take in what other workshops exported. A job counts once, however often it comes."""
    from chargewright.jobs.files import read_object
    from chargewright.jobs.lessons import lessons_from_dict

    told = [lessons_from_dict(read_object(path), source=str(path)) for path in files]
    for path, found in zip(files, told, strict=True):
        click.echo(f"{path}: {store.lessons.take_in(found)} of {len(found)} jobs were new.")
