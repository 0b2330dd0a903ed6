"""``chargewright assess``: everything the readings of a card say."""

from __future__ import annotations

from pathlib import Path

import click

from chargewright.cli.open import card_argument, open_card, workshop_options


@click.command(short_help="Say what the readings mean and what to do now.")
@card_argument
@click.option("--json", "as_json", is_flag=True, help="Write JSON, see docs/assessment-json.md.")
@click.option("-v", "--verbose", is_flag=True, help="All of it: sources, every remedy, how-to.")
@workshop_options
@click.option("--no-save", is_flag=True, help="Do not keep the decision on the card.")
def assess(
    card: Path,
    as_json: bool,
    verbose: bool,
    checks_file: Path | None,
    prices: Path | None,
    no_save: bool,
) -> None:
    """Say what the readings of CARD mean and what to do now.

    The decision is kept on the card, except on a card marked as invented.
    """
    job = open_card(card, checks_file, prices)
    from chargewright.cli.screen import Screen, echo_json, working
    from chargewright.jobs.assessment_json import assessment_dict
    from chargewright.jobs.keeping import with_assessment

    with working("Working it out, up to a minute the first time"):
        assessment = job.assess()
    if as_json:
        echo_json(assessment_dict(job.case, assessment))
    else:
        from chargewright.cli.assess_page import show_assessment

        show_assessment(Screen.here(), job, assessment, verbose=verbose)
    kept = with_assessment(job.card, job.case, assessment)
    if not (no_save or job.card.invented) and kept is not job.card:
        job.card = kept
        job.save()
