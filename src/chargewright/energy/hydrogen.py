"""Hydrogen from charging: how much gas, how much air."""

from __future__ import annotations

import math

import numpy as np

from chargewright.errors import InputError
from chargewright.machine.parameters import Array

# One ampere-hour splits 0.0187 mol of water per cell: I t/(2 F) of hydrogen (Faraday), and a
# mole of gas takes R T/p.
_MOL_PER_AH = 3600.0 / (2.0 * 96485.33)
_LITRE_PER_MOL_K = 8.314463 / 101325.0 * 1000.0
DESIGN_SHARE = 0.01  # design limit 1 % of hydrogen in air (NFPA), a quarter of what explodes
# Air by the Australian rule q = 0.006 n I [L/s] for n cells and gassing current I.
AIR_L_PER_S = 0.006

# Gassing current (Schiffer et al., J. Power Sources 168 (2007) 66, as carried in an open
# battery code): I = C/100 I0 exp(11 (U - 2.23) + 0.06 (T - 298 K)) per cell.
GAS_A_ANTIMONY, GAS_A_SEALED = 0.020, 0.010  # I0 [A] per 100 Ah
GAS_PER_V, GAS_PER_K = 11.0, 0.06
GAS_FLOAT_V, GAS_FLOAT_C = 2.23, 25.0
AGED_FACTOR = 5.0  # aged cells gas five times as much or more (same source)


def hydrogen_l(gassing_ah: Array | float, *, cells: int = 6, temp_c: float = 25.0) -> Array:
    """Return the litres of hydrogen at 1 atm from ``gassing_ah`` [Ah] through ``cells``.

    >>> round(float(hydrogen_l(1.0)), 2)
    2.74
    """
    per_cell = _MOL_PER_AH * _LITRE_PER_MOL_K * (temp_c + 273.15)
    return np.asarray(gassing_ah * cells * per_cell)


def gassing_a(
    volts: float, temp_c: float, *, capacity_ah: float, sealed: bool = True, cells: int = 6
) -> float:
    """Return the current [A] that splits water at ``volts`` of the whole battery and ``temp_c``.

    For new cells; aged ones gas ``AGED_FACTOR`` times as much or more.
    """
    if not 0.0 < volts / cells < 4.0:
        raise InputError(f"{volts:g} V over {cells} cells: expected below 4 V per cell")
    scale = GAS_A_SEALED if sealed else GAS_A_ANTIMONY
    over = GAS_PER_V * (volts / cells - GAS_FLOAT_V) + GAS_PER_K * (temp_c - GAS_FLOAT_C)
    return capacity_ah / 100.0 * scale * math.exp(over)


def air_needed_l(hydrogen: float) -> float:
    """Return the litres of air that keep ``hydrogen`` litres below the design share."""
    return hydrogen / DESIGN_SHARE


def ventilation_l_per_s(gassing_current_a: float, *, cells: int = 6) -> float:
    """Return the air flow [L/s] for a charger that may push all its current into gas.

    >>> round(ventilation_l_per_s(2.0), 3)
    0.072
    """
    return AIR_L_PER_S * cells * gassing_current_a
