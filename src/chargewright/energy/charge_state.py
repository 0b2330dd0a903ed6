"""State of charge from a rested voltage or a hydrometer: an interval, never a point.

The circuit's rest curve is turned round by Bayes' rule over a grid of charge. Meter, unit-to-unit
spread, temperature, rest time and surface charge are standard uncertainties in volts, so the
answer is as wide as they make it. Where the voltage has no state of charge behind it (a dead
cell, a protection circuit that has opened), the answer is a refusal with the reason.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from chargewright.circuit.battery import surface_charge_v
from chargewright.circuit.ocv import molality, open_circuit_v
from chargewright.energy.acid import corrected_gravity, gravity_of
from chargewright.energy.interval import Interval, of_samples
from chargewright.errors import InputError
from chargewright.machine.layout import CHEMISTRIES, Chemistry
from chargewright.machine.parameters import Array

GRID = np.linspace(0.0, 1.0, 401)

# Chance of each chemistry where the label is not known (assumed, as in the class files);
# lithium only when told.
UNKNOWN_SHARES = {Chemistry.FLOODED: 0.2, Chemistry.AGM: 0.7, Chemistry.GEL: 0.1}

# How far batteries of one chemistry lie from the curve at equal charge, one standard deviation.
# empty and full. flooded: published tables within 0.05-0.1 V; agm: sets of 11.5-11.8, 12.3-12.4
# and 12.7-13.2 V at 0, 50 and 100 %; gel: one column only, assumed; lithium: three charts that
# put 13.2 V at 40-80 %.
CURVE_U_V = {
    Chemistry.FLOODED: (0.05, 0.05),
    Chemistry.AGM: (0.10, 0.18),
    Chemistry.GEL: (0.10, 0.10),
    Chemistry.LIFEPO4: (0.035, 0.035),
}
SPREAD = "battery to battery"
# LiFePO4 charts place the low knee 0.1-0.2 of the charge apart (12.8 V at 10 % here, near 28 % in
# a published cell model) and agree when full or empty. Read along the charge axis, assumed:
# 0.01 + 0.20 soc up to 0.08, times (1 - soc).
LITHIUM_KNEE_U = 0.08

# Left one hour after the event: +0.05 V after charging, -0.07 V after a deep discharge (rest
# curves of a 100 Ah sealed battery, public data); they fade alike, see ``surface_charge_v``.
AFTER_CHARGE_V, AFTER_CHARGE_U_V = 0.06, 0.03
AFTER_DISCHARGE_V, AFTER_DISCHARGE_U_V = -0.05, 0.04
UNKNOWN_EVENT_U_V = 0.06  # assumed
LOADED_OFF_U_V = 0.03  # assumed: what a 15 s load and 3 min of rest leave
UNKNOWN_REST_H = 1.0  # assumed where nobody knows

# The rest curve's 1.5 mV/K is thermodynamic; a published 13-temperature table falls up to twice
# as steeply in the cold, never more than 3 mV/K on average.
SLOPE_U_V_PER_K = 0.0008
UNKNOWN_TEMP_C, UNKNOWN_TEMP_U_C = 15.0, 12.0  # assumed
SLOPE_V_PER_K = 0.0015

EMPTY_V = 11.5  # below it no lead-acid rest table gives a charge
ASLEEP_V = 10.0  # a four-cell LiFePO4 pack at its cut-off of 2.5 V per cell
CELL_V = 2.1  # what one dead cell takes away
FULL_MARGIN = 3.0  # standard deviations above a full battery before we stop believing "at rest"
HYDROMETER_U = 0.005  # a bulb hydrometer's division and temperature (assumed)
FILL_U = 0.010  # acid strength from maker to maker (assumed: fills 1.24 to 1.28)
CELLS_SUSPECT, CELLS_REPLACE = 0.030, 0.050  # specific gravity spread, car-maker bulletin 1992


class Before(StrEnum):
    """What the battery did last, before it came to rest."""

    CHARGED = "charged"
    DISCHARGED = "discharged"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rested:
    """A voltage at the posts of a resting battery.

    ``chemistry`` and ``temp_c`` [C] may be unknown; ``rest_h`` hours since it was charged or
    loaded; ``loaded_off``: surface charge was taken off (lamps 15 s, then 3 min of rest);
    ``volts_u`` standard uncertainty of the meter [V] (0.05: 0.5 % + 2 counts at 13 V).
    """

    volts: float
    chemistry: Chemistry | None = None
    temp_c: float | None = None
    rest_h: float | None = None
    before: Before = Before.UNKNOWN
    loaded_off: bool = False
    volts_u: float = 0.05

    def __post_init__(self) -> None:
        if not 0.0 <= self.volts <= 18.0:
            raise InputError(
                f"rested voltage {self.volts:g} V: expected 0 to 18 V of a 12 V battery"
            )
        if self.rest_h is not None and self.rest_h < 0.0:
            raise InputError(f"rest_h = {self.rest_h:g} h: expected 0 or more hours")
        if not 0.0 < self.volts_u <= 1.0:
            raise InputError(f"volts_u = {self.volts_u:g} V: expected above 0 up to 1 V")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeEstimate:
    """State of charge (0..1) with its interval, or the reason why there is none.

    ``volts_u`` standard uncertainty behind it by name [V]; ``notes`` say what would narrow it.
    """

    soc: Interval | None
    refused: str | None = None
    volts_u: tuple[tuple[str, float], ...] = ()
    notes: tuple[str, ...] = ()


def chemistry_shares(chemistry: Chemistry | None) -> dict[Chemistry, float]:
    """Return the chance of each chemistry: the one told, or the assumed shares."""
    return dict(UNKNOWN_SHARES) if chemistry is None else {chemistry: 1.0}


def disturbance(reading: Rested) -> tuple[float, float]:
    """Return (mean, standard uncertainty) [V] of what has not faded yet at the posts."""
    if reading.loaded_off:
        return 0.0, LOADED_OFF_U_V
    at_1h = {
        Before.CHARGED: (AFTER_CHARGE_V, AFTER_CHARGE_U_V),
        Before.DISCHARGED: (AFTER_DISCHARGE_V, AFTER_DISCHARGE_U_V),
        Before.UNKNOWN: (0.0, UNKNOWN_EVENT_U_V),
    }[reading.before]
    hours = UNKNOWN_REST_H if reading.rest_h is None else reading.rest_h
    fade = float(surface_charge_v(1.0, hours))
    return at_1h[0] * fade, at_1h[1] * fade


def curve_u_v(chemistry: Chemistry, soc: Array | float) -> Array:
    """Return the spread [V] of batteries of one chemistry about the rest curve at ``soc``."""
    empty, full = CURVE_U_V[chemistry]
    return np.asarray(empty + (full - empty) * np.asarray(soc))


def uncertainty(
    reading: Rested, chemistry: Chemistry, soc: float = 0.5
) -> tuple[tuple[str, float], ...]:
    """Return each part of the standard uncertainty of the rested EMF [V], by name."""
    temp_c = UNKNOWN_TEMP_C if reading.temp_c is None else reading.temp_c
    lithium = chemistry is Chemistry.LIFEPO4
    cold_v = 0.0 if lithium else SLOPE_U_V_PER_K * abs(temp_c - 25.0)
    if reading.temp_c is None and not lithium:
        cold_v = float(np.hypot(cold_v, SLOPE_V_PER_K * UNKNOWN_TEMP_U_C))
    return (
        ("meter", reading.volts_u),
        (SPREAD, float(curve_u_v(chemistry, soc))),
        ("temperature", cold_v),
        ("rest and surface charge", disturbance(reading)[1]),
    )


def soc_density(reading: Rested) -> dict[Chemistry, Array]:
    """Return the density over ``GRID`` (401,) for each possible chemistry, weights included."""
    temp_c = UNKNOWN_TEMP_C if reading.temp_c is None else reading.temp_c
    rest_v = reading.volts - disturbance(reading)[0]
    found: dict[Chemistry, Array] = {}
    for chemistry, share in chemistry_shares(reading.chemistry).items():
        curve_v = open_circuit_v(float(CHEMISTRIES.index(chemistry)), GRID, temp_c)
        rest_u = _total(tuple(p for p in uncertainty(reading, chemistry) if p[0] != SPREAD))
        u = np.hypot(curve_u_v(chemistry, GRID), rest_u)
        likelihood = np.exp(-0.5 * ((rest_v - curve_v) / u) ** 2) / u
        if chemistry is Chemistry.LIFEPO4:
            likelihood = _moved_along(likelihood)
        found[chemistry] = share * likelihood
    return found


def _moved_along(likelihood: Array) -> Array:
    """Return the likelihood over ``GRID`` with the curve's place along the charge axis unsure."""
    at_knee = np.minimum(0.01 + 0.20 * GRID, LITHIUM_KNEE_U)
    u = np.maximum(at_knee * (1.0 - GRID), 1e-3)[:, None]
    kernel = np.exp(-0.5 * ((GRID[None, :] - GRID[:, None]) / u) ** 2)
    return np.asarray((kernel / kernel.sum(axis=1, keepdims=True)) @ likelihood)


