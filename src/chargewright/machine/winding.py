"""From the figures between two alternator leads to the windings behind them.

Star: pair volts sqrt(3) and pair ohms 2 times the winding's; delta: 1 and 2/3; single coil: 1 and
1 (line and phase resistance, textbook); of a half-wave coil the other lead is the frame. The
greatest current a permanent-magnet machine gives a battery fixes its inductance: I_inf =
(3/pi)(E/w)/L for three phases and (2/pi)(E/w)/L for one, E peak (constant-voltage rectifier
analysis after Caliskan, Perreault, Jahns and Kassakian, IEEE Trans. Circuits and Systems I 50(9),
2003; derived, not quoted). Behind one diode the current never turns round: (E/w)/L, see
``half_wave_share``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from chargewright.errors import InputError
from chargewright.machine.layout import Winding
from chargewright.machine.parameters import Array
from chargewright.machine.scatter import LEGS, Scatter

ONE_COIL = {Winding.SINGLE: 1.0, Winding.HALF_WAVE: 1.0}
PAIR_V = {Winding.STAR: math.sqrt(3.0), Winding.DELTA: 1.0} | ONE_COIL
PAIR_OHM = {Winding.STAR: 2.0, Winding.DELTA: 2.0 / 3.0} | ONE_COIL
# Variance of a pair's figure per variance of one leg: the mean of two equal legs, or one.
PAIR_V_LEG = {Winding.STAR: 0.5, Winding.DELTA: 1.0} | ONE_COIL
PAIR_OHM_LEG = {Winding.STAR: 0.5, Winding.DELTA: 0.5} | ONE_COIL
RAD_S_PER_KRPM = 2.0 * math.pi * 1000.0 / 60.0
BUS_V = 16.2  # 14.4 V and two junctions of 0.9 V
HALF_WAVE_BUS_V = 15.3  # and one
COPPER_K = 234.5  # copper's inferred zero-resistance temperature, negated [C]


def copper_factor(temp_c: Array | float) -> Array:
    """Return copper's resistance relative to 20 C: (234.5 + t)/(234.5 + 20)."""
    return np.asarray((COPPER_K + temp_c) / (COPPER_K + 20.0))


def copper_at(ohm: float, from_c: float, to_c: float) -> float:
    """Return a copper resistance measured at ``from_c`` [C] as it is at ``to_c`` [C].

    R2 = R1 (234.5 + t2)/(234.5 + t1), annealed copper.

    >>> round(copper_at(0.300, 20.0, 120.0), 4)
    0.4179
    """
    return float(ohm * copper_factor(to_c) / copper_factor(from_c))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stator:
    """Figures of one type of alternator between two leads.

    ``pair_v_per_krpm`` [V rms per 1000 rpm, 20 C magnets], ``pair_ohm`` [ohm, 20 C],
    ``output_a`` [A] greatest direct current into a battery.
    """

    pair_v_per_krpm: Scatter
    pair_ohm: Scatter
    output_a: Scatter

    def windings(self, winding: Winding) -> dict[str, Scatter]:
        """Return the scatter of the nine winding columns; those of unused legs follow along."""
        per_amp = _henry_constant(winding)
        emf = replace(self.pair_v_per_krpm, centre=self.pair_v_per_krpm.centre / PAIR_V[winding])
        ohm = replace(self.pair_ohm, centre=self.pair_ohm.centre / PAIR_OHM[winding])
        found: dict[str, Scatter] = {}
        for leg in LEGS:
            found[f"emf_v_per_krpm_{leg}"] = emf
            found[f"winding_ohm_{leg}"] = ohm
            found[f"winding_h_{leg}"] = replace(
                self.output_a,
                centre=per_amp / self.output_a.centre,
                times=((f"emf_v_per_krpm_{leg}", 1.0), ("pole_pairs", -1.0)),
            )
        return found


