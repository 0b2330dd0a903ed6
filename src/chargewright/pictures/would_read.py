"""A simulation in words and as JSON-ready data, for the command line and the service."""

from __future__ import annotations

from math import floor, log10
from typing import Any

from chargewright.checks.word import describe
from chargewright.diagnosis.number_words import percent
from chargewright.machine.points import Function
from chargewright.pictures.axes import prefixed
from chargewright.simulation.oscilloscope import Traces
from chargewright.simulation.readings import CheckReading, Shows
from chargewright.simulation.run import Simulation

FAR_APART = 10.0


def simulation_dict(found: Simulation) -> dict[str, Any]:
    """Return a simulation as JSON-ready data: readings and waveforms, units in the names."""
    return {
        "machine": found.machine.class_id,
        "causes": list(found.causes),
        "meter": found.meter.id,
        "units": found.units,
        "seed": found.seed,
        "readings": [_reading_dict(one) for one in found.readings],
        "waveforms": _waveforms_dict(found.traces) if found.has_traces else None,
    }


def _waveforms_dict(traces: Traces) -> dict[str, Any]:
    return {
        "rpm": traces.rpm,
        "period_ms": traces.period_ms,
        "cut_share": traces.cut_share,
        "converged": traces.converged,
        "time_ms": traces.time_ms.tolist(),
        "weight": traces.weight.tolist(),
        "cutting": traces.cutting.tolist(),
        **{name: values.tolist() for name, values in traces.arrays().items()},
    }


def _reading_dict(one: CheckReading) -> dict[str, Any]:
    state = one.question.state
    return {
        "check": one.check.id,
        "title": one.check.title,
        "text": reading_text(one, one.shows),
        "sound_text": reading_text(one, one.sound),
        "function": one.question.function.value,
        "unit": one.question.function.unit,
        "rpm": state.rpm,
        "lights_on": state.lights_on,
        "plug_in": state.plug_in,
        "warmth": state.warmth.value,
        "shows": _shows_dict(one.shows),
        "sound": _shows_dict(one.sound),
        "told_apart": one.told,
    }


def _shows_dict(shows: Shows | None) -> dict[str, float | None] | None:
    if shows is None:
        return None
    return {
        "low": shows.low,
        "middle": shows.middle,
        "high": shows.high,
        "overload": shows.overload,
    }


def reading_title(one: CheckReading) -> str:
    """Return the check's title; where the state is another than its own, points and state."""

    question = one.question
    if question.state == one.check.state:
        return one.check.title
    return describe(question.function, question.plus, question.minus, question.state)


def reading_text(one: CheckReading, shows: Shows | None) -> str:
    """Return what the display shows; both columns of a row in the same multiple and places."""

    if shows is None:
        return "-"
    if one.question.function is Function.LOOK:
        return f"seen in {percent(shows.overload)}"
    if shows.low is None or shows.middle is None or shows.high is None:
        return "OL"
    spans = [
        (s.low, s.high)
        for s in (one.shows, one.sound)
        if s is not None and s.low is not None and s.high is not None
    ]
    sizes = [max(abs(low), abs(high)) for low, high in spans]
    if max(sizes) > FAR_APART * min(sizes) > 0.0:
        spans = [(shows.low, shows.high)]  # a common multiple would hide the smaller one
    factor, unit, places = _form(spans, one.question.function.unit)
    ends = [f"{factor * v:.{places}f}" for v in (shows.low, shows.middle, shows.high)]
    text = f"{ends[1]} {unit}"
    if ends[0] != ends[2]:
        between = "-" if shows.low >= 0.0 else " to "
        text += f" ({ends[0]}{between}{ends[2]})"
    return f"{text}, OL {percent(shows.overload)}" if shows.overload >= 0.05 else text


def _form(spans: list[tuple[float, float]], unit: str) -> tuple[float, str, int]:
    """Return (factor, unit, places) in which spans read easily and can be told apart."""

    sizes = [max(abs(low), abs(high)) for low, high in spans]
    factor, shown = prefixed(min((size for size in sizes if size > 0.0), default=1.0), unit)
    widths = [max(high - low, 0.02 * max(abs(low), abs(high))) for low, high in spans]
    width = factor * min((w for w in widths if w > 0.0), default=0.0)
    if width <= 0.0:
        return 1.0, unit, 0
    return factor, shown, max(0, min(3, 1 - floor(log10(width))))
