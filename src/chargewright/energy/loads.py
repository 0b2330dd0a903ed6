"""The loads of a machine as a list: name, watts or amperes, and the share of time they are on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from chargewright.errors import InputError
from chargewright.machine.fields import Table, read_toml
from chargewright.machine.model import Machine

RATED_V = 13.5  # voltage at which load currents are stated, as in the circuit


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One load: ``amps`` [A] at 13.5 V while on, ``duty`` share of riding time it is on."""

    name: str
    amps: float
    duty: float = 1.0

    def __post_init__(self) -> None:
        if not 0.0 < self.amps <= 200.0:
            raise InputError(f"load {self.name!r}: {self.amps:g} A; expected above 0 up to 200 A")
        if not 0.0 <= self.duty <= 1.0:
            raise InputError(f"load {self.name!r}: duty = {self.duty:g}; expected 0 to 1")

    @property
    def mean_a(self) -> float:
        """Mean current [A] at 13.5 V."""
        return self.amps * self.duty


def read_loads(path: Path) -> tuple[Load, ...]:
    """Return the loads of a TOML file: ``[[load]]`` tables with name, watts or amps, duty.

    ``count`` multiplies alike ones. ``InputError`` names file, load, field and what was expected.
    """
    top = read_toml(path)
    top.only(("load",))
    return loads_of(top)


def loads_of(top: Table) -> tuple[Load, ...]:
    """Return the loads in a table that holds a list ``load``."""
    return tuple(_load(row) for row in top.tables("load"))


def loads_from_dicts(rows: list[Mapping[str, object]], where: str = "loads") -> tuple[Load, ...]:
    """Return the loads of a job card or form."""
    return loads_of(Table({"load": rows}, where))


def _load(row: Table) -> Load:
    row.only(("name", "watts", "amps", "duty", "count"))
    if row.has("watts") == row.has("amps"):
        raise row.fail("watts", "watts or amps, just one of them")
    count = row.number_or("count", 1.0, low=1.0, high=50.0)
    if row.has("watts"):
        amps = row.number("watts", "W", low=0.01, high=2700.0) / RATED_V
    else:
        amps = row.number("amps", "A", low=0.001, high=200.0)
    return Load(
        name=row.text("name"),
        amps=count * amps,
        duty=row.number_or("duty", 1.0, low=0.0, high=1.0),
    )


def usual_loads(machine: Machine, *, lights_on: bool = True) -> tuple[Load, ...]:
    """Return what a machine of this class usually draws, where no list was given."""
    typical = machine.typical()
    found = [Load(name="ignition, fuel and instruments", amps=typical["running_load_a"])]
    on_battery = not machine.layout.lighting_coil
    if on_battery and (lights_on or machine.lights_always_on):
        found.append(Load(name="lamps", amps=typical["light_load_a"]))
    return tuple(found)


def mean_amps(loads: tuple[Load, ...]) -> float:
    """Return the mean current [A] of all loads at 13.5 V."""
    return sum(load.mean_a for load in loads)