def charge_from_volts(reading: Rested) -> ChargeEstimate:
    """Return the state of charge behind a rested voltage.

    Example: ``charge_from_volts(Rested(volts=12.4))`` spans about half to three quarters,
    because nobody said which chemistry it is.
    """
    refusal = _refusal(reading)
    if refusal is not None:
        return ChargeEstimate(soc=None, refused=refusal)
    density = soc_density(reading)
    likeliest = max(density, key=lambda one: float(density[one].sum()))
    soc = of_samples(GRID, np.sum(list(density.values()), axis=0))
    return ChargeEstimate(
        soc=soc,
        volts_u=uncertainty(reading, likeliest, soc.best),
        notes=_notes(reading),
    )


def charge_from_gravity(
    shown: tuple[float, ...], temp_c: float | None = None, *, chemistry: Chemistry | None = None
) -> ChargeEstimate:
    """Return the state of charge from a hydrometer in one or more cells of a flooded battery.

    ``shown`` as read, uncorrected; ``temp_c`` [C] of the acid. The weakest cell decides.
    """
    if not shown:
        raise InputError("hydrometer: no reading given; expected one per cell, as 1.265")
    if chemistry not in (None, Chemistry.FLOODED):
        return ChargeEstimate(
            soc=None, refused=f"a hydrometer needs free acid; {chemistry} holds none"
        )
    at_c = UNKNOWN_TEMP_C if temp_c is None else temp_c
    gravities = [corrected_gravity(one, at_c) for one in shown]
    spread = max(gravities) - min(gravities)
    u = float(np.hypot(HYDROMETER_U, FILL_U))
    if temp_c is None:
        u = float(np.hypot(u, 0.00072 * UNKNOWN_TEMP_U_C))
    curve = gravity_of(molality(float(CHEMISTRIES.index(Chemistry.FLOODED)), GRID))
    density = np.exp(-0.5 * ((min(gravities) - curve) / u) ** 2)
    notes = []
    if spread > CELLS_REPLACE:
        notes.append(f"cells differ by {spread:.3f}: above 0.050 after a full charge, replace")
    elif spread > CELLS_SUSPECT:
        notes.append(f"cells differ by {spread:.3f}: above 0.030 is suspect, charge and read again")
    if temp_c is None:
        notes.append("acid temperature not given: 10 K move a hydrometer by 0.007")
    return ChargeEstimate(soc=of_samples(GRID, density), notes=tuple(notes))


