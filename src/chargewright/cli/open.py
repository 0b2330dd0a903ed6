"""Opening a card from the command line, and the options all such commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from chargewright.cli.screen import working

if TYPE_CHECKING:
    from chargewright.workbench import Job

Command = TypeVar("Command", bound=Callable[..., Any])
FILE = click.Path(path_type=Path, dir_okay=False)


def card_argument(command: Command) -> Command:
    """Add the argument CARD."""
    return click.argument("card", type=FILE)(command)


def card_argument_or_none(command: Command) -> Command:
    """Add the argument CARD, which may be left out."""
    return click.argument("card", type=FILE, required=False)(command)


def workshop_options(command: Command) -> Command:
    """Add the options for a workshop's own checks and prices."""
    command = click.option(
        "--prices", type=FILE, help="Your own prices and labour (TOML), over the shipped ones."
    )(command)
    return click.option(
        "--checks",
        "checks_file",
        type=FILE,
        help="Your own checks, minutes and covers (TOML), over the shipped ones.",
    )(command)


def open_card(card: Path, checks_file: Path | None, prices: Path | None) -> Job:
    """Return the job of a card file; errors name file and field."""
    with working("Opening"):
        from chargewright.cli.program import checked_fields
        from chargewright.errors import InputError
        from chargewright.jobs.case import this_workshop
        from chargewright.workbench import open_job

        with checked_fields(str(card)):
            workshop = this_workshop(checks_file, prices)
            try:
                return open_job(card, workshop=workshop)
            except InputError as error:
                files = (card, checks_file, prices)
                if any(file is not None and str(file) in str(error) for file in files):
                    raise
                raise InputError(f"{card}: {error}") from error
