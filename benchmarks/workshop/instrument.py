"""What the technician reads and types: circuit, then a real meter, or the model's own law.

``read`` is the other world: a meter with a fixed error per dial position (sometimes beyond its
limit), noise, leads of its own. ``read_by_model`` draws from exactly the distribution that the
program believes in, blunders included, so that calibration can be told from the world's faults.
"""

from __future__ import annotations

import numpy as np

from benchmarks.workshop.world import Hidden
from chargewright.checks.looks import sign_probability
from chargewright.circuit import observe
from chargewright.circuit.signals import Probe
from chargewright.diagnosis.belief import LOOK_BLUNDER_SHARE
from chargewright.diagnosis.model_error import model_sigma
from chargewright.diagnosis.question import Question
from chargewright.machine.parameters import Array
from chargewright.machine.points import Function
from chargewright.meters.card import MeterCard
from chargewright.meters.indicate import (
    Indication,
    indicate_amps,
    indicate_diode,
    indicate_ohms,
    indicate_volts,
)
from chargewright.meters.likelihood import BLUNDER_SHARE, COMMON_BLUNDERS


def typed(hidden: Hidden, question: Question, meter: MeterCard) -> str:
    """Return what the technician types: a figure, ``OL``, or yes/no for a look."""
    if hidden.of_the_model:
        return read_by_model(hidden, question, meter)
    return read(hidden, question, meter)


def read(hidden: Hidden, question: Question, meter: MeterCard) -> str:
    """Return a reading of the other world."""
    rng, quirks = hidden.rng, hidden.quirks
    params = hidden.at_reading(question.state)
    if question.function is Function.LOOK:
        assert question.sign is not None
        return "yes" if rng.random() < float(sign_probability(question.sign, params)[0]) else "no"
    shown = indication(hidden, params, question, meter, nulled=True)
    centre = float(shown.centre[0])
    if question.function is Function.OHM and not quirks.nulled:
        centre += quirks.lead_ohm
    if shown.over[0]:
        return "OL"
    width = float(shown.half_width[0])
    value = centre + (quirks.gain[question.function] + quirks.noise * rng.standard_normal()) * width
    value += _contact(question, meter) * rng.standard_normal()
    return _digits(_shown(value, shown), float(shown.lsd[0]))


def _shown(value: float, shown: Indication) -> float:
    """Return what the display can show: only DC has a sign."""
    unsigned = (Function.OHM, Function.DIODE, Function.AC_V)
    return max(value, 0.0) if shown.function in unsigned else value


def _contact(question: Question, meter: MeterCard) -> float:
    return meter.function(Function.OHM).contact_ohm_u if question.function is Function.OHM else 0.0


def read_by_model(hidden: Hidden, question: Question, meter: MeterCard) -> str:
    """Return a reading drawn from the model's own likelihood."""
    rng, params = hidden.rng, hidden.params()
    if question.function is Function.LOOK:
        assert question.sign is not None
        seen = rng.random() < float(sign_probability(question.sign, params)[0])
        return "yes" if seen != (rng.random() < LOOK_BLUNDER_SHARE) else "no"
    shown = indication(hidden, params, question, meter, nulled=False)
    spread = np.hypot(shown.sigma, model_sigma(question, shown.centre, hidden.machine.layout))[0]
    value = shown.centre[0] + shown.half_width[0] * rng.uniform(-1, 1)
    value += spread * rng.standard_normal()
    if rng.random() < BLUNDER_SHARE:
        return _blunder(float(value), shown, rng)
    tops, shares = zip(*shown.tops, strict=True)
    top = tops[int(rng.choice(len(tops), p=np.array(shares)))]
    if abs(value) > top:
        return "OL"
    return _digits(_shown(float(value), shown), float(shown.lsd[0]))


def _blunder(value: float, shown: Indication, rng: np.random.Generator) -> str:
    shares = COMMON_BLUNDERS
    weights = (shares.anything, shares.ten_times, shares.tenth, shares.reversed, shares.dead)
    kind = int(rng.choice(5, p=np.array(weights)))
    lsd = float(shown.lsd[0])
    if kind == 4:
        return "OL" if shown.function in (Function.OHM, Function.DIODE) else _digits(0.0, lsd)
    if kind == 0:
        low, high = (-2, 8) if shown.function is Function.OHM else (-4, 3)
        value = float(10 ** rng.uniform(low, high)) * float(rng.choice((-1, 1)))
        return _digits(_shown(value, shown), min(lsd, 10 ** np.floor(np.log10(abs(value)) - 2)))
    return _digits(_shown(value * (10.0, 0.1, -1.0)[kind - 1], shown), lsd)


def indication(
    hidden: Hidden, params: Array, question: Question, meter: MeterCard, *, nulled: bool
) -> Indication:
    """Return what an ideal copy of the meter shows for the true parameters (1, COUNT)."""
    probe, layout = [Probe(*question.probe)], hidden.machine.layout
    if question.same_point:
        return indicate_ohms(meter, np.zeros(1), np.ones(1), nulled=nulled)
    if question.function in (Function.OHM, Function.DIODE):
        source = meter.function(question.function).test_source
        answer = observe.under_test(layout, params, question.state, probe, source)
        volts, amps = answer.volts[:, 0], answer.amps[:, 0]
        if question.function is Function.OHM:
            return indicate_ohms(meter, volts, amps, nulled=nulled)
        return indicate_diode(meter, volts, amps)
    if question.function in (Function.DC_V, Function.AC_V):
        signal = observe.signals(layout, params, question.state, volts=probe)[0]
        return indicate_volts(
            meter,
            question.function,
            dc=signal.dc[:, 0],
            ac_true_rms=signal.ac_true_rms[:, 0],
            ac_average=signal.ac_average[:, 0],
            frequency_hz=signal.frequency_hz[:, 0],
        )
    signal = observe.signals(layout, params, question.state, amps=probe)[1]
    return indicate_amps(meter, question.function, signal.dc[:, 0])


def _digits(value: float, step: float) -> str:
    places = max(0, round(-np.log10(step)))
    return f"{round(value / step) * step:.{places}f}"
