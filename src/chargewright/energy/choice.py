"""Choosing a battery: cold-cranking current and ampere-hours it needs, and whether lithium fits."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from chargewright.circuit.battery import battery_of
from chargewright.energy.cranking import START_U_V, START_V, class_crank_a, demand_a
from chargewright.energy.interval import Interval
from chargewright.energy.self_discharge import PLATE_OF, lost_interval
from chargewright.errors import InputError
from chargewright.machine.layout import CHEMISTRIES, Chemistry
from chargewright.machine.parameters import INDEX, healthy_row
from chargewright.machine.points import State
from chargewright.machine.spec import Range

# Ohmic resistance times CCA at 25 C, as machine/battery_spec.py: lead 2.5 to 3.5, lithium
# 1.0 to 4.0 (assumed: labels do not tell at which temperature they were rated).
OHM_CCA_V = {
    Chemistry.FLOODED: Interval(2.5, 3.0, 3.5),
    Chemistry.AGM: Interval(2.5, 3.0, 3.5),
    Chemistry.GEL: Interval(2.8, 3.3, 4.0),
    Chemistry.LIFEPO4: Interval(1.0, 2.0, 4.0),
}
CRANK_SPREAD = 0.2  # engines of one class (assumed)
MORNING_SOC = 0.85  # charge on an ordinary morning (assumed)
KEPT_SOC = 0.5  # left after the longest stand, so that it starts and is not sulphated (assumed)
MOST_CCA_PER_AH = 22.0  # 13 to 22 A/Ah, power-sport AGM, catalogue level, from memory
AH_MARGIN = 1.2  # for ageing: a battery is used down to about 80 % of its label (IEEE 1188)
# LiFePO4 in a vehicle: 13.8-14.5 V system, trouble above 14.5, serious from 15 V (a touring
# magazine's survey of makers' limits).
LITHIUM_LEAST_V, LITHIUM_MOST_V, LITHIUM_NEVER_V = 13.8, 14.5, 15.0
LITHIUM_LABEL_SHARE = Interval(1.0 / 3.0, 0.55, 1.0)


class Fit(StrEnum):
    """Whether a lithium battery suits a machine's regulator."""

    FITS = "fits"
    CHECK = "measure first"
    NO = "does not fit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What the battery is for. ``coldest_c`` [C] on the coldest morning it must start.

    ``stands_days`` longest stand between rides, with ``drain_ma`` key off, at ``stored_c``.
    """

    class_id: str
    coldest_c: float
    stands_days: float = 14.0
    drain_ma: float = 1.0
    stored_c: float = 15.0
    chemistry: Chemistry = Chemistry.AGM

    def __post_init__(self) -> None:
        if not -40.0 <= self.coldest_c <= 40.0:
            raise InputError(f"coldest_c = {self.coldest_c:g} C: expected -40 to 40 C")
        if not 0.0 <= self.stands_days <= 400.0 or not 0.0 <= self.drain_ma <= 1000.0:
            raise InputError(
                f"{self.stands_days:g} days with {self.drain_ma:g} mA: expected up to 400 days and"
                " 1000 mA"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryChoice:
    """What to look for on the label. ``cca_a`` SAE amperes; ``capacity_ah`` true ampere-hours.

    Take the high end of each to be sure. ``label_ah`` what a label must print (lithium ones
    may print lead-equivalent ampere-hours).
    """

    cca_a: Interval
    capacity_ah: Interval
    label_ah: Interval
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LithiumFit:
    """Verdict on a lithium replacement and the reasons."""

    fit: Fit
    reasons: tuple[str, ...]


def needed_cca_a(
    chemistry: Chemistry,
    crank_a: float,
    temp_c: float,
    *,
    soc: float = MORNING_SOC,
    start_v: float = START_V,
    ohm_cca_v: float = 3.0,
) -> float:
    """Return the SAE cold-cranking current [A] with which the engine cranks at ``start_v``.

    ``crank_a`` what the engine asks at 25 C; the circuit's battery of resistance
    ``ohm_cca_v``/CCA solved for CCA. Infinite when its EMF is too low already.
    """
    row = healthy_row()[None, :]
    for name, value in (
        ("chemistry", float(CHEMISTRIES.index(chemistry))),
        ("soc", soc),
        ("ambient_c", temp_c),
        ("battery_ohm", 1.0),
    ):
        row[:, INDEX[name]] = value
    battery = battery_of(row, State())
    room_v = float(battery.short_emf_v[0]) - start_v
    if room_v <= 0.0:
        return float("inf")
    return float(demand_a(crank_a, temp_c) * battery.short_ohm[0] * ohm_cca_v / room_v)


def needed_ah(need: Need, *, lost_per_day: float) -> float:
    """Return the true ampere-hours that keep half a charge over the longest stand.

    From C (1 - kept) = 0.024 I d + s d C. Infinite when self-discharge alone takes it.
    """
    room = 1.0 - KEPT_SOC - lost_per_day * need.stands_days
    if room <= 0.0:
        return float("inf")
    return 0.024 * need.drain_ma * need.stands_days / room


def choose_battery(need: Need) -> BatteryChoice:
    """Return the cold-cranking current and ampere-hours this engine and use ask for."""
    crank_a = class_crank_a(need.class_id)
    volts = OHM_CCA_V[need.chemistry]
    cases = (
        (np.exp(-CRANK_SPREAD), START_V - START_U_V, volts.low),
        (1.0, START_V, volts.best),
        (np.exp(CRANK_SPREAD), START_V + START_U_V, volts.high),
    )
    cca = Interval(
        *(
            needed_cca_a(
                need.chemistry, crank_a * factor, need.coldest_c, start_v=least, ohm_cca_v=ohm_v
            )
            for factor, least, ohm_v in cases
        )
    )
    lost = lost_interval(PLATE_OF[need.chemistry], need.stored_c)
    ah = Interval(
        needed_ah(need, lost_per_day=lost.low),
        needed_ah(need, lost_per_day=lost.best),
        AH_MARGIN * needed_ah(need, lost_per_day=lost.high),
    )
    label = ah
    if need.chemistry is Chemistry.LIFEPO4:
        share = LITHIUM_LABEL_SHARE
        label = Interval(ah.low / share.high, ah.best / share.best, ah.high / share.low)
    return BatteryChoice(cca_a=cca, capacity_ah=ah, label_ah=label, notes=_notes(need, cca, ah))


def lithium_fit(
    regulated_v: Range | None, *, coldest_c: float, regulator_known_good: bool = False
) -> LithiumFit:
    """Return whether a LiFePO4 battery suits the machine's charging voltage and weather.

    ``regulated_v`` at the battery: from the spec sheet, or both ends of what was measured.
    """
    reasons = []
    fit = Fit.FITS
    if regulated_v is None or regulated_v.both is None:
        fit = Fit.CHECK
        reasons.append("measure the charging voltage at the battery, hot, at mid and high speed")
    else:
        low, high = regulated_v.both
        if high >= LITHIUM_NEVER_V:
            fit = Fit.NO
            reasons.append(
                f"regulated up to {high:g} V: {LITHIUM_NEVER_V:g} V and more destroys the cells"
            )
        elif high > LITHIUM_MOST_V:
            fit = Fit.CHECK
            reasons.append(
                f"the sheet allows up to {high:g} V, the battery {LITHIUM_MOST_V:g} V: measure this"
                " machine's own"
            )
        if low < LITHIUM_LEAST_V and fit is not Fit.NO:
            fit = Fit.CHECK
            reasons.append(f"below {LITHIUM_LEAST_V:g} V it stays partly charged")
    if coldest_c < 0.0:
        if fit is Fit.FITS:
            fit = Fit.CHECK
        reasons.append(
            f"at {coldest_c:g} C charging plates lithium: it needs a battery whose own electronics"
            " refuse or heat, and cranks weakly until it has warmed itself"
        )
    if not regulator_known_good:
        reasons.append(
            "prove the regulator first: when the battery's protection opens while riding, the"
            " electronics see the alternator's own voltage"
        )
    reasons.append("never a desulphation charger; compare true Ah or Wh/12.8, not the label's")
    return LithiumFit(fit=fit, reasons=tuple(reasons))


def _notes(need: Need, cca: Interval, ah: Interval) -> tuple[str, ...]:
    notes = ["it must fit the tray, the terminals and their side"]
    if np.isinf(ah.best) or np.isinf(ah.high):
        notes.append("no size outlasts such a stand: use a maintainer or disconnect it")
    if np.isinf(cca.best):
        notes.append("too cold for this chemistry: keep it indoors or take another")
    if ah.best < cca.best / MOST_CCA_PER_AH:
        notes.append("cold cranking decides the size here, not the ampere-hours")
    notes.append("compare CCA only in one standard: SAE, EN, DIN and MCA figures differ")
    if 0.024 * need.drain_ma * need.stands_days > 3.0:
        notes.append("the drain decides the size: find the drain before buying a bigger battery")
    return tuple(notes)
