"""What the battery tests show, and what the circuit's battery would show in each.

Every kind of test is one small class whose ``log_likelihood`` compares the reading with a
batch of batteries; a new tester is a new class, not a new model.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from chargewright.circuit.battery import BatteryArrays
from chargewright.circuit.still import CRANK_DOUBLING_K, CRANK_REFERENCE_C
from chargewright.energy.capacity import SINGLE_EXPONENT_U
from chargewright.errors import InputError
from chargewright.machine.battery_spec import CcaStandard, sae_cca_a
from chargewright.machine.parameters import Array, column

# Model errors: how far a battery that is exactly as assumed may read from the circuit's figure.
LOAD_MODEL_V = 0.15  # assumed; no open high-rate data of small batteries exist
CRANK_MODEL_V = 0.20  # assumed
OHM_MODEL_REL = 0.10  # new sealed batteries of one batch spread 8 % (Buchmann 2004)
# CCA from ohmic resistance at 25 C: 3.0 V/R, 2.5 to 3.5 (from SAE J537's 5.4 V at -18 C).
OHM_CCA_V, OHM_CCA_REL = 3.0, 0.09
TESTER_REL = 0.08  # assumed: shown figure against a second tester of another make
# Cranking current over CCA in SAE amperes where it was not measured (weak sources, assumed).
CRANK_SHARE, CRANK_SHARE_REL = 0.45, 0.30


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspects:
    """Batteries that this one may be: parameters (n, COUNT) and their state in the circuit.

    ``full_ah`` (n,) what each gives at the 10-h rate at its temperature when full.
    """

    params: Array
    battery: BatteryArrays
    full_ah: Array

    @property
    def label_cca_a(self) -> Array:
        """Rated cold-cranking current (n,) [A], SAE."""
        return column(self.params, "rated_cca_a")


class Evidence(Protocol):
    """One test of the battery."""

    @property
    def tells_health(self) -> bool:
        """Whether the test loads the battery enough to judge it."""
        ...

    def log_likelihood(self, of: Suspects) -> Array:
        """Return the logarithm (n,) of the chance of this reading on each battery."""
        ...


def _normal(difference: Array, u: Array | float) -> Array:
    """Return the logarithm of the density of a difference with standard uncertainty ``u``."""
    z = difference / u
    return np.asarray(np.log(heavy_tailed(z) / u))


def heavy_tailed(z: Array) -> Array:
    """Return a normal density (peak 1) with 1 % of ten times the width: one blunder in 100."""
    return np.asarray(0.99 * np.exp(-0.5 * z * z) + 0.001 * np.exp(-0.005 * z * z))


def _positive(**values: float | None) -> None:
    for name, value in values.items():
        if value is not None and not 0.0 < value < 1e5:
            raise InputError(f"battery test: {name} = {value:g}; expected above 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadTest:
    """Volts after 15 s at ``amps``; half the rated CCA where no current is given."""

    volts: float
    amps: float | None = None
    volts_u: float = 0.05

    def __post_init__(self) -> None:
        _positive(volts=self.volts, amps=self.amps, volts_u=self.volts_u)

    @property
    def tells_health(self) -> bool:
        """A heavy load does."""
        return True

    def log_likelihood(self, of: Suspects) -> Array:
        """Compare with the EMF under heavy load less current times short-time resistance."""
        amps = 0.5 * of.label_cca_a if self.amps is None else self.amps
        expected = np.maximum(of.battery.short_emf_v - amps * of.battery.short_ohm, 0.0)
        u = np.hypot(np.hypot(self.volts_u, LOAD_MODEL_V), 0.05 * amps * of.battery.short_ohm)
        return _normal(self.volts - expected, u)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cranking:
    """Volts at the battery while the starter turns; ``amps`` by clamp where measured."""

    volts: float
    amps: float | None = None
    volts_u: float = 0.08

    def __post_init__(self) -> None:
        _positive(volts=self.volts, amps=self.amps, volts_u=self.volts_u)

    @property
    def tells_health(self) -> bool:
        """The starter is a heavy load."""
        return True

    def log_likelihood(self, of: Suspects) -> Array:
        """Compare with the circuit's battery at the current measured or usual."""
        ohm = of.battery.short_ohm
        if self.amps is None:
            doublings = (CRANK_REFERENCE_C - of.battery.temp_c) / CRANK_DOUBLING_K
            amps = CRANK_SHARE * of.label_cca_a * 2.0**doublings
            spread_v = CRANK_SHARE_REL * amps * ohm
        else:
            amps, spread_v = np.full_like(ohm, self.amps), 0.05 * self.amps * ohm
        expected = np.maximum(of.battery.short_emf_v - amps * ohm, 0.0)
        u = np.hypot(np.hypot(self.volts_u, CRANK_MODEL_V), spread_v)
        return _normal(self.volts - expected, u)


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistance:
    """Internal resistance [ohm]: ``pulsed`` over seconds of load, else AC or conductance."""

    ohm: float
    ohm_u: float
    pulsed: bool = False

    def __post_init__(self) -> None:
        _positive(ohm=self.ohm, ohm_u=self.ohm_u)

    @property
    def tells_health(self) -> bool:
        """Resistance speaks of cranking, not of capacity."""
        return True

    def log_likelihood(self, of: Suspects) -> Array:
        """Compare with ohmic or short-time resistance at this charge and temperature."""
        expected = of.battery.short_ohm if self.pulsed else of.battery.ohmic_ohm
        return _normal(self.ohm - expected, np.hypot(self.ohm_u, OHM_MODEL_REL * expected))


