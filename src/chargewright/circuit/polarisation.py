"""Voltages a battery adds or loses once a mean current has flowed for minutes.

Charging:     I = min(i_c * sinh(eta / b_c), i_s) + i_g * sinh(eta / b_g)
Discharging:  eta = -b_d * asinh(|I| / i_d) - v_k * tanh(|I| / i_k),   v_k grows when empty

Two currents run side by side while charging: the one that is stored, whose i_c falls steeply
toward full charge and never passes i_s, and the one that gasses or recombines, which is all a
full battery takes. All come on top of the ohmic drop. Nine numbers per machine, so a compiled
kernel can carry them as plain arrays. Fitted to the discharges and the first recharge of one
17 Ah 12 V VRLA battery (V. Sulzer et al., J. Electrochem. Soc. 166 (2019) A2363, public data);
other chemistries and temperatures are assumed, as marked.
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
# i_c / C = ready (1 - soc / ready_soc)^power while that is positive, + rest (1 - soc): sulphate
# that dissolves readily is used up at ready_soc, and the volts rise there; what is left dissolves
# in proportion to its amount, so that a charge held at the limit tapers exponentially.
_READY_PER_H = np.array([6.7e-4, 6.7e-4, 6.7e-4, 0.5])
_READY_POWER = np.array([4.37, 4.37, 4.37, 1.0])
_READY_SOC = np.array([0.884, 0.884, 0.884, 1.0])
_REST_PER_H = np.array([1.84e-9, 1.84e-9, 1.84e-9, 0.0])
_DISCHARGE_V = np.array([0.019, 0.019, 0.019, 0.03])  # b_d
_DISCHARGE_PER_H = np.array([0.002, 0.002, 0.002, 0.05])  # i_d / C
_KNEE_V = np.array([0.86, 0.86, 0.86, 0.0])  # v_k at soc 0; lithium's is in its rest curve
_KNEE_SOC = 0.147
_KNEE_PER_H = 0.01  # i_k / C
# Of the knee, what stays when the load is off: acid used up in the plates comes back by charging,
# not by rest. Rested two hours after its discharges, the 17 Ah battery stood 0.38 to 0.71 V below
# its rest curve, 0.44 to 0.83 of the knee, the more the slower it had been emptied.
_EXHAUSTED_SHARE = 0.61

# The gassing branch: Tafel slope 11 per volt and cell (gassing law of Schiffer et al. 2007), so
# 0.545 V for 12 V, and what a full battery takes at 14.4 V as a share of its capacity per hour:
# 0.24-0.30 A of 19.7 Ah at the end of seven agm charges, 25-28 C; flooded 7.8 mA x 2 of 12 Ah by
# the same law for antimony; gel and lifepo4 assumed. A full battery fed C/10 then stands at 16 to
# 17 V, as constant-current chargers' guides say (15-16.9 V).
_GAS_V = 6.0 / 11.0
_FULL_V = 14.4
_FULL_PER_H = np.array([1 / 770, 1 / 75, 1 / 150, 1 / 300])
# Storing is limited by the charge that is still missing: by the ampere-hour law of charging
# (G. W. Vinal, Storage Batteries, 4th ed. 1955; from memory) a battery takes its missing charge
# over one hour with no gassing at all; three times that as the most is assumed, because flat
# ones take more than their capacity for minutes. What is fed beyond it gasses: that is how an
# unlimited alternator lifts a full battery to 16 V. Lithium has no such limit here (assumed).
_STORED_PER_H = np.array([3.0, 3.0, 3.0, 20.0])
_LEAST_STORED_PER_H = 1e-6
_LEAST_PER_H = 1e-16  # keeps the storing branch's i_c / C above zero at full charge

# Acceptance per kelvin: the 0.06 of the gassing law of Schiffer et al. 2007 (assumed to hold
# for the whole acceptance): 4 mV/K at 12 V, a quarter of what chargers compensate.
_ACCEPTANCE_PER_K = 0.06


_REST_FULL_V = open_circuit_v(np.arange(len(CHEMISTRIES), dtype=np.float64), 1.0, REFERENCE_C)
_GAS_PER_H = _FULL_PER_H / np.sinh((_FULL_V - _REST_FULL_V) / _GAS_V)  # i_g / C, full, 25 C
_NEWTON_ROUNDS = 8  # from the lower of both branches alone the residual then is below 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Polarisation:
    """Coefficients of the overvoltage, arrays (n,). Volts and amperes of the whole battery."""

    charge_scale_v: Array  # b_c
    charge_knee_a: Array  # i_c
    stored_most_a: Array  # i_s
    gas_scale_v: Array  # b_g
    gas_knee_a: Array  # i_g
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
    ready = np.maximum(1.0 - s / _READY_SOC[kind], 0.0)
    accept = _READY_PER_H[kind] * ready ** _READY_POWER[kind]
    accept = accept + _REST_PER_H[kind] * (1.0 - s) + _LEAST_PER_H
    # gassing goes by the volts themselves, not by how far they are above rest
    below = open_circuit_v(chemistry, s, REFERENCE_C) - _REST_FULL_V[kind]
    cold = np.maximum(1.0 + 0.01 * (REFERENCE_C - temp_c), 0.8)  # assumed, as the ohmic part
    return Polarisation(
        charge_scale_v=scale * _CHARGE_V[kind],
        charge_knee_a=capacity_ah * accept * warmth,
        stored_most_a=capacity_ah * (_STORED_PER_H[kind] * (1.0 - s) + _LEAST_STORED_PER_H),
        gas_scale_v=np.full_like(s, _GAS_V),
        gas_knee_a=capacity_ah * _GAS_PER_H[kind] * warmth * np.exp(below / _GAS_V),
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
    up = _charging_v(p, charging)
    down = p.draw_scale_v * np.arcsinh(drawn / p.draw_knee_a)
    empty = p.empty_v * np.tanh(drawn / p.empty_a)
    return np.asarray(up - down - empty)


def exhausted_v(p: Polarisation) -> Array:
    """Return the volts (n,) by which a rest lies below the rest curve until charged again.

    For batteries that were emptied as far as their ``soc`` says by a discharge and have only been
    charged since; the rest curve is that of published tables, long after.
    """
    return np.asarray(_EXHAUSTED_SHARE * p.empty_v)


def overvoltage_slope_ohm(p: Polarisation, current_a: Array | float) -> Array:
    """Return d eta / d current [ohm] (n,); at exactly zero, the slope of the discharging side."""
    amps = np.asarray(current_a)
    up = 1.0 / _charging_slope_s(p, _charging_v(p, np.maximum(amps, 0.0)))
    knee = p.empty_v / p.empty_a / np.cosh(np.minimum(np.abs(amps) / p.empty_a, 300.0)) ** 2
    down = p.draw_scale_v / np.hypot(amps, p.draw_knee_a) + knee
    return np.asarray(np.where(amps > 0.0, up, down))


def stored_a(p: Polarisation, eta_v: Array | float) -> Array:
    """Return the part of the charging current [A] (n,) that is stored at ``eta_v`` >= 0."""
    wanted = p.charge_knee_a * np.sinh(_limited(eta_v / p.charge_scale_v))
    return np.asarray(np.minimum(wanted, p.stored_most_a))


def charging_a(p: Polarisation, eta_v: Array | float) -> Array:
    """Return the charging current [A] (n,) that an overvoltage ``eta_v`` >= 0 drives."""
    gassing = p.gas_knee_a * np.sinh(_limited(eta_v / p.gas_scale_v))
    return np.asarray(stored_a(p, eta_v) + gassing)


def full_speed_v(p: Polarisation) -> Array:
    """Return the overvoltage [V] (n,) from which the battery stores no faster."""
    return np.asarray(p.charge_scale_v * np.arcsinh(p.stored_most_a / p.charge_knee_a))


def _charging_slope_s(p: Polarisation, eta: Array) -> Array:
    """Return d current / d eta [S] (n,) of the charging side."""
    storing = p.charge_knee_a / p.charge_scale_v * np.cosh(_limited(eta / p.charge_scale_v))
    storing = np.where(eta > full_speed_v(p), 0.0, storing)
    gassing = p.gas_knee_a / p.gas_scale_v * np.cosh(_limited(eta / p.gas_scale_v))
    return np.asarray(storing + gassing)


def _charging_v(p: Polarisation, amps: Array) -> Array:
    """Return the overvoltage (n,) at charging currents ``amps`` >= 0, the inverse of the above.

    Beyond the most that is stored the gassing branch alone decides. Below it, Newton from
    above: the lower of both branches alone, where the sum is convex.
    """
    beyond = p.gas_scale_v * np.arcsinh(np.maximum(amps - p.stored_most_a, 0.0) / p.gas_knee_a)
    most = full_speed_v(p)
    eta = np.minimum(
        p.charge_scale_v * np.arcsinh(amps / p.charge_knee_a),
        p.gas_scale_v * np.arcsinh(amps / p.gas_knee_a),
    )
    eta = np.minimum(eta, most)
    for _ in range(_NEWTON_ROUNDS):
        eta = eta - (charging_a(p, eta) - amps) / _charging_slope_s(p, eta)
    return np.asarray(np.where(beyond > most, beyond, eta))


def _limited(x: Array) -> Array:
    """Return ``x`` kept where sinh and cosh are finite."""
    return np.clip(x, -300.0, 300.0)
