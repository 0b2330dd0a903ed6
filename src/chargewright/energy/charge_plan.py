"""A charge plan: current, voltage limit, hours, when to stop, and what must not be done."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from chargewright.energy.acid import freezing_c
from chargewright.energy.charging import Charge, run_charge
from chargewright.energy.hydrogen import (
    AGED_FACTOR,
    gassing_a,
    hydrogen_l,
    ventilation_l_per_s,
)
from chargewright.energy.interval import Interval
from chargewright.errors import InputError
from chargewright.machine.battery_spec import BatterySpec
from chargewright.machine.layout import Chemistry

USUAL_AH = 10.0  # assumed where the label is not known


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """How a chemistry is charged at 25 C: limit and float volts, greatest share of C per hour.

    ``mv_per_k`` change of both per kelvin and cell; ``coolest_c``, ``warmest_c`` charge only
    between these; ``factor`` Ah to store per Ah missing, what gasses at the limit apart.
    """

    limit_v: Interval
    float_v: Interval | None
    most_per_h: float
    mv_per_k: float
    coolest_c: float
    warmest_c: float
    factor: Interval


# Limits: end-of-charge guides 14.4 V (conventional) and 14.7 (maintenance-free) at 24 C; a
# motorcycle AGM guide wants below 14.6; gel from memory; LiFePO4 14.6 at most (3.65 V per cell),
# 14.4 kept. Float: 13.4-13.8 flooded, 13.5-13.6 AGM, 13.05-13.4 gel, published and in conflict.
# Compensation: the same guides give -3 mV/K and cell (-5 is published for float). Greatest: C/10 is
# the label rule; 0.4 C a sealed battery's data sheet. Warmest for lead assumed, lithium 0-45 C
# a cell's data sheet. Charge factor: 1.04-1.11 measured on a sealed battery, gassing included,
# which the battery's law takes off by itself; 1.6 for old chargers and flooded.
HABITS = {
    Chemistry.FLOODED: Habit(
        limit_v=Interval(14.2, 14.4, 14.8),
        float_v=Interval(13.4, 13.6, 13.8),
        most_per_h=0.2,
        mv_per_k=-3.0,
        coolest_c=-40.0,
        warmest_c=50.0,
        factor=Interval(1.05, 1.2, 1.6),
    ),
    Chemistry.AGM: Habit(
        limit_v=Interval(14.2, 14.4, 14.6),
        float_v=Interval(13.4, 13.5, 13.6),
        most_per_h=0.4,
        mv_per_k=-3.0,
        coolest_c=-40.0,
        warmest_c=50.0,
        factor=Interval(1.0, 1.03, 1.2),
    ),
    Chemistry.GEL: Habit(
        limit_v=Interval(14.0, 14.2, 14.4),
        float_v=Interval(13.05, 13.3, 13.4),
        most_per_h=0.2,
        mv_per_k=-3.0,
        coolest_c=-40.0,
        warmest_c=50.0,
        factor=Interval(1.0, 1.05, 1.2),
    ),
    Chemistry.LIFEPO4: Habit(
        limit_v=Interval(14.2, 14.4, 14.6),
        float_v=None,
        most_per_h=1.0,
        mv_per_k=0.0,
        coolest_c=0.0,
        warmest_c=45.0,
        factor=Interval(1.0, 1.02, 1.05),
    ),
}
LABEL_PER_H = 0.1  # C/10, what the label asks for
SULPHATED_V, SLOW_V, VERY_LOW_V = 11.6, 12.1, 10.0  # rested; car-maker bulletin 1992
COMPENSATED_C = (-20.0, 45.0)  # chargers compensate no further (assumed)
DESULPHATION_V = 15.0  # programs above this are recovery or desulphation


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeJob:
    """A battery that is to be charged. ``soc`` 0..1; ``rested_v`` before the charge, if read.

    ``charger_a`` [A] what the charger gives; ``charger_v`` its highest voltage [V].
    """

    label: BatterySpec = field(default_factory=BatterySpec)
    soc: Interval = field(default_factory=lambda: Interval(0.0, 0.4, 0.8))
    temp_c: float = 20.0
    rested_v: float | None = None
    charger_a: float | None = None
    charger_v: float | None = None
    swollen: bool = False
    leaking: bool = False

    def __post_init__(self) -> None:
        if not 0.0 <= self.soc.low <= self.soc.high <= 1.0:
            raise InputError(f"soc {self.soc.low:g} to {self.soc.high:g}: expected within 0 to 1")
        if not -45.0 <= self.temp_c <= 70.0:
            raise InputError(f"battery temperature {self.temp_c:g} C: expected -45 to 70 C")
        if self.charger_a is not None and not 0.0 < self.charger_a <= 200.0:
            raise InputError(f"charger_a = {self.charger_a:g} A: expected above 0 up to 200 A")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargePlan:
    """How to charge it; with ``refused`` not empty it must not be charged now.

    ``current_a``: low gentle, best chosen, high the most allowed. ``gas_l_per_h`` hydrogen of a
    new and of an aged battery at the limit; ``air_l_per_s`` for all current into gas.
    """

    refused: tuple[str, ...]
    current_a: Interval
    limit_v: Interval
    float_v: Interval | None
    hours: Interval
    stop: str
    never: tuple[str, ...]
    steps: tuple[str, ...]
    gas_l_per_h: Interval
    air_l_per_s: float


def compensated_v(volts_25: float, temp_c: float, *, mv_per_k: float, cells: int = 6) -> float:
    """Return a charging voltage [V] of ``cells`` at ``temp_c`` [C], given that at 25 C.

    >>> round(compensated_v(13.40, 30.0, mv_per_k=-5.0), 2)
    13.25
    """
    return volts_25 + cells * mv_per_k / 1000.0 * (temp_c - 25.0)


def plan_charge(job: ChargeJob) -> ChargePlan:
    """Return the plan for one battery, or the reasons why it must not be charged now."""
    chemistry = job.label.chemistry or Chemistry.FLOODED
    habit = HABITS[chemistry]
    capacity_ah = job.label.capacity_ah or USUAL_AH
    limit_v = _at_temperature(habit.limit_v, job.temp_c, habit.mv_per_k)
    current_a = _current(job, habit, capacity_ah)
    deep = job.rested_v is not None and job.rested_v < SULPHATED_V
    return ChargePlan(
        refused=_refusals(job, chemistry, habit),
        current_a=current_a,
        limit_v=limit_v,
        float_v=None
        if habit.float_v is None
        else _at_temperature(habit.float_v, job.temp_c, habit.mv_per_k),
        hours=_hours(job, chemistry, current_a.best, limit_v.best),
        stop=_stop(chemistry, capacity_ah, limit_v.best),
        never=_never(chemistry),
        steps=_steps(job, chemistry, deep=deep),
        gas_l_per_h=_gas(chemistry, limit_v.best, job.temp_c, capacity_ah),
        air_l_per_s=0.0 if chemistry is Chemistry.LIFEPO4 else ventilation_l_per_s(current_a.best),
    )


def _at_temperature(volts: Interval, temp_c: float, mv_per_k: float) -> Interval:
    at_c = float(np.clip(temp_c, *COMPENSATED_C))
    low, best, high = (
        compensated_v(v, at_c, mv_per_k=mv_per_k) for v in (volts.low, volts.best, volts.high)
    )
    return Interval(low, best, high)


def _current(job: ChargeJob, habit: Habit, capacity_ah: float) -> Interval:
    most = habit.most_per_h * capacity_ah
    gentle = min(0.5 * LABEL_PER_H * capacity_ah, most)
    best = LABEL_PER_H * capacity_ah if job.charger_a is None else job.charger_a
    if job.rested_v is not None and job.rested_v < SULPHATED_V:
        best = min(best, gentle)
    return Interval(gentle, float(np.clip(best, gentle, most)), most)


def _hours(job: ChargeJob, chemistry: Chemistry, amps: float, limit_v: float) -> Interval:
    """Return hours from the state of charge's ends, charge factor and capacity."""
    ah = job.label.capacity_ah or USUAL_AH
    spread = 0.1 if job.label.capacity_ah is not None else 0.4
    ohm = 3.0 / (job.label.cca_a or 17.0 * ah)
    factor = HABITS[chemistry].factor
    curve = run_charge(
        Charge(
            chemistry=chemistry,
            capacity_ah=ah * np.array([1.0 - spread, 1.0, 1.0 + 0.5 * spread]),
            battery_ohm=np.full(3, ohm),
            soc=np.array([job.soc.high, job.soc.best, job.soc.low]),
            efficiency=1.0 / np.array([factor.low, factor.best, factor.high]),
            current_a=amps,
            limit_v=limit_v,
            temp_c=job.temp_c,
        )
    )
    low, best, high = np.sort(curve.full_h)
    return Interval(float(low), float(best), float(high))


