"""The waveforms of a simulation as one picture, beside those of a sound machine."""

from __future__ import annotations

import numpy as np

from chargewright.errors import InputError
from chargewright.machine.parameters import Array
from chargewright.pictures.ink import Theme
from chargewright.pictures.svg import Size
from chargewright.pictures.waves import Curve, Panel, waveform_picture
from chargewright.pictures.words import ENGLISH, Words, percent, say, state_words
from chargewright.simulation.oscilloscope import Traces
from chargewright.simulation.run import Simulation

EXPECTED = "expected an alternator with magnets and a full bridge"
PERIODS = 2  # shown of each mode
LEAST_RIPPLE_V = 0.2  # a battery's ripple is not blown up beyond this
DEGREES = 360.0


def simulation_picture(
    found: Simulation,
    *,
    size: Size = "phone",
    theme: Theme = "light",
    words: Words = ENGLISH,
    title: str = "",
    name: str = "waves",
) -> str:
    """Return phase currents, leg volts, output and battery ripple of a simulation, as SVG text.

    With the plug open the leads' open-circuit volts take the place of currents and leg volts.
    A sound machine's mean output and battery volts are dotted where a cause was put in.
    ``title`` is the machine's unless told.
    Raises ``InputError`` where the simulation has no waveforms.
    """
    if not found.has_traces:
        raise InputError(f"no waveforms of {found.machine.class_id!r}: {EXPECTED}")
    traces, sound = found.traces, found.sound_traces
    time_ms, at = repeated(traces)
    notes = [*(found.causes or (say(words, "waves.sound"),)), state_words(words, found.state)]
    if traces.cut_share > 0.0:
        notes.append(say(words, "waves.shares", cut=percent(traces.cut_share, words)))
    if not traces.converged:
        notes.append(say(words, "waves.unsettled"))
    both = traces.cutting.any() and not traces.cutting.all()
    return waveform_picture(
        time_ms,
        _panels(found, traces, sound, at, words),
        crank_deg_per_ms=DEGREES * traces.rpm / 60_000.0,
        cut_from_ms=PERIODS * traces.period_ms if both else None,
        notes=notes,
        title=title or found.machine.title,
        size=size,
        theme=theme,
        words=words,
        name=name,
    )


def repeated(traces: Traces) -> tuple[Array, np.ndarray]:
    """Return times [ms] and sample numbers that show each mode for ``PERIODS`` periods."""
    modes = [np.flatnonzero(traces.cutting == cut) for cut in (False, True)]
    order = np.concatenate([np.tile(rows, PERIODS) for rows in modes if rows.size])
    starts = np.repeat(
        np.arange(PERIODS * sum(rows.size > 0 for rows in modes)),
        np.concatenate([np.full(PERIODS, rows.size) for rows in modes if rows.size]),
    )
    within = traces.time_ms[order] % traces.period_ms
    return starts * traces.period_ms + within, order


def _panels(
    found: Simulation, traces: Traces, sound: Traces, at: np.ndarray, words: Words
) -> list[Panel]:
    panels = []
    if found.state.plug_in:
        phases = (("A", traces.phase_a_a), ("B", traces.phase_b_a), ("C", traces.phase_c_a))
        legs = (("A", traces.leg_a_v), ("B", traces.leg_b_v), ("C", traces.leg_c_v))
        panels.append(Panel(title=say(words, "waves.phases"), unit="A", curves=_curves(phases, at)))
        panels.append(Panel(title=say(words, "waves.legs"), unit="V", curves=_curves(legs, at)))
    else:
        pairs = (
            ("A-B", traces.pair_ab_v),
            ("B-C", traces.pair_bc_v),
            ("C-A", traces.pair_ca_v),
        )
        panels.append(Panel(title=say(words, "waves.pairs"), unit="V", curves=_curves(pairs, at)))
    for key, values, other in (
        ("waves.output", traces.output_v, sound.output_v),
        ("waves.battery", traces.battery_v, sound.battery_v),
    ):
        curves = [Curve(title=say(words, "waves.this"), values=values[at])]
        if found.causes:
            curves.append(_sound(sound, other, at, words))
        panels.append(
            Panel(title=say(words, key), unit="V", curves=tuple(curves), least=LEAST_RIPPLE_V)
        )
    return panels


def _curves(named: tuple[tuple[str, Array | None], ...], at: np.ndarray) -> tuple[Curve, ...]:
    return tuple(Curve(title=n, values=values[at]) for n, values in named if values is not None)


def _sound(sound: Traces, values: Array, at: np.ndarray, words: Words) -> Curve:
    """Return the mean of a sound machine, over both modes of its regulator: what a meter shows."""
    mean = float((sound.weight * values).sum())
    return Curve(title=say(words, "waves.other"), values=np.full(at.size, mean), faint=True)
