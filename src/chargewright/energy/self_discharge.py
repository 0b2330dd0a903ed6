"""How fast a battery loses its charge by itself, by type of plate and temperature."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from chargewright.energy.interval import Interval
from chargewright.machine.layout import Chemistry
from chargewright.machine.parameters import Array


class Plate(StrEnum):
    """What decides the self-discharge."""

    ANTIMONY = "antimony"  # conventional flooded, with filler caps
    CALCIUM = "calcium"  # maintenance-free and AGM
    GEL = "gel"
    LITHIUM = "lithium"


# Days from full to flat at 40, 25 and 0 C, and from them the share lost per day: motorcycle
# battery maker's technical manual, section 3. (Its text says doubling per 10 K; its table gives
# a factor 1.6 per 10 K, which is used.)
_TABLE_C = np.array([0.0, 25.0, 40.0])
_DAYS = {
    Plate.ANTIMONY: np.array([550.0, 200.0, 100.0]),
    Plate.CALCIUM: np.array([950.0, 600.0, 300.0]),
}
# Gel 2 and 1 % a month at 20 and 10 C (marine energy handbook); LiFePO4 1 to 3 % a month, its
# temperature dependence taken as lead's (assumed).
_AT_20C_PER_DAY = {Plate.GEL: 0.02 / 30.0, Plate.LITHIUM: 0.02 / 30.0}
# At 20 C other sources give calcium AGM 3 to 5 % a month where the table gives 4.6, antimony
# 6 to 12 where it gives 12 (fresh flooded military batteries lose a quarter more than the
# table): lowest and highest as a factor of the table.
_SPREAD = {
    Plate.ANTIMONY: Interval(0.45, 1.0, 1.3),
    Plate.CALCIUM: Interval(0.65, 1.0, 1.2),
    Plate.GEL: Interval(0.7, 1.0, 1.5),
    Plate.LITHIUM: Interval(0.5, 1.0, 1.5),
}

PLATE_OF = {
    Chemistry.FLOODED: Plate.ANTIMONY,
    Chemistry.AGM: Plate.CALCIUM,
    Chemistry.GEL: Plate.GEL,
    Chemistry.LIFEPO4: Plate.LITHIUM,
}
# Longest without a charge: sealed 6-8 months, antimony 4 (battery makers' guides); lithium a
# year at about half charge (assumed).
LONGEST_DAYS = {
    Plate.ANTIMONY: 120.0,
    Plate.CALCIUM: 180.0,
    Plate.GEL: 180.0,
    Plate.LITHIUM: 365.0,
}


def lost_per_day(plate: Plate, temp_c: Array | float) -> Array:
    """Return the share of a full charge lost per day at ``temp_c`` [C], any shape.

    Between the table's temperatures the logarithm is straight; beyond them it goes on as steep.

    >>> round(1.0 / float(lost_per_day(Plate.CALCIUM, 25.0)))
    600
    """
    temp = np.asarray(temp_c, dtype=np.float64)
    if plate in _AT_20C_PER_DAY:
        shape = lost_per_day(Plate.CALCIUM, temp) / lost_per_day(Plate.CALCIUM, 20.0)
        return np.asarray(_AT_20C_PER_DAY[plate] * shape)
    logs = np.log(1.0 / _DAYS[plate])
    slope_cold = (logs[1] - logs[0]) / (_TABLE_C[1] - _TABLE_C[0])
    slope_warm = (logs[2] - logs[1]) / (_TABLE_C[2] - _TABLE_C[1])
    slope = np.where(temp < _TABLE_C[1], slope_cold, slope_warm)
    return np.asarray(np.exp(logs[1] + slope * (temp - _TABLE_C[1])))


def lost_interval(plate: Plate, temp_c: float) -> Interval:
    """Return the share lost per day with what other sources say at its ends."""
    return _SPREAD[plate].scaled(float(lost_per_day(plate, temp_c)))
