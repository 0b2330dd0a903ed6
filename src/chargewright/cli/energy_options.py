"""Options that several energy commands share."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from chargewright.jobs.card import JobCard
    from chargewright.machine.battery_spec import BatterySpec
    from chargewright.machine.model import Machine

Command = TypeVar("Command", bound=Callable[..., Any])
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
USUAL_CLASS = "sport-600-1000"
USUAL_STANDARD = "sae"
LABEL = {  # field of a battery's label: option
    "chemistry": "chemistry",
    "capacity_ah": "ah",
    "cca_a": "cca",
    "cca_standard": "standard",
    "age_years": "age",
}


def label_options(function: Command) -> Command:
    """Add what is printed on the battery."""
    for option in (
        click.option("--age", type=float, metavar="YEARS", help="Age of the battery."),
        click.option("--standard", metavar="NAME", help="Of the CCA: sae (usual), en ..."),
        click.option("--cca", type=float, metavar="A", help="Rated cold-cranking current."),
        click.option("--ah", type=float, metavar="AH", help="Capacity on the label."),
        click.option("--chemistry", metavar="NAME", help="flooded, agm, gel or lifepo4."),
    ):
        function = option(function)
    return function


def answer_options(function: Command) -> Command:
    """Add where the answer goes: JSON, and the job card it belongs to."""
    function = click.option("--json", "as_json", is_flag=True, help="Write JSON.")(function)
    return click.option(
        "--card",
        type=FILE,
        help="Job card: its battery and machine where not told, and the answer kept on it.",
    )(function)


def class_option(function: Command) -> Command:
    """Add the class of machine."""
    return click.option(
        "--machine",
        "class_id",
        metavar="CLASS",
        help=f"Class; else the card's, else {USUAL_CLASS}.",
    )(function)


def opened(card: Path | None) -> JobCard | None:
    """Return the card a command was given; ``InputError`` names file and field."""
    if card is None:
        return None
    from chargewright.jobs.files import load_card

    return load_card(card)


def class_of(class_id: str | None, card: JobCard | None) -> str:
    """Return the class told, else the card's, else the usual one."""
    return class_id or (USUAL_CLASS if card is None else card.machine.class_id)


def machine_for(class_id: str | None, card: JobCard | None) -> Machine:
    """Return the machine of a class told, else the card's own with its spec sheet."""
    from chargewright.jobs.case import machine_from
    from chargewright.machine.conditioning import load_class

    if class_id is None and card is not None:
        return machine_from(card)
    return load_class(class_of(class_id, card))


def label_of(told: Mapping[str, Any], card: JobCard | None = None) -> BatterySpec:
    """Return the label that the options tell, a field not told taken from the card.

    ``told`` are a command's options. ``InputError`` names the one that is wrong.
    """
    from chargewright.machine.battery_spec import BatterySpec

    fields: dict[str, Any] = {}
    if card is not None:
        fields = card.battery.model_dump(mode="json", exclude_none=True)
    own = {name: told[option] for name, option in LABEL.items()}
    if own["cca_a"] is None:
        own["cca_standard"] = None  # the standard speaks of the figure told beside it
    elif own["cca_standard"] is None:
        own["cca_standard"] = USUAL_STANDARD
    fields |= {name: value for name, value in own.items() if value is not None}
    return BatterySpec.from_dict(fields, "battery")
