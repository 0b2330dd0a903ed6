"""``chargewright new``: begin a job card, by options or by a few questions."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from chargewright.cli.open import FILE
from chargewright.cli.program import checked_fields
from chargewright.cli.screen import Screen
from chargewright.errors import InputError, nearest

CHEMISTRIES = ("flooded", "agm", "gel", "lifepo4")
CCA_STANDARDS = ("en", "sae", "din", "iec", "jis", "mca")


def _finite(_context: click.Context, option: click.Parameter, value: float | None) -> float | None:
    """Refuse nan and infinity, which the option's own type lets pass."""
    if value is not None and not math.isfinite(value):
        raise InputError(f"{option.opts[0]} {value:g}: expected a number")
    return value


@click.command(short_help="Begin a job card.")
@click.argument("card", type=FILE)
@click.option("--class", "class_id", metavar="CLASS", help="Class of machine; left out, it asks.")
@click.option("--label", default="", help="What you know the machine by: plate, colour, peg.")
@click.option("--title", default="", help="One line for lists.")
@click.option("--complaint", metavar="KIND", help="Why it came in, a word of the list.")
@click.option("--words", default="", help="The customer's own words.")
@click.option("--meter", help="Meter card: one that ships, or your own TOML file.")
@click.option("--nulled", is_flag=True, help="The meter's leads are nulled before ohms.")
@click.option("--battery", "chemistry", type=click.Choice(CHEMISTRIES), help="Battery chemistry.")
@click.option("--ah", type=float, callback=_finite, help="Capacity printed on the battery, Ah.")
@click.option("--cca", type=float, callback=_finite, help="Cold-cranking amperes printed on it.")
@click.option("--cca-standard", type=click.Choice(CCA_STANDARDS), help="The standard of --cca.")
@click.option("--age", type=float, callback=_finite, help="Age of the battery, years.")
@click.option("--ambient", type=float, callback=_finite, help="Air temperature, °C.")
@click.option("--force", is_flag=True, help="Write over CARD when it is there.")
def new(card: Path, class_id: str | None, force: bool, **given: Any) -> None:  # noqa: ANN401
    """Begin a job on CARD. Without --class it asks a few questions.

    'chargewright machines' lists the classes.
    """
    if card.exists() and not force:
        raise InputError(f"{card} exists already; choose a new name, or --force")
    if class_id is None:
        class_id = _ask(given)
    from chargewright.jobs.case import case_from
    from chargewright.jobs.codec import card_from_dict
    from chargewright.jobs.files import save_card

    created = datetime.now(UTC).replace(microsecond=0)
    raw = _raw(card, class_id, created, given)
    with checked_fields("new card"):
        made = card_from_dict(raw, source="new card")
        case = case_from(made)  # a class, complaint or meter that does not exist stops here
    save_card(made, card)
    click.echo(f"{card} begun: {case.machine.title}.")
    click.echo(f"Next: chargewright guide {card}")


def _raw(card: Path, class_id: str, created: datetime, given: dict[str, Any]) -> dict[str, Any]:
    battery = {
        "chemistry": given["chemistry"],
        "capacity_ah": given["ah"],
        "cca_a": given["cca"],
        "cca_standard": given["cca_standard"],
        "age_years": given["age"],
    }
    raw: dict[str, Any] = {
        "card_version": 2,
        "id": job_id(card, created),
        "created": created.isoformat().replace("+00:00", "Z"),
        "title": given["title"],
        "machine": {"class": class_id, "label": given["label"]},
        "battery": {name: value for name, value in battery.items() if value is not None},
        "complaint": {"text": given["words"]},
    }
    if given["complaint"]:
        raw["complaint"]["kind"] = given["complaint"]
    if given["meter"] or given["nulled"]:
        raw["meter"] = {**_meter(given["meter"]), "leads_nulled": given["nulled"]}
    if given["ambient"] is not None:
        raw["ambient_c"] = given["ambient"]
    return raw


def _meter(name: str | None) -> dict[str, Any]:
    """Return the card's word for a shipped meter, or the whole of one's own."""
    from chargewright.checks.entry import read_toml
    from chargewright.meters.load import DEFAULT_METER, load_meter

    if name is None or not name.endswith(".toml"):
        return {"card": name or DEFAULT_METER}
    load_meter(Path(name))
    return {"own_card": read_toml(Path(name))}


def job_id(card: Path, created: datetime) -> str:
    """Return an id made of the file's name and the time, so that no two jobs share one."""
    stem = re.sub(r"[^A-Za-z0-9_.-]+", "-", card.stem).strip("-_.")[:40] or "job"
    return f"{stem}-{created:%Y%m%d-%H%M%S}"


def _ask(given: dict[str, Any]) -> str:
    """Ask for what a job should begin with; return the class."""
    from chargewright.machine.classes import class_ids, read_class
    from chargewright.machine.prior import complaints
    from chargewright.meters.load import load_meter, meter_ids

    screen = Screen.here()
    classes = class_ids()
    class_id = _choose(screen, "Which machine?", classes, [read_class(c).title for c in classes])
    if class_id is None:
        raise InputError("a card needs a class of machine: give its number, its id, or --class")
    if not given["label"]:
        given["label"] = _line("Plate, colour or peg (Enter: none)")
    if given["complaint"] is None:
        kinds = tuple(complaints())
        titles = [complaints()[kind].title for kind in kinds]
        given["complaint"] = _choose(screen, "Complaint?", kinds, titles)
    if not given["words"]:
        given["words"] = _line("The customer's own words (Enter: none)")
    if given["meter"] is None:
        meters = meter_ids()
        titles = [load_meter(name).title for name in meters]
        given["meter"] = _choose(screen, "Meter?", meters, titles)
    if given["chemistry"] is None:
        given["chemistry"] = _choose(screen, "Battery?", CHEMISTRIES, CHEMISTRIES)
    return class_id


def _line(question: str) -> str:
    return input(f"{question}: ").strip()


def _choose(screen: Screen, question: str, ids: Sequence[str], titles: Sequence[str]) -> str | None:
    """Return the id chosen by number or by name; None when nothing is typed."""
    screen.line(question, "bold")
    screen.rows([[str(n).rjust(2), title] for n, title in enumerate(titles, 1)])
    while True:
        typed = _line("Number (Enter: not known)")
        if not typed:
            return None
        if typed.isascii() and typed.isdigit() and 0 < int(typed) <= len(ids):
            return ids[int(typed) - 1]
        if typed in ids:
            return typed
        if typed.isascii() and typed.isdigit():
            screen.line(f"{typed[:20]!r}: expected 1 to {len(ids)}.", "yellow")
        else:
            screen.line(f"{typed[:40]!r}: expected a number; {nearest(typed, ids)}", "yellow")
