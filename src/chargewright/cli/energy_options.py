"""Options that several energy commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from chargewright.machine.battery_spec import BatterySpec

Command = TypeVar("Command", bound=Callable[..., Any])
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
USUAL_CLASS = "sport-600-1000"


def label_options(function: Command) -> Command:
    """Add what is printed on the battery."""
    for option in (
        click.option("--age", type=float, metavar="YEARS", help="Age of the battery."),
        click.option("--standard", default="sae", metavar="NAME", help="Of the CCA: sae, en ..."),
        click.option("--cca", type=float, metavar="A", help="Rated cold-cranking current."),
        click.option("--ah", type=float, metavar="AH", help="Capacity on the label."),
        click.option("--chemistry", metavar="NAME", help="flooded, agm, gel or lifepo4."),
    ):
        function = option(function)
    return function


def json_option(function: Command) -> Command:
    """Add the choice of JSON."""
    return click.option("--json", "as_json", is_flag=True, help="Write JSON.")(function)


def class_option(function: Command) -> Command:
    """Add the class of machine."""
    return click.option(
        "--machine",
        "class_id",
        default=USUAL_CLASS,
        metavar="CLASS",
        show_default=True,
        help="Class.",
    )(function)


def label_of(
    chemistry: str | None, ah: float | None, cca: float | None, standard: str, age: float | None
) -> BatterySpec:
    """Return the label that the options tell; ``InputError`` names the one that is wrong."""
    from chargewright.machine.battery_spec import BatterySpec

    fields = {
        "chemistry": chemistry,
        "capacity_ah": ah,
        "cca_a": cca,
        "cca_standard": standard,
        "age_years": age,
    }
    return BatterySpec.from_dict({k: v for k, v in fields.items() if v is not None}, "battery")
