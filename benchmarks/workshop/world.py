"""Hidden machines drawn from a world that is deliberately not the model.

Other scatter (wider, shifted centres), unequal phases, EMF harmonics, a battery law whose
over-voltage is off, hot parts, loads off, a prior of its own, speeds read by ear, a meter out of
calibration. Readings are made here: circuit, then a real meter's fixed gain error, counts,
rounding to the display. Everything is seeded.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.checks.looks import sign_probability
from chargewright.circuit import observe
from chargewright.circuit.signals import Probe
from chargewright.diagnosis.question import Question
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Cause
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS, SLOTS, draw
from chargewright.machine.model import Machine
from chargewright.machine.parameters import INDEX, NAMES, Array
from chargewright.machine.points import Function
from chargewright.meters.card import MeterCard
from chargewright.meters.indicate import (
    indicate_amps,
    indicate_diode,
    indicate_ohms,
    indicate_volts,
)

WIDER = 1.25  # scatter of hidden machines against the model's
SHIFT_SD = 0.5  # of the centres, in the model's standard deviations
OFF = {  # relative disturbances on top, standard deviations
    "emf_v_per_krpm": 0.02,
    "winding_ohm": 0.03,
    "winding_h": 0.06,
    "running_load_a": 0.15,
    "light_load_a": 0.10,
    "polarisation": 0.10,
    "battery_ohm": 0.15,
    "crank_a": 0.12,
}


@dataclass(slots=True)
class Hidden:
    """One machine on the stand: its true parameters and causes, and the meter's own errors."""

    machine: Machine
    causes: tuple[Cause, ...]
    params: Array
    gain: dict[Function, float]
    rng: np.random.Generator

    @property
    def components(self) -> set[str]:
        """Components truly at fault (``none`` for a sound machine)."""
        return {cause.component.value for cause in self.causes}

    @property
    def repairs(self) -> set[str]:
        """Repairs truly needed."""
        return {cause.repair.id for cause in self.causes} - {"nothing"}


def hidden_machine(
    class_id: str, causes: tuple[str, ...], meter: MeterCard, rng: np.random.Generator
) -> Hidden:
    """Return a hidden machine of a class with the named causes."""
    machine = load_class(class_id)
    known = catalogue()
    chosen = tuple(known.get(name) for name in causes)
    z = rng.standard_normal((1, LATENTS))
    z[:, : -(SLOTS * 4 + 1)] = z[:, : -(SLOTS * 4 + 1)] * WIDER + SHIFT_SD * rng.standard_normal(
        LATENTS - SLOTS * 4 - 1
    ) * (rng.random(LATENTS - SLOTS * 4 - 1) < 0.3)
    params = draw(machine, chosen, np.clip(z, -3, 3))
    for family, sd in OFF.items():
        for name in NAMES:
            if name == family or name[:-2] == family:
                factor = np.exp(sd * rng.standard_normal())
                params[:, INDEX[name]] *= factor
    params[:, INDEX["emf_third"]] += 0.03 * rng.standard_normal()
    params[:, INDEX["emf_fifth"]] += 0.03 * rng.standard_normal()
    gain = {function: rng.uniform(-1.0, 1.0) for function in Function}
    return Hidden(machine=machine, causes=chosen, params=params, gain=gain, rng=rng)


def reading(hidden: Hidden, question: Question, meter: MeterCard) -> str:
    """Return what the technician types: the display's text, ``OL``, or yes/no for a look."""
    if question.function is Function.LOOK:
        assert question.sign is not None
        chance = float(sign_probability(question.sign, hidden.params)[0])
        return "yes" if hidden.rng.random() < chance else "no"
    probe = [Probe(*question.probe)]
    layout, params = hidden.machine.layout, hidden.params
    if question.same_point:
        shown = indicate_ohms(meter, np.zeros(1), np.ones(1), nulled=False)
    elif question.function in (Function.OHM, Function.DIODE):
        source = meter.function(question.function).test_source
        answer = observe.under_test(layout, params, question.state, probe, source)
        volts, amps = answer.volts[:, 0], answer.amps[:, 0]
        if question.function is Function.OHM:
            shown = indicate_ohms(meter, volts, amps, nulled=False)
        else:
            shown = indicate_diode(meter, volts, amps)
    elif question.function in (Function.DC_V, Function.AC_V):
        signal = observe.signals(layout, params, question.state, volts=probe)[0]
        shown = indicate_volts(
            meter,
            question.function,
            dc=signal.dc[:, 0],
            ac_true_rms=signal.ac_true_rms[:, 0],
            ac_average=signal.ac_average[:, 0],
            frequency_hz=signal.frequency_hz[:, 0],
        )
    else:
        signal = observe.signals(layout, params, question.state, amps=probe)[1]
        shown = indicate_amps(meter, question.function, signal.dc[:, 0])
    if shown.over[0]:
        return "OL"
    value = shown.centre[0] + hidden.gain[question.function] * shown.half_width[0]
    value += shown.sigma[0] * hidden.rng.standard_normal()
    step = shown.lsd[0]
    value = round(value / step) * step
    places = max(0, round(-np.log10(step)))
    return f"{value:.{places}f}"
