"""Battery acid: specific gravity, molality, hydrometer correction, freezing point.

The circuit's rest curve runs over the molality of the acid (``circuit/ocv.py``); this file
ties that molality to what a hydrometer shows and to the temperature at which it freezes.
"""

from __future__ import annotations

import numpy as np

from chargewright.circuit.ocv import molality
from chargewright.errors import InputError
from chargewright.machine.layout import CHEMISTRIES, Chemistry
from chargewright.machine.parameters import Array

# Specific gravity 25/25 C against mol of H2SO4 per kg of water, from densities computed with
# PHREEQC's Pitzer model (computed reference); water added at the thin end.
_MOLALITY = np.array([0.0, 2.115, 2.834, 3.624, 4.494, 5.593, 6.035, 6.652, 7.298, 7.410])
_GRAVITY = np.array([1.0, 1.120, 1.155, 1.190, 1.225, 1.265, 1.280, 1.300, 1.320, 1.324])

# Freezing point [F] by specific gravity: Army OD1002 p. 54 and TM 5-1185 Table III; 1.050,
# 1.225 and 1.265 from a power-sport maker's owner's manual. One maker's table that runs
# 20-30 F colder near 1.12-1.155 is left out as unsafe.
_FREEZE_GRAVITY = np.array([1.000, 1.050, 1.100, 1.150, 1.200, 1.225, 1.250, 1.265, 1.280])
_FREEZE_F = np.array([32.0, 27.0, 19.0, 5.0, -16.0, -35.0, -62.0, -75.0, -90.0])

# Hydrometer: 0.004 per 10 F away from 80 F (TM 5-4210-230-14&P-1, battery section).
_HYDROMETER_C = (80.0 - 32.0) / 1.8
_GRAVITY_PER_K = 0.004 / (10.0 / 1.8)

THINNEST, DENSEST = 1.050, 1.330  # hydrometer readings that can be battery acid (assumed)


def gravity_of(acid_molality: Array | float) -> Array:
    """Return the specific gravity at 25 C of acid of a molality [mol/kg], any shape."""
    return np.asarray(np.interp(acid_molality, _MOLALITY, _GRAVITY))


def molality_of(gravity: Array | float) -> Array:
    """Return the molality [mol/kg] of acid by its specific gravity at 25 C, 1.0 to 1.324."""
    return np.asarray(np.interp(gravity, _GRAVITY, _MOLALITY))


def corrected_gravity(shown: float, temp_c: float) -> float:
    """Return what a hydrometer that shows ``shown`` at ``temp_c`` [C] would show at 26.7 C.

    >>> round(corrected_gravity(1.265, 0.0), 3)
    1.246
    """
    if not THINNEST <= shown <= DENSEST:
        raise InputError(
            f"specific gravity {shown:g}: expected {THINNEST:g} to {DENSEST:g}, as 1.265"
        )
    return shown + _GRAVITY_PER_K * (temp_c - _HYDROMETER_C)


def freezing_c(chemistry: Chemistry, soc: Array | float) -> Array:
    """Return the temperature [C] at which the acid freezes at a state of charge (0..1).

    Lithium has no water in it: -273. Absorbed and gelled acid is taken to freeze as free
    acid of the same strength (assumed).
    """
    if chemistry is Chemistry.LIFEPO4:
        return np.full(np.shape(soc), -273.0)
    index = float(CHEMISTRIES.index(chemistry))
    gravity = gravity_of(molality(index, soc))
    return np.asarray((np.interp(gravity, _FREEZE_GRAVITY, _FREEZE_F) - 32.0) / 1.8)


def soc_freezing_at(chemistry: Chemistry, temp_c: float) -> float:
    """Return the state of charge (0..1) below which the acid is frozen at ``temp_c`` [C].

    Zero where even a flat battery stays liquid.
    """
    socs = np.linspace(0.0, 1.0, 401)
    frozen = freezing_c(chemistry, socs) >= temp_c
    return float(socs[frozen][-1]) if frozen.any() else 0.0
