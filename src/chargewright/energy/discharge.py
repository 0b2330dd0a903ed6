"""A steady discharge on the circuit's battery, and the ampere-hours a recorded one really gave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.circuit.battery import ohmic_ohm, open_circuit_v, overvoltage_v, polarisation_of
from chargewright.errors import InputError
from chargewright.machine.layout import CHEMISTRIES, Chemistry
from chargewright.machine.parameters import Array

EMPTY_V = {  # end of a capacity test
    Chemistry.FLOODED: 10.5,
    Chemistry.AGM: 10.5,
    Chemistry.GEL: 10.5,
    Chemistry.LIFEPO4: 10.0,
}
RESPONSE_V = 0.05  # a real load pulls the voltage down by more than this at once (assumed)
LEAST_A_PER_AH = 0.004  # less than C/250 is no load: below it the record counts as rest


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One battery: chemistry, true ``capacity_ah``, ``battery_ohm`` at 25 C, ``temp_c``."""

    chemistry: Chemistry
    capacity_ah: float
    battery_ohm: float
    temp_c: float = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """Ampere-hours of a recorded discharge.

    ``ah`` while the voltage showed a load; ``column_ah`` of the current column as it stands;
    ``doubt`` says why they differ, or is empty.
    """

    ah: float
    column_ah: float
    doubt: str


def discharged_v(cell: Cell, soc: Array, current_a: float) -> Array:
    """Return the volts (k,) at ``soc`` (k,) under a steady ``current_a`` [A] drawn.

    For minutes and hours, up to about 1 C; cranking has its own short-time law.
    """
    index = np.full_like(soc, CHEMISTRIES.index(cell.chemistry))
    law = polarisation_of(
        index,
        soc,
        temp_c=np.full_like(soc, cell.temp_c),
        capacity_ah=np.full_like(soc, cell.capacity_ah),
        scale=np.ones_like(soc),
    )
    rest_v = open_circuit_v(index, soc, cell.temp_c)
    ohm = ohmic_ohm(cell.battery_ohm, soc, cell.temp_c)
    return np.asarray(rest_v + overvoltage_v(law, -current_a) - current_a * ohm)


def hours_to_empty(cell: Cell, current_a: float, *, soc: float = 1.0) -> float:
    """Return the hours a steady ``current_a`` [A] lasts from ``soc`` to the end voltage."""
    if not 0.0 < current_a <= cell.capacity_ah:
        raise InputError(
            f"{current_a:g} A from {cell.capacity_ah:g} Ah: expected above 0 up to 1 C"
        )
    grid = np.linspace(soc, 0.0, 400)
    below = discharged_v(cell, grid, current_a) < EMPTY_V[cell.chemistry]
    end = grid[int(np.argmax(below))] if below.any() else 0.0
    return float((soc - end) * cell.capacity_ah / current_a)


def counted_ah(hours: Array, volts: Array, amps: Array, *, capacity_ah: float) -> Counted:
    """Return the ampere-hours of a record (k,), ``amps`` positive while discharging.

    Current without a voltage response is doubted: a logger may write a set value before the
    load is on. Trapezoids over the samples after the voltage has left its rest.
    """
    if not hours.shape == volts.shape == amps.shape or hours.size < 3:
        raise InputError(
            f"record of {hours.size}, {volts.size} and {amps.size} samples: expected 3 or more,"
            " equally many"
        )
    column = _trapezoid(hours, np.maximum(amps, 0.0))
    loaded = amps > LEAST_A_PER_AH * capacity_ah
    if not loaded.any():
        raise InputError(f"no current above {LEAST_A_PER_AH * capacity_ah:g} A in the record")
    first = int(np.argmax(loaded))
    rest_v = volts[max(first - 1, 0)]
    answered = loaded & (volts < rest_v - RESPONSE_V)
    answered[: first + 1] |= (first == 0) & loaded[: first + 1] & (volts[: first + 1] < rest_v)
    start = int(np.argmax(answered)) if answered.any() else hours.size
    counted = _trapezoid(hours[start:], np.maximum(amps[start:], 0.0))
    early_h = float(hours[min(start, hours.size - 1)] - hours[first])
    doubt = ""
    if column - counted > 0.005 * max(column, 1e-9):
        doubt = (
            f"current for {60.0 * early_h:.0f} min without a fall of the voltage:"
            f" {column - counted:.2f} Ah not counted"
        )
    return Counted(ah=counted, column_ah=column, doubt=doubt)


def _trapezoid(hours: Array, amps: Array) -> float:
    return float((0.5 * (amps[1:] + amps[:-1]) * np.diff(hours)).sum())
