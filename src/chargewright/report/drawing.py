"""The pictures of the technical report: the deciding check on the circuit, and its waveforms.

Waveforms are computed, not measured: those of the likeliest machine still believed in, beside
the same machine repaired.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from chargewright.diagnosis.findings import Assessment
from chargewright.diagnosis.population import SOUND
from chargewright.diagnosis.question import Answer
from chargewright.machine.draw import draw
from chargewright.machine.points import Engine, Function, State
from chargewright.pictures.circuit import circuit_picture
from chargewright.pictures.ink import Theme
from chargewright.pictures.simulated import simulation_picture
from chargewright.report.document import Picture
from chargewright.report.evidence import deciding
from chargewright.report.say import figures, language, say
from chargewright.report.wording import dial_words, reading_words
from chargewright.simulation.oscilloscope import traces
from chargewright.simulation.run import Simulation
from chargewright.texts.catalogue import picture_words
from chargewright.workbench import Job


def pictures_of(job: Job, found: Assessment) -> tuple[Picture, ...]:
    """Return the pictures of the reading that decided; none where nothing decided yet."""
    told = [
        answer for answer in deciding(job.case, found) if answer.question.function != Function.LOOK
    ]
    if not told:
        return ()
    return (_circuit(job, told[0]), _waveforms(job, told[0]))


def _circuit(job: Job, answer: Answer) -> Picture:
    question = answer.question

    def drawn(theme: Theme) -> str:
        return circuit_picture(
            job.case.machine.layout,
            plus=question.plus,
            minus=question.minus,
            function=question.function,
            state=question.state,
            theme=theme,
            words=picture_words(language()),
            name="deciding",
        )

    caption = say(
        "The reading that decided, {name}: {title}, {shown}.",
        name=answer.id,
        title=say(answer.title),
        shown=reading_words(answer),
    )
    alt = say(
        "Circuit with the probes of reading {name}: {dial}.",
        name=answer.id,
        dial=dial_words(answer),
    )
    return _picture(drawn, alt, caption)


def _waveforms(job: Job, answer: Answer) -> Picture:
    found = likeliest(job, answer.question.state)

    def drawn(theme: Theme) -> str:
        return simulation_picture(
            found,
            theme=theme,
            words=picture_words(language()),
            title=say(found.machine.title),
            name="waves",
        )

    caption = say(
        "Computed, not measured: the likeliest machine by these readings; dotted, the same machine "
        "repaired."
    )
    causes = ", ".join(found.causes) or say("no fault")
    alt = say(
        "Computed waveforms at {rpm} rpm with {causes}: mean output {volts} V, repaired "
        "{repaired} V.",
        rpm=f"{found.traces.rpm:.0f}",
        causes=causes,
        volts=figures(f"{(found.traces.weight * found.traces.output_v).sum():.2f}"),
        repaired=figures(f"{(found.sound_traces.weight * found.sound_traces.output_v).sum():.2f}"),
    )
    return _picture(drawn, alt, caption)


def _picture(drawn: Callable[[Theme], str], alt: str, caption: str) -> Picture:
    return Picture(svg=drawn("print"), css=drawn("css"), alt=alt, caption=caption)


def likeliest(job: Job, state: State) -> Simulation:
    """Return the waveforms of the machine believed in most, in ``state`` or at middle speed."""
    belief, machine = job.session.now, job.case.machine
    row = int(np.argmax(belief.weights))
    population = belief.population
    hypothesis = population.hypotheses[int(population.member[row])]
    shown = state
    if state.engine is not Engine.RUNNING or state.rpm is None:
        shown = State(
            engine=Engine.RUNNING,
            rpm=machine.speeds.rpm("mid"),
            key_on=True,
            lights_on=machine.lights_always_on,
        )
    elif state.rpm_max is not None:
        shown = replace(state, rpm=(state.rpm * state.rpm_max) ** 0.5, rpm_max=None)
    mended = draw(machine, (), population.z[row : row + 1])
    return Simulation(
        machine=machine,
        causes=tuple(say(cause.title) for cause in hypothesis.causes if cause.id != SOUND),
        meter=job.case.meter,
        state=shown,
        units=1,
        seed=job.case.seed,
        readings=(),
        traces=traces(machine.layout, population.params[row : row + 1], shown),
        sound_traces=traces(machine.layout, mended, shown),
    )