def _henry_constant(winding: Winding) -> float:
    """Return L * I_inf * pole pairs / rms winding EMF per 1000 rpm.

    A delta is (1, 1/3) of its star equivalent in current and inductance, with an EMF
    sqrt(3) of the star's.
    """
    three = (3.0 / math.pi) * math.sqrt(2.0) / RAD_S_PER_KRPM
    if winding is Winding.SINGLE:
        return (2.0 / math.pi) * math.sqrt(2.0) / RAD_S_PER_KRPM
    if winding is Winding.HALF_WAVE:
        return math.sqrt(2.0) / RAD_S_PER_KRPM
    return three if winding is Winding.STAR else three * math.sqrt(3.0)


def cut_in_rpm(winding: Winding, pair_v_per_krpm: float) -> float:
    """Return n0 [rpm] of I(n) = I_inf sqrt(1 - (n0/n)^2) into 14.4 V.

    E(n0) = 2 pi V'/9 peak per star phase, pi V'/2 for a single coil; resistance neglected.
    """
    if winding is Winding.SINGLE:
        return 1000.0 * (math.pi / 2.0) * BUS_V / (math.sqrt(2.0) * pair_v_per_krpm)
    phase_peak = pair_v_per_krpm * math.sqrt(2.0 / 3.0)
    return 1000.0 * (2.0 * math.pi / 9.0) * BUS_V / phase_peak


def greatest_a(rated_a: float, rated_rpm: float, n0_rpm: float) -> float:
    """Return I_inf [A] of a machine rated ``rated_a`` at ``rated_rpm``.

    Raises
    ------
    InputError
        The rated speed lies at or below the speed ``n0_rpm`` where current begins.
    """
    ratio = n0_rpm / rated_rpm
    if ratio >= 0.95:
        raise InputError(
            f"spec sheet: rated_rpm = {rated_rpm:g} rpm; expected well above {n0_rpm:.0f} rpm,"
            " where this alternator begins to charge"
        )
    return rated_a / math.sqrt(1.0 - ratio**2)


def half_wave_share(u: float) -> float:
    """Return mean current over E/X of one diode into a battery, u = V'/E, resistance neglected.

    From sin(a) = u on, X i = E (cos a - cos t) - V' (t - a), until it comes back to zero at b
    (integrated here; 1 at u = 0, where the current swings between 0 and 2 E/X).

    >>> round(half_wave_share(0.0), 6), half_wave_share(1.0)
    (1.0, 0.0)
    """
    if u >= 1.0:
        return 0.0
    start = math.asin(u)
    low, high = math.pi - start, start + 2.0 * math.pi
    for _ in range(60):
        end = 0.5 * (low + high)
        flows = math.cos(start) - math.cos(end) - u * (end - start) > 0.0
        low, high = (end, high) if flows else (low, end)
    span = high - start
    area = math.cos(start) * span - math.sin(high) + math.sin(start) - 0.5 * u * span**2
    return area / (2.0 * math.pi)


def greatest_rated_a(
    winding: Winding, pair_v_per_krpm: float, rated_a: float, rated_rpm: float
) -> float:
    """Return I_inf [A] of an alternator rated ``rated_a`` at ``rated_rpm``.

    Raises
    ------
    InputError
        The rated speed lies at or below the speed where current begins.
    """
    if winding is not Winding.HALF_WAVE:
        return greatest_a(rated_a, rated_rpm, cut_in_rpm(winding, pair_v_per_krpm))
    emf_v = math.sqrt(2.0) * pair_v_per_krpm * rated_rpm / 1000.0
    share = half_wave_share(HALF_WAVE_BUS_V / emf_v)
    if share < 0.1:
        begins = rated_rpm * HALF_WAVE_BUS_V / emf_v
        raise InputError(
            f"spec sheet: rated_rpm = {rated_rpm:g} rpm; expected well above {begins:.0f} rpm,"
            " where this alternator begins to charge"
        )
    return rated_a / share
