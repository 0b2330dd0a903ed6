"""``chargewright guide``: one check after the other until the case is clear."""

from __future__ import annotations

from pathlib import Path

import click

from chargewright.cli.open import card_argument, open_card, workshop_options


@click.command(short_help="Lead through a job, one check at a time.")
@card_argument
@workshop_options
def guide(card: Path, checks_file: Path | None, prices: Path | None) -> None:
    """Lead through CARD: one check at a time until it is clear what to do.

    Type what the meter shows: 13.1, 13,1 V, 461 mV, OL, >16, about 24. Every reading is saved
    at once; stop whenever you like, and run the same command to go on.
    """
    job = open_card(card, checks_file, prices)
    from chargewright.cli.bench import Bench
    from chargewright.cli.screen import Screen

    Bench(job, Screen.here()).run()
