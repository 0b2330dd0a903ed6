"""The ``chargewright`` command. Each subcommand loads what it needs when it is run."""

from __future__ import annotations

import click

from chargewright import __version__
from chargewright.cli.assess import assess
from chargewright.cli.chart import chart
from chargewright.cli.checks import checks
from chargewright.cli.close import close
from chargewright.cli.energy_commands import ENERGY_COMMANDS
from chargewright.cli.guide import guide
from chargewright.cli.lessons import lessons
from chargewright.cli.machines import machines
from chargewright.cli.new import new
from chargewright.cli.program import Program
from chargewright.cli.report import report
from chargewright.cli.schema import schema
from chargewright.cli.serve import certificate, forget_phones, serve
from chargewright.cli.simulate import simulate
from chargewright.cli.store import jobs
from chargewright.cli.why import why


@click.group(cls=Program, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="chargewright")
def main() -> None:
    """Find the fault in a charging system from a few meter readings.

    Begin with 'chargewright new bike.json', then 'chargewright guide bike.json'.
    """


SERVING = (serve, certificate, forget_phones)

for command in (
    new,
    guide,
    assess,
    why,
    report,
    chart,
    checks,
    machines,
    simulate,
    schema,
    jobs,
    close,
    lessons,
    *SERVING,
    *ENERGY_COMMANDS,
):
    main.add_command(command)