def _refusals(job: ChargeJob, chemistry: Chemistry, habit: Habit) -> tuple[str, ...]:
    found = []
    if job.swollen:
        found.append("the case is swollen: do not charge it, it can burst; replace it")
    if job.leaking:
        found.append("the case leaks: do not charge it; replace it")
    frozen_c = float(freezing_c(chemistry, job.soc.low))
    if job.temp_c <= frozen_c:
        found.append(
            f"at {job.temp_c:g} C acid at {job.soc.low:.0%} charge freezes ({frozen_c:.0f} C): a"
            " frozen battery can burst on charge; thaw it through and look for cracks first"
        )
    if job.temp_c < habit.coolest_c:
        found.append(
            f"{job.temp_c:g} C: charging lithium below {habit.coolest_c:g} C plates metal inside;"
            " warm it first"
        )
    if job.temp_c > habit.warmest_c:
        found.append(f"{job.temp_c:g} C is above {habit.warmest_c:g} C: let it cool first")
    most_v = job.charger_v
    if chemistry is Chemistry.LIFEPO4 and most_v is not None and most_v > habit.limit_v.high:
        name = "desulphation" if most_v >= DESULPHATION_V else "lead-acid"
        found.append(
            f"a charger that reaches {most_v:g} V ({name} program) destroys a LiFePO4 pack:"
            f" at most {habit.limit_v.high:g} V"
        )
    return tuple(found)