def two_point(
    *, light: tuple[float, float], heavy: tuple[float, float], volts_u: float, amps_rel_u: float
) -> Resistance:
    """Return the resistance from two loads, each (volts, amperes), with its uncertainty.

    R = (V1 - V2)/(I2 - I1); ``volts_u`` [V] is that of each reading, ``amps_rel_u`` relative of
    each current, all independent (JCGM 100:2008 5.1.2).
    """
    (v1, i1), (v2, i2) = light, heavy
    if i2 <= i1 or v2 >= v1:
        raise InputError(
            f"two loads of {i1:g} A at {v1:g} V and {i2:g} A at {v2:g} V: expected the second with"
            " more current and fewer volts"
        )
    ohm = (v1 - v2) / (i2 - i1)
    from_volts = np.sqrt(2.0) * volts_u / (i2 - i1)
    from_amps = ohm * amps_rel_u * np.hypot(i1, i2) / (i2 - i1)
    return Resistance(ohm=ohm, ohm_u=float(np.hypot(from_volts, from_amps)), pulsed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownCca:
    """A cold-cranking figure shown by an electronic tester, in the standard it was set to."""

    shown_a: float
    standard: CcaStandard = CcaStandard.SAE

    def __post_init__(self) -> None:
        _positive(shown_a=self.shown_a)

    @property
    def tells_health(self) -> bool:
        """As a resistance does."""
        return True

    def log_likelihood(self, of: Suspects) -> Array:
        """Compare with 3.0 V over the resistance as it stands, so cold or flat reads low."""
        low, usual, high = sae_cca_a(self.shown_a, self.standard)
        conversion = (high - low) / (3.92 * usual)
        expected = OHM_CCA_V / of.battery.ohmic_ohm
        u = expected * float(np.sqrt(OHM_CCA_REL**2 + TESTER_REL**2 + conversion**2))
        return _normal(usual - expected, u)


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacityTest:
    """Ampere-hours from full to 10.5 V (LiFePO4 10.0 V) near the 10-h rate."""

    ah: float
    ah_rel_u: float = 0.03

    def __post_init__(self) -> None:
        _positive(ah=self.ah, ah_rel_u=self.ah_rel_u)

    @property
    def tells_health(self) -> bool:
        """The only test that speaks of capacity itself."""
        return True

    def log_likelihood(self, of: Suspects) -> Array:
        """Compare with the true capacity at this temperature."""
        rel = float(np.hypot(self.ah_rel_u, SINGLE_EXPONENT_U))
        return _normal(self.ah - of.full_ah, rel * of.full_ah)
