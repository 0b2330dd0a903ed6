"""The ``chargewright`` command."""

from __future__ import annotations

import click

from chargewright import __version__


@click.group()
@click.version_option(__version__)
def main() -> None:
    """Find the fault in a charging system from a few meter readings."""
