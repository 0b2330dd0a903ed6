"""Machines, checks and earlier readings as JSON-ready data and in words, for every screen."""

from __future__ import annotations

from typing import Any

from chargewright.checks.catalogue import Check
from chargewright.checks.cautions import cautions_for
from chargewright.checks.load import Book, load_book
from chargewright.jobs.history import PastReading, Track
from chargewright.jobs.quantity_text import format_shown
from chargewright.jobs.shown import Qualifier, Shown, Unit
from chargewright.jobs.step_words import state_words
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Cause
from chargewright.machine.model import Machine
from chargewright.machine.parameters import PARAMETERS
from chargewright.machine.points import POINT_BY_WORD, POINT_TITLES, Engine
from chargewright.machine.sources import source_of


def machine_dict(machine: Machine) -> dict[str, Any]:
    """Return a class with every figure and its source as JSON-ready data."""
    typical = machine.typical()
    keys = {rule.source for rule in machine.scatter.values()}
    keys |= {limit.source for limit in machine.limits}
    sources = {key: source_of(key, machine.class_id) for key in sorted(keys)}
    layout = machine.layout
    return {
        "id": machine.class_id,
        "title": machine.title,
        "lights_always_on": machine.lights_always_on,
        "output_a": machine.output_a,
        "layout": {
            "winding": layout.winding.value,
            "regulator": layout.regulator.value,
            "mosfet": layout.mosfet,
            "sense": layout.sense.value,
            "charge_to": layout.charge_to.value,
            "lighting": layout.lighting.value,
        },
        "speeds_rpm": {word: machine.speeds.rpm(word) for word in ("idle", "mid", "high")},
        "typical": [
            {
                "parameter": parameter.name,
                "value": float(typical[parameter.name]),
                "about": parameter.doc,
                "source": machine.scatter[parameter.name].source,
            }
            for parameter in PARAMETERS
        ],
        "limits": [
            {
                "id": limit.id,
                "title": limit.title,
                "function": limit.function.value,
                "low": limit.low,
                "high": limit.high,
                "unit": limit.unit,
                "per_1000_rpm": limit.per_krpm,
                "engine": limit.when.engine.value,
                "source": limit.source,
            }
            for limit in machine.limits
        ],
        "causes": [_cause_dict(cause) for cause in possible(machine)],
        "sources": {
            key: {"kind": one.kind.value, "text": one.text} for key, one in sources.items()
        },
    }


def _cause_dict(cause: Cause) -> dict[str, Any]:
    return {
        "id": cause.id,
        "title": cause.title,
        "component": cause.component.value,
        "share": cause.share,
        "share_note": cause.share_note,
        "repair": {
            "id": cause.repair.id,
            "title": cause.repair.title,
            "minutes": cause.repair.minutes,
            "parts_cost": cause.repair.parts_cost,
        },
    }


def possible(machine: Machine) -> tuple[Cause, ...]:
    """Return the causes a machine can have."""
    return catalogue().possible(machine)


def check_dict(check: Check, book: Book) -> dict[str, Any]:
    """Return a check as JSON-ready data."""
    return {
        "id": check.id,
        "title": check.title,
        "function": check.function.value if check.function else None,
        "plus": check.plus.word if check.plus is not None else None,
        "minus": check.minus.word if check.minus is not None else None,
        "state": state_text(check),
        "rpm": check.state.rpm if check.state.rpm is not None else check.speed,
        "minutes": check.minutes,
        "wait_h": check.wait_h,
        "needs": sorted(check.needs),
        "requires": sorted(check.requires),
        "how": check.how,
        "cautions": list(cautions_for(check, book.cautions)),
    }


def state_text(check: Check) -> str:
    """Return how the machine stands for a check, its speed as a word where no number is known."""
    text = state_words(check.state)
    if check.state.engine is Engine.RUNNING and check.state.rpm is None:
        word = f"at {check.speed} speed" if check.speed else "running"
        return text.replace("running, speed not known", word)
    return text


def track_title(track: Track) -> str:
    """Return what a track is called: its check, or its points."""
    titles = {check.id: check.title for check in load_book().checks}
    if track.check is not None:
        return titles.get(track.check, track.check)
    points = [POINT_TITLES[POINT_BY_WORD[word]] for word in (track.plus, track.minus) if word]
    return f"{track.function}, {' to '.join(points)}"


def past_text(past: PastReading, track: Track) -> str:
    """Return an earlier reading as a meter would show it."""
    if past.qualifier is None or track.unit is None:
        return "yes" if past.sign else "no"
    return format_shown(
        Shown(
            value=past.value,
            value_max=past.value_max,
            qualifier=Qualifier(past.qualifier),
            unit=Unit(track.unit),
        )
    )
