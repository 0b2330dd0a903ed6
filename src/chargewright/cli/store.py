"""``chargewright jobs``: the workshop's jobs in one file."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from chargewright.cli.open import FILE
from chargewright.cli.screen import Screen, echo_json
from chargewright.errors import InputError, StoreError
from chargewright.jobs.place import STORE_VARIABLE, default_store

if TYPE_CHECKING:
    from chargewright.jobs.store import JobStore

Command = TypeVar("Command", bound=Callable[..., Any])


def store_option(command: Command) -> Command:
    """Add the choice of the store's file."""
    return click.option(
        "--store",
        type=FILE,
        envvar=STORE_VARIABLE,
        help=f"The store's file; default {STORE_VARIABLE}, else one in your data folder.",
    )(command)


@click.group(short_help="Keep jobs in one store and find readings again.")
@store_option
@click.pass_context
def jobs(context: click.Context, store: Path | None) -> None:
    """Keep job cards in one store, and find earlier readings of a machine again."""
    context.obj = store


def with_store(*, create: bool) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Hand the opened store to a command; without ``create`` a missing file is an error."""

    def wrap(command: Callable[..., None]) -> Callable[..., None]:
        @wraps(command)
        @click.pass_context
        def run(context: click.Context, /, **given: Any) -> None:  # noqa: ANN401 - click's own
            from chargewright.jobs.store import JobStore

            path: Path = context.obj or default_store()
            if not path.exists():
                if not create:
                    raise StoreError(f"{path}: no store yet; 'chargewright jobs import' begins one")
                make_folder(path)
            with JobStore(path) as opened:
                command(opened, **given)

        return run

    return wrap


def make_folder(path: Path) -> None:
    """Make the folder of a store; ``StoreError`` when it cannot be."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"{path.parent}: cannot be made: {error.strerror or error}") from error


@jobs.command("list")
@click.option("--json", "as_json", is_flag=True, help="Write JSON.")
@with_store(create=False)
def list_jobs(store: JobStore, as_json: bool) -> None:
    """List all jobs, the last saved first."""
    from dataclasses import asdict

    lines = store.list()
    if as_json:
        echo_json([asdict(line) for line in lines])
        return
    screen = Screen.here()
    for line in lines:
        screen.line(f"{line.id}  {line.title}".rstrip(), "bold")
        about = [line.updated[:10], line.machine, line.class_id]
        if line.confirmed_cause:
            about.append(f"was: {line.confirmed_cause}")
        screen.line(", ".join(part for part in about if part), indent=2)
    screen.line(f"{len(lines)} {'job' if len(lines) == 1 else 'jobs'}.", "dim")


@jobs.command()
@click.argument("label")
@click.option("--json", "as_json", is_flag=True, help="Write JSON.")
@with_store(create=False)
def history(store: JobStore, label: str, as_json: bool) -> None:
    """Show what was measured on the machine called LABEL over the years."""
    from dataclasses import asdict

    from chargewright.jobs.described import past_text, track_title

    tracks = store.history(label)
    if as_json:
        echo_json([asdict(track) for track in tracks])
        return
    if not tracks:
        raise InputError(
            f"no readings of a machine called {label!r}; 'chargewright jobs list' shows the labels"
        )
    screen = Screen.here()
    for track in tracks:
        screen.line(track_title(track), "bold")
        rows = [[past.at[:10], past_text(past, track), past.job_id] for past in track.readings]
        screen.rows([["  ", *row] for row in rows])


@jobs.command("export")
@click.argument("job_id", metavar="JOB")
@click.argument("file", type=FILE, required=False)
@click.option("--force", is_flag=True, help="Write over FILE when it is there.")
@with_store(create=False)
def export_job(store: JobStore, job_id: str, file: Path | None, force: bool) -> None:
    """Write the card of JOB to FILE, or to standard output."""
    from chargewright.jobs.codec import pretty_json
    from chargewright.jobs.files import save_card

    card = store.load(job_id)
    if file is None:
        click.echo(pretty_json(card), nl=False)
        return
    if file.exists() and not force:
        raise InputError(f"{file} exists already; choose a new name, or --force")
    save_card(card, file)
    click.echo(f"{job_id} written to {file}.")


@jobs.command("import")
@click.argument("files", type=FILE, nargs=-1, required=True)
@click.option(
    "--on-conflict",
    type=click.Choice(["refuse", "replace", "merge"]),
    default="refuse",
    show_default=True,
    help="When the store holds another card of the same id.",
)
@with_store(create=True)
def import_jobs(store: JobStore, files: tuple[Path, ...], on_conflict: Any) -> None:  # noqa: ANN401
    """Put the cards in FILES into the store; a file that fails stops the rest."""
    from chargewright.jobs.codec import card_dict
    from chargewright.jobs.files import load_card

    cards = [load_card(path) for path in files]  # all are read before one is written
    for card in cards:
        store.import_job(card_dict(card), on_conflict=on_conflict)
        click.echo(f"{card.id} is in the store.")


@jobs.command()
@click.argument("file", type=FILE)
@with_store(create=False)
def backup(store: JobStore, file: Path) -> None:
    """Copy the whole store to the new file FILE, safe while it is in use."""
    store.backup(file)
    click.echo(f"Store copied to {file}.")


@jobs.command()
@click.argument("file", type=FILE)
@click.pass_context
def restore(context: click.Context, file: Path) -> None:
    """Put the backup FILE in place of the store, and keep what was there beside it.

    Stop the service first.
    """
    from chargewright.jobs.restoring import restore_store

    path: Path = context.obj or default_store()
    make_folder(path)
    kept = restore_store(file, path)
    click.echo(f"{path} is as it was in {file}.")
    if kept is not None:
        click.echo(f"What was there before is kept in {kept}.")
