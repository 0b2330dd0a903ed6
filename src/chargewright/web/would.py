"""What would it read? One machine, one cause, one speed: every check and the waveforms."""

from __future__ import annotations

from typing import Annotated, Any

import numpy as np
from pydantic import Field

from chargewright.errors import InputError
from chargewright.jobs.card import Battery
from chargewright.jobs.parts import FreeDict, Part, Word
from chargewright.jobs.store import JobStore
from chargewright.machine.battery_spec import BatterySpec
from chargewright.machine.conditioning import machine_of
from chargewright.machine.spec import SpecSheet
from chargewright.meters.card import MeterCard
from chargewright.pictures.would_read import simulation_dict
from chargewright.simulation.faults import graded
from chargewright.simulation.oscilloscope import Traces
from chargewright.simulation.run import simulate
from chargewright.web.own import sheet_of

MOST_POINTS = 400  # of a curve: what a phone's screen can show
WAVES = (
    ("pair_ab_v", "alternator lead A to B", "V"),
    ("phase_a_a", "current in lead A", "A"),
    ("output_a", "current out of the regulator", "A"),
    ("output_v", "regulator output to its body", "V"),
    ("battery_v", "battery posts", "V"),
    ("battery_a", "current into the battery", "A"),
)


class WouldRead(Part):
    """The machine, what is wrong with it, and how it stands."""

    class_id: Annotated[
        Word | None, Field(validation_alias="class", serialization_alias="class")
    ] = None
    sheet: Annotated[
        Word | None, Field(description="A spec sheet of the workshop, instead of a class.")
    ] = None
    spec: FreeDict = Field(default_factory=dict)
    battery: Battery = Field(default_factory=Battery)
    cause: Annotated[Word | None, Field(description="Null for a sound machine.")] = None
    severity: Annotated[
        float | None,
        Field(ge=0, le=1, description="0 slight, 1 as bad as it gets; null: as it usually is."),
    ] = None
    rpm: Annotated[float | None, Field(ge=300, le=20000)] = None
    lights_on: bool | None = None
    meter: Word | None = None
    checks: Annotated[list[Word] | None, Field(max_length=300)] = None
    units: Annotated[int, Field(ge=10, le=400)] = 120


def with_sheet(asked: WouldRead, store: JobStore) -> WouldRead:
    """Return the question with class and figures of the sheet it names put in.

    Raises ``InputError`` for neither or both of class and sheet, ``MissingError`` for a sheet
    the workshop does not have.
    """
    if asked.sheet is None:
        if asked.class_id is None:
            raise InputError("class is missing: expected a machine class, or a sheet that has one")
        return asked
    if asked.class_id is not None:
        raise InputError("given 'class' and 'sheet': expected one or the other")
    sheet = sheet_of(store, asked.sheet)
    spec = {**sheet["spec"], **asked.spec}
    return asked.model_copy(update={"class_id": str(sheet["class"]), "spec": spec})


def would_read(asked: WouldRead, meter: MeterCard | None) -> dict[str, Any]:
    """Return readings and waveforms; ``InputError`` names what is unknown or impossible.

    ``asked`` has a class (``with_sheet``).
    """
    assert asked.class_id is not None
    battery = asked.battery.model_dump(mode="json", exclude_none=True)
    machine = machine_of(
        asked.class_id,
        SpecSheet.from_dict(asked.spec, "spec") if asked.spec else None,
        battery=BatterySpec.from_dict(battery, "battery") if battery else None,
        ambient_c=20.0,
    )
    causes: list[Any] = []
    if asked.cause is not None and asked.severity is None:
        causes = [asked.cause]
    elif asked.cause is not None and asked.severity is not None:
        causes = [graded(machine, asked.cause, asked.severity)]
    elif asked.severity is not None:
        raise InputError("severity without a cause: expected 'cause'")
    found = simulate(
        machine,
        causes,
        rpm=asked.rpm,
        lights=asked.lights_on,
        meter=meter,
        units=asked.units,
    )
    told = simulation_dict(found)
    wanted = None if asked.checks is None else set(asked.checks)
    return {
        "machine": told["machine"],
        "causes": told["causes"],
        "meter": told["meter"],
        "rpm": found.state.rpm,
        "readings": [
            {**one, "value": None if one["shows"] is None else one["shows"]["middle"]}
            for one in told["readings"]
            if wanted is None or one["check"] in wanted
        ],
        "waveforms": curves(found.traces) if found.has_traces else [],
    }


def curves(traces: Traces) -> list[dict[str, Any]]:
    """Return the waveforms worth showing, each thinned to what can be seen."""
    arrays = traces.arrays()
    every = max(1, traces.time_ms.size // MOST_POINTS)
    time_ms = np.round(traces.time_ms[::every], 4).tolist()
    return [
        {
            "id": name,
            "title": title,
            "unit": unit,
            "t_ms": time_ms,
            "values": np.round(arrays[name][::every], 3).tolist(),
        }
        for name, title, unit in WAVES
        if name in arrays
    ]
