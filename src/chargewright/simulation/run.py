"""The simulation as one call: machine, causes and state in; readings and waveforms out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from chargewright.checks.catalogue import Catalogue, Check
from chargewright.checks.load import kind_of, load_book
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.question import Question, question_of
from chargewright.errors import InputError
from chargewright.machine.conditioning import load_class
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.model import Machine
from chargewright.machine.points import Engine, State, Warmth
from chargewright.meters.card import MeterCard
from chargewright.meters.load import load_meter
from chargewright.simulation.faults import Fault, fault_words, put_faults, told_faults
from chargewright.simulation.oscilloscope import Traces, traces
from chargewright.simulation.readings import CheckReading, read_all

UNITS = 200
SEED = 1
RPM_REL_U = 0.03  # a speed typed is one read off a tachometer
LEAST_RPM, MOST_RPM = 300.0, 20000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulation:
    """What a machine with some causes shows.

    ``causes`` in words; ``readings`` one per check; ``traces`` the waveforms of the typical unit
    in ``state``, ``sound_traces`` those of a sound one. They exist for the kinds of alternator
    whose waveforms can be sampled (``circuit.sampled.can_sample``); on others they are empty.
    """

    machine: Machine
    causes: tuple[str, ...]
    meter: MeterCard
    state: State
    units: int
    seed: int
    readings: tuple[CheckReading, ...]
    traces: Traces
    sound_traces: Traces

    @property
    def has_traces(self) -> bool:
        """Whether there are waveforms."""
        return self.traces.time_ms.size > 0


def simulate(
    machine: str | Machine,
    causes: Sequence[str | Fault] = (),
    *,
    rpm: float | None = None,
    lights: bool | None = None,
    plug_out: bool = False,
    hot: bool | None = None,
    meter: str | MeterCard | None = None,
    nulled: bool = False,
    units: int = UNITS,
    seed: int = SEED,
) -> Simulation:
    """Return what every check reads and what an oscilloscope shows on a machine with causes.

    ``machine`` is a class or a conditioned machine; ``causes`` are ids, each with its severity
    where wanted (``"plug_resistance=0.2"``, in the unit the cause is told in), or faults from
    ``faults.graded``; at most two.
    ``rpm``, ``lights``, ``plug_out`` and ``hot`` set the state of the waveforms (middle speed
    where none is given) and, where given, of every check with the engine running. Readings are
    those of ``units`` machines drawn with ``seed``.

    Raises ``InputError`` for what is unknown, impossible on this machine or out of range.

    >>> found = simulate("sport-600-1000", ["magnets_weak=70%"], units=20)
    >>> found.causes
    ('rotor gives 70 % of its flux (A and B and C)',)
    >>> found.traces.converged
    True
    """
    known = load_class(machine) if isinstance(machine, str) else machine
    if rpm is not None and not LEAST_RPM <= rpm <= MOST_RPM:
        raise InputError(f"rpm {rpm:g}: expected {LEAST_RPM:g} to {MOST_RPM:g}")
    if not 10 <= units <= 5000:
        raise InputError(f"units {units}: expected 10 to 5000")
    card = meter if isinstance(meter, MeterCard) else load_meter(*([meter] if meter else []))
    faults = told_faults(known, causes)
    book = load_book(kind_of(known.class_id))
    checks = book.catalogue(known.layout, known.speeds, lights_always_on=known.lights_always_on)
    asked = _asked(checks, rpm=rpm, lights=lights, plug_out=plug_out, hot=hot)
    z = np.random.default_rng(seed).standard_normal((units, LATENTS))
    with_faults = draw(known, tuple(f.cause for f in faults), put_faults(z, known, faults))
    readings = read_all(
        asked,
        Predictions(known.layout, with_faults),
        Predictions(known.layout, draw(known, (), z)),
        card,
        nulled=nulled,
    )
    state = State(
        engine=Engine.RUNNING,
        rpm=known.speeds.rpm("mid") if rpm is None else rpm,
        key_on=True,
        lights_on=known.lights_always_on if lights is None else lights,
        plug_in=not plug_out,
        warmth=Warmth.HOT if hot else Warmth.COLD,
    )
    middle = np.zeros((1, LATENTS))
    typical = draw(known, tuple(f.cause for f in faults), put_faults(middle, known, faults))
    return Simulation(
        machine=known,
        causes=tuple(fault_words(known, fault, slot=slot) for slot, fault in enumerate(faults)),
        meter=card,
        state=state,
        units=units,
        seed=seed,
        readings=readings,
        traces=traces(known.layout, typical, state),
        sound_traces=traces(known.layout, draw(known, (), middle), state),
    )


def _asked(
    checks: Catalogue,
    *,
    rpm: float | None,
    lights: bool | None,
    plug_out: bool,
    hot: bool | None,
) -> list[tuple[Check, Question]]:
    """Return checks with their questions, each question once."""
    found: dict[Question, Check] = {}
    for check in checks:
        if check.is_act:
            continue
        state = check.state
        if state.engine is Engine.RUNNING:
            state = replace(
                state,
                lights_on=state.lights_on if lights is None else lights,
                plug_in=state.plug_in and not plug_out,
            )
            if rpm is not None:
                state = replace(state, rpm=rpm, rpm_max=None, rpm_rel_u=RPM_REL_U)
            if hot is not None:
                state = replace(state, warmth=Warmth.HOT if hot else Warmth.COLD)
        found.setdefault(question_of(check, state), check)
    return [(check, question) for question, check in found.items()]
