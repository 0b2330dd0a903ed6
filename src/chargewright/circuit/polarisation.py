"""Voltages a battery adds or loses once a mean current has flowed for minutes.

Charging:     eta = +b_c * asinh(I / i_c),                i_c falls steeply toward full charge
Discharging:  eta = -b_d * asinh(|I| / i_d) - v_k * tanh(|I| / i_k),   v_k grows when empty

Both come on top of the ohmic drop. Six numbers per machine, so a compiled kernel can carry
them as plain arrays. Fitted to the discharges and recharges of one 17 Ah 12 V VRLA battery
(V. Sulzer et al., J. Electrochem. Soc. 166 (2019) A2363, public data); other chemistries
and temperatures are assumed, as marked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.circuit.ocv import REFERENCE_C, chemistry_index, open_circuit_v
from chargewright.machine.layout import CHEMISTRIES
from chargewright.machine.parameters import Array

# Per chemistry, in the order of CHEMISTRIES: flooded, agm, gel, lifepo4.
# agm fitted; flooded and gel take agm's figures (assumed); lifepo4 assumed throughout.
_CHARGE_V = np.array([0.0727, 0.0727, 0.0727, 0.05])  # b_c
_ACCEPTANCE_PER_H = np.array([0.0447, 0.0447, 0.0447, 0.5])  # i_c / C of an empty battery
_ACCEPTANCE_POWER = np.array([9.6, 9.6, 9.6, 1.0])  # of (1 - soc)
_DISCHARGE_V = np.array([0.019, 0.019, 0.019, 0.03])  # b_d
_DISCHARGE_PER_H = np.array([0.002, 0.002, 0.002, 0.05])  # i_d / C
_KNEE_V = np.array([0.86, 0.86, 0.86, 0.0])  # v_k at soc 0; lithium's is in its rest curve
_KNEE_SOC = 0.147
_KNEE_PER_H = 0.01  # i_k / C

# What a full battery still takes at 14.4 V, as a share of its capacity per hour: 0.3-0.4 A of
# 19.7 Ah in the agm data. It fixes the floor of the acceptance for every chemistry.
_FULL_V = 14.4
_FULL_PER_H = np.array([1 / 50, 1 / 50, 1 / 50, 1 / 100])

# Acceptance per kelvin: the 0.06 of the gassing law of Schiffer et al. 2007 (assumed to hold
# for the whole acceptance): 4 mV/K at 12 V, a quarter of what chargers compensate.
_ACCEPTANCE_PER_K = 0.06


def _acceptance_floor() -> Array:
    """Return i_c / C [1/h] of a full battery at 25 C for each chemistry."""
    kinds = np.arange(len(CHEMISTRIES), dtype=np.float64)
    eta = _FULL_V - open_circuit_v(kinds, 1.0, REFERENCE_C)
    return np.asarray(_FULL_PER_H / np.sinh(eta / _CHARGE_V))


_FLOOR_PER_H = _acceptance_floor()


@dataclass(frozen=True, slots=True, kw_only=True)
class Polarisation:
    """Coefficients of the overvoltage, arrays (n,). Volts and amperes of the whole battery."""

    charge_scale_v: Array  # b_c
    charge_knee_a: Array  # i_c
    draw_scale_v: Array  # b_d
    draw_knee_a: Array  # i_d
    empty_v: Array  # v_k
    empty_a: Array  # i_k


def polarisation_of(
    chemistry: Array, soc: Array, *, temp_c: Array, capacity_ah: Array, scale: Array
) -> Polarisation:
    """Return the coefficients for batteries at ``soc`` (0..1) and ``temp_c`` [C], arrays (n,).

    ``scale`` is the ``polarisation`` column: 1 sound, more when sulphated. It multiplies
    every overvoltage at a given current.
    """
    kind = chemistry_index(chemistry)
    s = np.clip(soc, 0.0, 1.0)
    warmth = np.exp(_ACCEPTANCE_PER_K * (np.clip(temp_c, -30.0, 60.0) - REFERENCE_C))
    accept = _ACCEPTANCE_PER_H[kind] * (1.0 - s) ** _ACCEPTANCE_POWER[kind] + _FLOOR_PER_H[kind]
    cold = np.maximum(1.0 + 0.01 * (REFERENCE_C - temp_c), 0.8)  # assumed, as the ohmic part
    return Polarisation(
        charge_scale_v=scale * _CHARGE_V[kind],
        charge_knee_a=capacity_ah * accept * warmth,
        draw_scale_v=scale * cold * _DISCHARGE_V[kind],
        draw_knee_a=capacity_ah * _DISCHARGE_PER_H[kind],
        empty_v=scale * _KNEE_V[kind] * np.exp(-s / _KNEE_SOC),
        empty_a=capacity_ah * _KNEE_PER_H,
    )


def overvoltage_v(p: Polarisation, current_a: Array | float) -> Array:
    """Return eta [V] (n,) at mean battery current ``current_a``, positive when charging.

    Terminal volts are EMF + eta + current * ohmic resistance. Zero at zero current, rising
    with the current everywhere; its slope jumps at zero, as a battery's does.
    """
    charging = np.maximum(current_a, 0.0)
    drawn = np.maximum(-np.asarray(current_a), 0.0)
    up = p.charge_scale_v * np.arcsinh(charging / p.charge_knee_a)
    down = p.draw_scale_v * np.arcsinh(drawn / p.draw_knee_a)
    empty = p.empty_v * np.tanh(drawn / p.empty_a)
    return np.asarray(up - down - empty)


def overvoltage_slope_ohm(p: Polarisation, current_a: Array | float) -> Array:
    """Return d eta / d current [ohm] (n,); at exactly zero, the slope of the discharging side."""
    amps = np.asarray(current_a)
    up = p.charge_scale_v / np.hypot(amps, p.charge_knee_a)
    knee = p.empty_v / p.empty_a / np.cosh(np.minimum(np.abs(amps) / p.empty_a, 300.0)) ** 2
    down = p.draw_scale_v / np.hypot(amps, p.draw_knee_a) + knee
    return np.asarray(np.where(amps > 0.0, up, down))


def charging_a(p: Polarisation, eta_v: Array | float) -> Array:
    """Return the charging current [A] (n,) that an overvoltage ``eta_v`` >= 0 drives."""
    return np.asarray(p.charge_knee_a * np.sinh(np.clip(eta_v / p.charge_scale_v, 0.0, 300.0)))
