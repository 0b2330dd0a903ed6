"""``chargewright close``: note what it was in the end."""

from __future__ import annotations

from pathlib import Path

import click

from chargewright.cli.open import card_argument, open_card
from chargewright.cli.store import make_folder, store_option


@click.command(short_help="Note what it was; closed jobs teach the next ones.")
@card_argument
@click.argument("cause")
@click.option("--also", multiple=True, metavar="CAUSE", help="A further cause; repeat.")
@click.option(
    "--by",
    default="inferred",
    metavar="HOW",
    show_default=True,
    help="measured_after_repair, fix_reported, found or inferred.",
)
@click.option("--note", default="", help="A remark.")
@click.option("--no-store", is_flag=True, help="Leave the job store alone.")
@store_option
def close(
    card: Path,
    cause: str,
    also: tuple[str, ...],
    by: str,
    note: str,
    no_store: bool,
    store: Path | None,
) -> None:
    """Note on CARD that it was CAUSE, and put the card in the store, where it teaches."""
    from chargewright.jobs.merge import merge_cards
    from chargewright.jobs.place import default_store

    job = open_card(card, None, None)
    job.confirm(cause, by=by, also=also, note=note)
    job.save()
    click.echo(f"{job.card.id}: it was {' and '.join((cause, *also))} ({by}).")
    if no_store or job.card.invented:
        return
    from chargewright.jobs.store import JobStore

    path = store or default_store()
    make_folder(path)
    with JobStore(path) as opened:
        if any(line.id == job.card.id for line in opened.list()):
            # A cause noted earlier is corrected, not contradicted.
            opened.update(
                job.card.id,
                lambda old: merge_cards(old.changed(confirmed_cause=None), job.card),
            )
        else:
            opened.save(job.card)
    click.echo("Kept in the store; it teaches from now on ('chargewright lessons show').")
