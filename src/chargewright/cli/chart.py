"""``chargewright chart``: a complaint's decision tree for the wall."""

from __future__ import annotations

from pathlib import Path

import click

from chargewright.cli.energy_options import USUAL_CLASS
from chargewright.cli.open import FILE
from chargewright.cli.screen import Screen, working
from chargewright.errors import InputError

FEWEST, MOST = 4, 60


@click.command(short_help="A complaint's whole decision tree on one page.")
@click.option(
    "--class", "class_id", default=USUAL_CLASS, metavar="CLASS", show_default=True, help="Class."
)
@click.option("--complaint", metavar="KIND", help="Why it came in; see 'chargewright new'.")
@click.option("--meter", metavar="NAME", help="A meter card that ships, else the coarser one.")
@click.option("--ends", default=28, show_default=True, help="Ends on the page, at most.")
@click.option("--svg", type=FILE, help="Write the chart as SVG, one A4 page.")
def chart(
    class_id: str, complaint: str | None, meter: str | None, ends: int, svg: Path | None
) -> None:
    """Print a complaint's decision tree: checks, ranges of their readings, what to do then."""
    if not FEWEST <= ends <= MOST:
        raise InputError(f"--ends {ends}: expected {FEWEST} to {MOST}")
    from chargewright.checks.cautions import MAKER_FIRST
    from chargewright.diagnosis.chart import Limits
    from chargewright.jobs.case import this_workshop
    from chargewright.jobs.files import write_text
    from chargewright.machine.prior import complaints
    from chargewright.pictures.wall_chart import Heading, outline, wall_chart_svg
    from chargewright.version import __version__
    from chargewright.workbench import open_job

    raw = {
        "card_version": 2,
        "id": "chart",
        "created": "2000-01-01T00:00:00Z",
        "machine": {"class": class_id},
        "complaint": {"kind": complaint},
        "meter": None if meter is None else {"card": meter},
    }
    job = open_job(raw, workshop=this_workshop())
    with working("Growing the tree, a minute or two"):
        tree = job.chart(Limits(ends=ends))
    told = "any complaint" if complaint is None else complaints()[complaint].title
    heading = Heading(
        title=f"{job.case.machine.title}: {told}",
        about=(
            f"With a {job.case.meter.title}. Percentages at a range: of the jobs that come here. "
            f"chargewright {__version__}, from simulated machines; shares and costs are assumed."
        ),
        care=job.case.book.cautions[MAKER_FIRST],
    )
    if svg is not None:
        write_text(wall_chart_svg(tree, heading), svg)
        click.echo(f"Chart written to {svg}.")
        return
    screen = Screen.here()
    screen.line(heading.title, "bold")
    screen.line(heading.about, "dim")
    for depth, line in outline(tree):
        screen.line(line, indent=min(2 * depth, screen.width // 2))
    screen.line(heading.care, "yellow")
