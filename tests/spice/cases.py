"""Random running machines for the comparison: class, cause, severity, speed, lights, warmth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.machine.battery_spec import BatterySpec
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Cause
from chargewright.machine.classes import class_ids
from chargewright.machine.conditioning import machine_of
from chargewright.machine.draw import LATENTS, draw
from chargewright.machine.layout import ChargeTo, Chemistry, Layout, Sense, Winding
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, State, Warmth
from chargewright.machine.spec import SpecSheet

LOWEST_RPM, HIGHEST_RPM = 800.0, 8000.0
LITHIUM_SHARE = 0.1  # for the causes that only such a battery has
MOST_DRAWS = 1000


def is_bridge(layout: Layout) -> bool:
    """Tell whether a machine is the common kind: magnets, a whole bridge, lamps on the battery.

    The others have netlists of their own (``half_wave.py``, ``field.py``).
    """
    return not (layout.half_wave or layout.field or layout.lighting_coil)


def bridge_classes() -> list[str]:
    """Return the classes of that kind."""
    return [name for name in class_ids() if is_bridge(machine_of(name).layout)]


def bridge_causes() -> list[Cause]:
    """Return the causes that machines of that kind can have."""
    lithium = BatterySpec(chemistry=Chemistry.LIFEPO4)
    machines = [machine_of(n, battery=b) for n in bridge_classes() for b in (None, lithium)]
    return [c for c in catalogue().causes if any(c.possible(m) for m in machines)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One machine at one moment; ``params`` (1, COUNT)."""

    name: str
    cause: str
    layout: Layout
    params: Array
    state: State
    rpm: float


def random_case(number: int, seed: int) -> Case:
    """Return case ``number`` of a seeded list; causes take turns, all else is drawn.

    One three-phase machine in four is rewound in delta, and one in three has its sense or
    charge lead moved, because the classes alone cover few layouts.
    """
    rng = np.random.default_rng([seed, number])
    causes = bridge_causes()
    cause = causes[number % len(causes)]
    for _ in range(MOST_DRAWS):
        class_id = str(rng.choice(bridge_classes()))
        lithium = rng.random() < LITHIUM_SHARE
        battery = BatterySpec(chemistry=Chemistry.LIFEPO4) if lithium else None
        machine = machine_of(class_id, _rewired(class_id, rng), battery=battery)
        if cause.possible(machine):
            break
    else:
        raise AssertionError(f"no machine drawn can have {cause.id}")
    state = State(
        engine=Engine.RUNNING,
        rpm=float(rng.uniform(LOWEST_RPM, HIGHEST_RPM)),
        key_on=True,
        lights_on=bool(rng.random() < 0.5),
        warmth=Warmth.HOT if rng.random() < 0.5 else Warmth.COLD,
    )
    assert state.rpm is not None
    layout = machine.layout
    return Case(
        name=f"{number}: {cause.id}, {class_id} {layout.winding} {layout.regulator}",
        cause=cause.id,
        layout=layout,
        params=draw(machine, (cause,), rng.standard_normal((1, LATENTS))),
        state=state,
        rpm=state.rpm,
    )


def random_cases(count: int, seed: int, first: int = 0) -> list[Case]:
    """Return ``count`` cases from number ``first`` on."""
    return [random_case(first + i, seed) for i in range(count)]


def _rewired(class_id: str, rng: np.random.Generator) -> SpecSheet | None:
    winding = machine_of(class_id).layout.winding
    if winding is Winding.STAR and rng.random() < 0.25:
        winding = Winding.DELTA
    if rng.random() < 1 / 3:
        return SpecSheet(
            winding=winding,
            sense=Sense(str(rng.choice([s.value for s in Sense]))),
            charge_to=ChargeTo(str(rng.choice([c.value for c in ChargeTo]))),
        )
    return SpecSheet(winding=winding)
