"""``chargewright schema``: the form of a job card, for other programs."""

from __future__ import annotations

import click


@click.command()
def schema() -> None:
    """Write the JSON Schema of a job card."""
    from chargewright.jobs.schema import schema_text

    click.echo(schema_text(), nl=False)
