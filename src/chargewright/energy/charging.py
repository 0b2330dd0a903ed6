"""A charge as it runs: constant current, then constant voltage, on the circuit's battery."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.circuit.battery import (
    charging_a,
    exhausted_v,
    ohmic_ohm,
    open_circuit_v,
    overvoltage_v,
    polarisation_of,
    stored_a,
)
from chargewright.machine.layout import CHEMISTRIES, Chemistry
from chargewright.machine.parameters import Array

STEP_H = 0.1
LONGEST_H = 72.0
# "Full": at the limit voltage the current is below C/50 to C/30 and flat for an hour.
STOP_PER_H = 1.0 / 40.0
STOP_SOC = 0.995
FLAT_H = 1.0
_HALVINGS = 30  # of a few volts: below a microvolt


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """Batteries on a charger; arrays (n,). ``current_a`` and ``limit_v`` are the charger's.

    ``efficiency``: Ah that can be drawn again per Ah stored; what gasses is none of them.
    ``current_a`` and ``temp_c`` may be arrays (n,) where batteries or moments differ.
    """

    chemistry: Chemistry
    capacity_ah: Array
    battery_ohm: Array
    soc: Array
    efficiency: Array
    current_a: Array | float
    limit_v: float
    temp_c: Array | float
    scale: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A charge at times ``hours`` (k,): volts, amperes and charge (k, n); ``full_h`` (n,)."""

    hours: Array
    volts: Array
    amps: Array
    soc: Array
    full_h: Array


def accepted(charge: Charge, soc: Array) -> tuple[Array, Array, Array]:
    """Return what charger and battery settle at for ``soc``: volts, amperes, amperes stored.

    Each (n,). The battery is taken to have been emptied to where the charge began.
    """
    index = np.full_like(soc, CHEMISTRIES.index(charge.chemistry))
    ohm = ohmic_ohm(charge.battery_ohm, soc, charge.temp_c)
    law = polarisation_of(
        index,
        soc,
        temp_c=np.full_like(soc, charge.temp_c),
        capacity_ah=charge.capacity_ah,
        scale=np.full_like(soc, charge.scale),
    )
    rest_v = open_circuit_v(index, soc, charge.temp_c) - exhausted_v(law)
    free = overvoltage_v(law, charge.current_a)
    full_v = rest_v + free + ohm * charge.current_a
    # Held at the limit, the over-voltage is the unknown: it gives the current in one step.
    low, high = np.zeros_like(soc), np.maximum(charge.limit_v - rest_v, 0.0)
    for _ in range(_HALVINGS):
        eta = 0.5 * (low + high)
        over = rest_v + eta + ohm * charging_a(law, eta) > charge.limit_v
        low, high = np.where(over, low, eta), np.where(over, eta, high)
    held = full_v > charge.limit_v
    amps = np.where(held, charging_a(law, low), charge.current_a)
    volts = np.where(held, np.maximum(rest_v, charge.limit_v), full_v)
    return volts, amps, np.minimum(stored_a(law, np.where(held, low, free)), amps)


def run_charge(charge: Charge) -> Curve:
    """Return the charge until each battery is full by the usual rule, and an hour after it.

    Full counts from when the current stays below C/40 at the limit, or the charge is in.
    """
    soc = charge.soc.copy()
    full_h = np.full_like(soc, np.inf)
    rows = []
    hour = 0.0
    while hour <= LONGEST_H:
        volts, amps, stored = accepted(charge, soc)
        rows.append((hour, volts, amps, soc.copy()))
        at_limit = volts >= charge.limit_v - 0.01
        done = (at_limit & (amps < STOP_PER_H * charge.capacity_ah)) | (soc >= STOP_SOC)
        full_h = np.where(done & np.isinf(full_h), hour + FLAT_H, full_h)
        if np.all(hour >= full_h):
            break
        soc = np.minimum(soc + charge.efficiency * stored * STEP_H / charge.capacity_ah, 0.9999)
        hour += STEP_H
    return Curve(
        hours=np.array([row[0] for row in rows]),
        volts=np.array([row[1] for row in rows]),
        amps=np.array([row[2] for row in rows]),
        soc=np.array([row[3] for row in rows]),
        full_h=np.minimum(full_h, LONGEST_H),
    )


def is_full(amps: Array, hours: Array, *, capacity_ah: float) -> bool:
    """Tell whether readings at the limit voltage, over the last hour or more, mean full.

    ``amps`` and ``hours`` (k,) rising. Voltage alone is not full charge: a 17 Ah battery at
    14.4 V still lacked a tenth. "Flat": changing by less than a tenth, or C/200, in that hour.
    """
    late = hours >= hours[-1] - FLAT_H
    if hours[-1] - hours[0] < FLAT_H - 1e-9:
        return False
    flat = np.ptp(amps[late]) <= max(0.1 * float(amps[-1]), capacity_ah / 200.0)
    return bool(flat and amps[late].max() < capacity_ah / 30.0)
