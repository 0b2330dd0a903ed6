"""Open-circuit voltage of a rested 12 V battery by chemistry, charge and temperature.

Lead-acid goes through the acid: charge gives molality, molality gives the cell's voltage by
Bode's polynomial (H. Bode, Lead-Acid Batteries, Wiley 1977, as carried by the PyBaMM
parameter set Sulzer2019). LiFePO4 has a plateau curve of its own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from chargewright.machine.layout import CHEMISTRIES, Chemistry
from chargewright.machine.parameters import Array

CELLS = 6  # of a 12 V lead-acid battery
REFERENCE_C = 25.0

# U = sum c_k * (log10 m)^k [V], m in mol of H2SO4 per kg of water, 25 C.
BODE_POSITIVE = (1.628, 0.074, 0.033, 0.043, 0.022)
BODE_NEGATIVE = (-0.294, -0.074, -0.030, -0.031, -0.012)
# The same fit printed with six digits for the whole cell; at most 1 mV away.
BODE_CELL = (1.9228, 0.147519, 0.063552, 0.073772, 0.033612)

# molality = c0 + c1*soc + c2*soc^2 [mol/kg] for each chemistry, in the order of CHEMISTRIES.
# flooded: through SG 1.120/1.155/1.190/1.225/1.265 at 0/25/50/75/100 % (published flooded
#   table, 26.7 C), within 12 mV of its volts.
# agm: fitted to six discharges of a 17 Ah VRLA battery (Sulzer et al. 2019) held to the
#   motorcycle AGM table 11.8/12.0/12.3/12.6 V at 0/25/50/75 % and 12.8-13.0 V full.
# gel: least squares on the published gel column 11.80/12.00/12.40/12.60/12.80 V.
# lifepo4: no acid; the row is unused.
_MOLALITY = np.array(
    [
        [2.1288, 2.4864, 0.9600],
        [1.9200, 1.5800, 3.7800],
        [1.7600, 4.7900, -0.1900],
        [1.0, 0.0, 0.0],
    ]
)

# dE/dT at fixed charge for 12 V: 0.2-0.3 mV/K per lead-acid cell (thermodynamic, from memory
# of Bode and Berndt); LiFePO4 taken as 0 (assumed, the entropic term changes sign on the plateau).
_VOLT_PER_KELVIN = np.array([0.0015, 0.0015, 0.0015, 0.0])

LITHIUM = CHEMISTRIES.index(Chemistry.LIFEPO4)

# Drained beyond empty (a load left on for days) a battery's voltage collapses: 9 V down over a
# twentieth of its capacity (assumed; cases told in public read 5 to 11 V and recover on charge).
_BEYOND_EMPTY_V = 9.0
_BEYOND_EMPTY_SOC = 0.06


def chemistry_index(chemistry: Array | float) -> NDArray[np.intp]:
    """Return the ``chemistry`` column (index into CHEMISTRIES as float) as integers."""
    return np.clip(np.rint(chemistry), 0, len(CHEMISTRIES) - 1).astype(np.intp)


def bode_cell_v(molality: Array | float) -> Array:
    """Return the open-circuit voltage [V] of one lead-acid cell at 25 C, by electrode.

    ``molality`` [mol/kg], any shape; the fit is good for 0.1 to 8.
    """
    log_m = np.log10(np.asarray(molality, dtype=np.float64))
    positive = np.polynomial.polynomial.polyval(log_m, BODE_POSITIVE)
    negative = np.polynomial.polynomial.polyval(log_m, BODE_NEGATIVE)
    return np.asarray(positive - negative)


def bode_cell_fine_v(molality: Array | float) -> Array:
    """Return the same voltage [V] from the six-digit coefficients of the whole cell."""
    log_m = np.log10(np.asarray(molality, dtype=np.float64))
    return np.asarray(np.polynomial.polynomial.polyval(log_m, BODE_CELL))


def molality(chemistry: Array | float, soc: Array | float) -> Array:
    """Return the molality [mol/kg] of a lead-acid battery at state of charge ``soc`` (0..1)."""
    c = _MOLALITY[chemistry_index(chemistry)]
    s = np.clip(soc, 0.0, 1.0)
    return np.asarray(c[..., 0] + s * (c[..., 1] + s * c[..., 2]))


def lithium_v(soc: Array | float) -> Array:
    """Return the open-circuit voltage [V] of a four-cell LiFePO4 starter battery.

    A plateau near 13.2 V with a knee at either end: 12.8 V near 10 %, 13.3 V near 95 %,
    10 V empty. Shape assumed within the spread of three published tables, which put 13.2 V
    anywhere from 40 to 80 %.
    """
    s = np.clip(soc, 0.0, 1.0)
    low = 2.6 * np.exp(-s / 0.03) + 0.35 * np.exp(-s / 0.12)
    high = 0.30 * np.exp((s - 1.0) / 0.02)
    return np.asarray(13.2 + 0.25 * (s - 0.6) - low + high)


def open_circuit_v(chemistry: Array | float, soc: Array | float, temp_c: Array | float) -> Array:
    """Return the rested open-circuit voltage [V] of a sound 12 V battery.

    Arguments broadcast: ``chemistry`` is the parameter column, ``soc`` 0..1 (to -0.06
    when drained beyond empty), ``temp_c`` [C].
    Example: ``open_circuit_v(0.0, 1.0, 25.0)`` is 12.65 V, a full flooded battery.
    """
    index = chemistry_index(chemistry)
    lead = CELLS * bode_cell_v(molality(chemistry, soc))
    at_25 = np.where(index == LITHIUM, lithium_v(soc), lead)
    beyond = np.clip(-np.asarray(soc) / _BEYOND_EMPTY_SOC, 0.0, 1.0) * _BEYOND_EMPTY_V
    return np.asarray(at_25 - beyond + _VOLT_PER_KELVIN[index] * (np.asarray(temp_c) - REFERENCE_C))
