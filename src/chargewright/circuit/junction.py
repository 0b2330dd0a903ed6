"""One law for every rectifier junction, from a meter's milliampere to full output.

V(I) = v_1ma + n*(kT/q)*ln(I / 1 mA) + R*I  (Shockley, forward branch, with series resistance;
textbook form, e.g. Sze, Physics of Semiconductor Devices, from memory).
"""

from __future__ import annotations

import numpy as np

from chargewright.machine.parameters import Array

VOLT_PER_KELVIN = 8.617333262e-5  # k/q, CODATA exact constants
ZERO_C_K = 273.15
REFERENCE_C = 25.0
GAP_V = 1.17  # silicon band gap extrapolated to 0 K, used for the temperature of V at 1 mA


def thermal_v(temp_c: Array | float) -> Array | float:
    """Return kT/q [V] at ``temp_c`` [C]."""
    return VOLT_PER_KELVIN * (temp_c + ZERO_C_K)


def volts_at_1ma(v_25: Array, temp_c: Array | float) -> Array:
    """Return the forward voltage at 1 mA [V] at ``temp_c`` from its value at 25 C.

    dV/dT = (V - Eg/q - 3kT/q)/T at fixed current, taken as constant over the span:
    -2.4 mV/K for 0.528 V at 300 K.
    """
    t_ref = REFERENCE_C + ZERO_C_K
    slope = (v_25 - GAP_V - 3.0 * VOLT_PER_KELVIN * t_ref) / t_ref
    return v_25 + slope * (temp_c - REFERENCE_C)


def chord(
    v_1ma: Array,
    n: Array,
    ohm: Array,
    temp_c: Array | float,
    i_low: float = 1.0,
    i_high: float = 20.0,
) -> tuple[Array, Array]:
    """Return (volts, ohms) of the straight line through the law at two currents [A].

    The line stands for the junction while it rectifies. It leaves the law by up to 39 mV
    between 1 and 30 A, by 83 mV at 40 A.
    """
    n_vt = n * thermal_v(temp_c)
    slope = n_vt * np.log(i_high / i_low) / (i_high - i_low) + ohm
    at_low = v_1ma + n_vt * np.log(i_low / 1e-3) + ohm * i_low
    return at_low - slope * i_low, slope
