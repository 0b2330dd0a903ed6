"""What is printed on the battery, its age, and what both mean for its true values."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from chargewright.machine.fields import Table
from chargewright.machine.layout import CHEMISTRIES, Chemistry
from chargewright.machine.scatter import Kind, Scatter, fixed, lognormal
from chargewright.machine.spec import SPEC_SHEET


class CcaStandard(StrEnum):
    """The standard behind a printed cold-cranking current."""

    SAE = "sae"
    EN = "en"
    DIN = "din"
    IEC = "iec"
    JIS = "jis"
    CA = "ca"
    MCA = "mca"


# Lowest, usual and highest factor to SAE amperes. No exact rule exists (workshop conversion
# pages): CA or MCA x0.77 or /1.25 to /1.3; SAE -> EN x0.92; DIN x1.7 within 10 %; IEC
# = DIN/0.85 to DIN/0.87, from memory; JIS D 5301:1999 onward uses the SAE criterion.
SAE_FACTORS: dict[CcaStandard, tuple[float, float, float]] = {
    CcaStandard.SAE: (1.0, 1.0, 1.0),
    CcaStandard.JIS: (1.0, 1.0, 1.0),
    CcaStandard.EN: (1.00, 1.0 / 0.92, 1.15),
    CcaStandard.DIN: (1.53, 1.70, 1.87),
    CcaStandard.IEC: (0.85 * 1.53, 0.86 * 1.70, 0.87 * 1.87),
    CcaStandard.CA: (0.77, 0.785, 0.80),
    CcaStandard.MCA: (0.77, 0.785, 0.80),
}


def sae_cca_a(value_a: float, standard: CcaStandard) -> tuple[float, float, float]:
    """Return lowest, usual and highest SAE cold-cranking current [A] of a printed one.

    >>> sae_cca_a(200.0, CcaStandard.DIN)[1]
    340.0
    """
    low, usual, high = SAE_FACTORS[standard]
    return value_a * low, value_a * usual, value_a * high


@dataclass(frozen=True, slots=True, kw_only=True)
class BatterySpec:
    """The battery's label and age; ``None`` where it is not known."""

    chemistry: Chemistry | None = None
    capacity_ah: float | None = None
    cca_a: float | None = None
    cca_standard: CcaStandard = CcaStandard.SAE
    age_years: float | None = None

    @classmethod
    def from_dict(cls, data: Mapping[str, object], where: str = "battery") -> BatterySpec:
        """Return the battery of a job card; ``InputError`` names field, value and unit."""
        table = Table(data, where)
        table.only(("chemistry", "capacity_ah", "cca_a", "cca_standard", "age_years"))

        def optional(field: str, unit: str, low: float, high: float) -> float | None:
            return table.number(field, unit, low=low, high=high) if table.has(field) else None

        standard = CcaStandard.SAE
        if table.has("cca_standard"):
            standard = table.word("cca_standard", CcaStandard)
        return cls(
            chemistry=table.word("chemistry", Chemistry) if table.has("chemistry") else None,
            capacity_ah=optional("capacity_ah", "Ah", 1.0, 300.0),
            cca_a=optional("cca_a", "A", 10.0, 1500.0),
            cca_standard=standard,
            age_years=optional("age_years", "years", 0.0, 30.0),
        )


# Healthy ohmic resistance at 25 C x SAE amperes of LiFePO4 (lead-acid: the class files):
# (13.2 - 7.2) V over the rating; the resistance is assumed
# about 3.7 times higher at -18 C (1.6 V) if it was really tested there, and the same (6 V)
# if it was rated warm, which labels do not tell: 2.0 V with a wide spread, assumed.
LITHIUM_OHM_CCA_V = 2.0
LITHIUM_OHM_SD = 0.40  # assumed
OHM_PER_YEAR = 0.05  # assumed, 0.03 to 0.08: healthy ageing of the resistance
AH_PER_YEAR = 0.04  # assumed, 0.02 to 0.06: healthy loss of capacity

WEIBULL_SHAPE, WEIBULL_SCALE_Y = 3.0, 4.5  # assumed, 2.5-3.5 and 3-4.5 years: no data found
USUAL_AGE_Y = 3.0  # assumed age of a battery whose age nobody knows


def worn_factor(age_years: float | None) -> float:
    """Return by what the prior of a worn battery is multiplied at this age, 0.05 to 4 (assumed).

    >>> worn_factor(3.0)
    1.0
    """
    if age_years is None:
        return 1.0

    def failed(years: float) -> float:
        return -math.expm1(-((years / WEIBULL_SCALE_Y) ** WEIBULL_SHAPE))

    return min(max(failed(age_years) / failed(USUAL_AGE_Y), 0.05), 4.0)


def battery_scatter(base: Mapping[str, Scatter], battery: BatterySpec) -> dict[str, Scatter]:
    """Return the scatter of the battery's columns, from the class's ``base`` and the label."""
    found: dict[str, Scatter] = {}
    lithium = battery.chemistry is Chemistry.LIFEPO4
    age = battery.age_years or 0.0
    if battery.chemistry is not None:
        index = float(CHEMISTRIES.index(battery.chemistry))
        found["chemistry"] = fixed(index, SPEC_SHEET)
    if battery.capacity_ah is not None:
        found["capacity_ah"] = _capacity(battery.capacity_ah, lithium)
    if lithium and battery.cca_a is None:
        # A label of 13-22 A/Ah refers to the lead-equivalent Ah, about 1/0.55 of the true ones.
        found["rated_cca_a"] = replace(
            base["rated_cca_a"], centre=base["rated_cca_a"].centre / 0.55, source="lithium-battery"
        )
    if battery.cca_a is not None:
        low, usual, high = sae_cca_a(battery.cca_a, battery.cca_standard)
        spread = math.log(high / low) / 3.92
        found["rated_cca_a"] = (
            fixed(usual, SPEC_SHEET)
            if spread == 0.0
            else Scatter(kind=Kind.LOGNORMAL, centre=usual, spread=spread, source=SPEC_SHEET)
        )
    found["battery_ohm"] = _resistance(base["battery_ohm"], lithium, age)
    if age and not lithium:
        capacity = found.get("capacity_ah", base["capacity_ah"])
        left = max(1.0 - AH_PER_YEAR * age, 0.6)
        found["capacity_ah"] = replace(capacity, centre=capacity.centre * left)
    if lithium:
        found["ocv_shift_v"] = replace(base["ocv_shift_v"], spread=0.03, source="lithium-battery")
        found["surface_v"] = replace(
            base["surface_v"], centre=0.05, spread=0.03, source="lithium-battery"
        )
    return found


def _capacity(label_ah: float, lithium: bool) -> Scatter:
    """Return true Ah: near the label, but a lithium label may print lead-equivalent ones."""
    if lithium:
        return lognormal(0.55 * label_ah, 0.40, "lithium-battery")
    return lognormal(0.97 * label_ah, 0.06, SPEC_SHEET)


def _resistance(base: Scatter, lithium: bool, age: float) -> Scatter:
    if lithium:
        return replace(
            lognormal(LITHIUM_OHM_CCA_V, LITHIUM_OHM_SD, "lithium-battery"), times=base.times
        )
    return replace(base, centre=base.centre * (1.0 + OHM_PER_YEAR * min(age, 8.0)))