def _stop(chemistry: Chemistry, capacity_ah: float, limit_v: float) -> str:
    low, high = capacity_ah / 50.0, capacity_ah / 30.0
    if chemistry is Chemistry.LIFEPO4:
        return f"at {limit_v:.1f} V when the current has fallen below {high:.2f} A; no float charge"
    return (
        f"at {limit_v:.1f} V when the current is below {low:.2f}-{high:.2f} A and has not changed"
        " for an hour; the voltage alone is not full charge"
    )


def _never(chemistry: Chemistry) -> tuple[str, ...]:
    common = (
        "never charge a frozen, swollen or leaking battery",
        "never connect or part the clamps with the charger on",
    )
    if chemistry is Chemistry.LIFEPO4:
        return (*common, "never use a desulphation or equalising program, never charge below 0 C")
    sealed = () if chemistry is Chemistry.FLOODED else ("never open it or add water",)
    return (*common, *sealed, "no flame or spark: it gives off hydrogen; eye protection on")


def _steps(job: ChargeJob, chemistry: Chemistry, *, deep: bool) -> tuple[str, ...]:
    steps = ["take it out or disconnect it: negative lead off first, on last"]
    if chemistry is Chemistry.LIFEPO4:
        if job.rested_v is not None and job.rested_v < VERY_LOW_V:
            steps.append("wake it with a lithium charger at C/20 or less until it reads 12 V")
        return tuple(steps)
    if chemistry is Chemistry.FLOODED:
        steps.append("plates covered with acid? fill to the mark only after the charge")
    if deep:
        steps.append(
            "deeply discharged: start at C/20, at least 48 h; expect 60-80 % of its capacity back"
        )
        steps.append("hot to the hand although below 14.8 V: internal short, stop and replace it")
    elif job.rested_v is not None and job.rested_v < SLOW_V:
        steps.append("below 12.1 V rested: allow extra time for sulphate to dissolve")
    if job.rested_v is not None and job.rested_v < VERY_LOW_V:
        steps.append("below 10 V a charger with reverse-polarity guard may refuse to start")
    steps.append("rest it two hours, or take surface charge off, then read it: charged and sound?")
    return tuple(steps)


def _gas(chemistry: Chemistry, volts: float, temp_c: float, capacity_ah: float) -> Interval:
    if chemistry is Chemistry.LIFEPO4:
        return Interval(0.0, 0.0, 0.0)
    sealed = chemistry is not Chemistry.FLOODED
    amps = gassing_a(volts, temp_c, capacity_ah=capacity_ah, sealed=sealed)
    new = float(hydrogen_l(amps, temp_c=temp_c))
    return Interval(new, new, AGED_FACTOR * new)