def _total(parts: tuple[tuple[str, float], ...]) -> float:
    return float(np.sqrt(sum(u * u for _, u in parts)))


def _refusal(reading: Rested) -> str | None:
    """Return why this voltage tells no state of charge, or ``None``."""
    if reading.chemistry is Chemistry.LIFEPO4:
        if reading.volts < ASLEEP_V:
            return (
                f"{reading.volts:.2f} V is below the {ASLEEP_V:g} V cut-off of a LiFePO4 pack: its"
                " protection has opened or a cell is over-discharged; wake it with a lithium"
                " charger and measure again"
            )
    elif reading.volts < EMPTY_V:
        missing = (
            "about one cell's 2.1 V is missing" if reading.volts > 9.8 else "cells are missing"
        )
        return (
            f"{reading.volts:.2f} V rested is below every charge table ({EMPTY_V:g} V): {missing},"
            " a shorted or dead cell, or the battery is deeply discharged; charge it, rest it and"
            " measure again before any verdict"
        )
    shares = chemistry_shares(reading.chemistry)
    temp_c = UNKNOWN_TEMP_C if reading.temp_c is None else reading.temp_c
    highest = max(
        float(open_circuit_v(float(CHEMISTRIES.index(one)), 1.0, temp_c))
        + disturbance(reading)[0]
        + FULL_MARGIN * _total(uncertainty(reading, one, 1.0))
        for one in shares
    )
    if reading.volts > highest:
        return (
            f"{reading.volts:.2f} V is above any rested full battery ({highest:.2f} V): it is being"
            " charged or carries surface charge; lamps on for 15 s, rest 3 min, measure again"
        )
    return None


def _notes(reading: Rested) -> tuple[str, ...]:
    notes = []
    if reading.chemistry is None:
        notes.append("chemistry not given: flooded, AGM and gel tables differ by 20 points")
    if reading.chemistry is Chemistry.LIFEPO4:
        notes.append("LiFePO4 is flat between about 20 and 90 %: voltage cannot tell more there")
    if not reading.loaded_off and (reading.rest_h is None or reading.rest_h < 2.0):
        notes.append("rest it two hours, or lamps 15 s and 3 min of rest, for a narrower answer")
    if reading.temp_c is None:
        notes.append("battery temperature not given")
    if reading.volts < 11.9 and reading.chemistry is not Chemistry.LIFEPO4:
        notes.append("near empty: charge at once, sulphation has begun")
    return tuple(notes)
