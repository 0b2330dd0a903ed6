"""Days of riding and standing: will it start on Friday, in January?

A thousand scattered machines of one class ride the same commute through their own weather. Each
start takes its charge, each ride gives or takes some, each night the drain and the battery's
own loss go on; a machine that cannot crank stands from then on.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.battery import battery_of
from chargewright.energy.cranking import START_U_V, START_V, demand_a, start_ah
from chargewright.energy.interval import Interval, of_samples
from chargewright.energy.output import drawn_machines, table_speeds
from chargewright.energy.riding import STORING, Rider, ride_current, rider
from chargewright.energy.self_discharge import PLATE_OF, lost_per_day
from chargewright.energy.trace import RpmShares
from chargewright.errors import InputError
from chargewright.machine.layout import CHEMISTRIES
from chargewright.machine.model import Machine
from chargewright.machine.parameters import INDEX, Array, column
from chargewright.machine.points import State

SUBSTEPS = 2  # pieces a ride is cut into; the charge moves little within one
WEATHER_MEMORY = 0.7  # of one day's deviation from the mean left the next day (assumed)
WEEKDAYS = (True, True, True, True, True, False, False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """How a machine is used. Day 0 is a Monday; ``rides`` at equal distance on riding days.

    ``mean_c``, ``spread_c`` morning temperature [C] and its standard deviation from day to day;
    ``extra_a`` mean accessory current [A]; ``drain_ma`` replaces the class's key-off current;
    ``load_a`` replaces the class's loads by one mean current [A] at 13.5 V.
    """

    days: int = 30
    rides: int = 2
    riding_days: tuple[bool, ...] = WEEKDAYS
    mean_c: float = 15.0
    spread_c: float = 4.0
    lights_on: bool = True
    extra_a: float = 0.0
    drain_ma: float | None = None
    load_a: float | None = None
    start_soc: float | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.days <= 400 or not 1 <= self.rides <= 12:
            raise InputError(
                f"{self.days} days with {self.rides} rides each: expected 1 to 400 and 1 to 12"
            )
        if len(self.riding_days) != 7:
            raise InputError(f"{len(self.riding_days)} riding days: expected seven, Monday first")
        if self.start_soc is not None and not 0.0 < self.start_soc <= 1.0:
            raise InputError(f"start_soc = {self.start_soc:g}: expected above 0 up to 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Commute:
    """What happened: ``soc`` (days + 1, n) each morning before the start and at the end.

    ``started`` (days, n) whether each machine was (still) able to start; days without a ride
    repeat what the morning would have given. ``ride_ah`` (n,) mean gain of one ride. ``unfit``
    share of the machines drawn that would not start in this weather with a full battery: they
    need a bigger battery, not a balance, and are left out.
    """

    soc: Array
    started: NDArray[np.bool_]
    ride_ah: Array
    duration_s: float
    unfit: float
    riding_days: tuple[bool, ...] = field(default=WEEKDAYS)

    def chance_of_start(self, day: int) -> float:
        """Return the share of machines that start on the morning of ``day`` (0 = Monday)."""
        if not 0 <= day < self.started.shape[0]:
            raise InputError(f"day {day}: expected 0 to {self.started.shape[0] - 1}")
        return float(self.started[day].mean())

    def soc_on(self, day: int) -> Interval:
        """Return the state of charge over the machines on the morning of ``day``."""
        return of_samples(self.soc[day])


def simulate(
    machine: Machine, shares: RpmShares, habit: Habit, *, units: int = 1000, seed: int = 1
) -> Commute:
    """Return days of commuting of ``units`` machines drawn from class and spec sheet."""
    rng = np.random.default_rng(seed)
    start_v = START_V + START_U_V * rng.standard_normal(units)
    drawn = _prepared(drawn_machines(machine, units, seed), habit)
    fit = _fit(drawn, start_v, habit)
    params, start_v = drawn[fit], start_v[fit]
    fixed = rider(
        machine.layout, params, shares, table_speeds(machine), lights_on=_lights(machine, habit)
    )
    weather = _weather(habit, params.shape[0], rng)
    done = _days(params, fixed, shares, habit, start_v=start_v, weather=weather)
    return replace(done, unfit=1.0 - float(fit.mean()))


def _fit(params: Array, start_v: Array, habit: Habit) -> NDArray[np.bool_]:
    """Tell which machines start full at the mean temperature; ``InputError`` if none does."""
    full = params.copy()
    full[:, INDEX["soc"]] = column(params, "charged_soc")
    full[:, INDEX["ambient_c"]] = habit.mean_c
    fit = can_start(full, start_v)
    if not fit.any():
        raise InputError(
            f"mean_c = {habit.mean_c:g} C: no machine of this class starts there even with a full"
            " battery; expected a warmer place or a larger battery"
        )
    return fit


def _lights(machine: Machine, habit: Habit) -> bool:
    return (habit.lights_on or machine.lights_always_on) and habit.load_a is None


def _prepared(params: Array, habit: Habit) -> Array:
    params[:, INDEX["accessory_load_a"]] += habit.extra_a
    if habit.load_a is not None:
        params[:, INDEX["running_load_a"]] = habit.load_a
    if habit.drain_ma is not None:
        params[:, INDEX["drain_a"]] = habit.drain_ma / 1000.0
    if habit.start_soc is not None:
        params[:, INDEX["soc"]] = habit.start_soc
    return params


def _weather(habit: Habit, units: int, rng: np.random.Generator) -> Array:
    """Return morning temperatures (days, n) [C], each machine under its own sky."""
    fresh = rng.standard_normal((habit.days, units))
    deviation = np.empty_like(fresh)
    deviation[0] = fresh[0]
    for day in range(1, habit.days):
        new = np.sqrt(1.0 - WEATHER_MEMORY**2) * fresh[day]
        deviation[day] = WEATHER_MEMORY * deviation[day - 1] + new
    return habit.mean_c + habit.spread_c * deviation


def _days(
    params: Array,
    fixed: Rider,
    shares: RpmShares,
    habit: Habit,
    *,
    start_v: Array,
    weather: Array,
) -> Commute:
    units = params.shape[0]
    alive = np.ones(units, dtype=np.bool_)
    soc_rows, started, gain = [], [], np.zeros(units)
    rides = 0
    pause_h = (24.0 - habit.rides * shares.duration_s / 3600.0) / habit.rides
    if pause_h < 0.0:
        raise InputError(f"{habit.rides} rides of {shares.duration_s:.0f} s do not fit in a day")
    for day in range(habit.days):
        params[:, INDEX["ambient_c"]] = weather[day]
        soc_rows.append(column(params, "soc").copy())
        ready = alive & can_start(params, start_v)
        started.append(ready)
        if not habit.riding_days[day % 7]:
            stand(params, 24.0)
            continue
        alive = ready
        for ride in range(habit.rides):
            goes = alive if ride == 0 else alive & can_start(params, start_v)
            alive = goes
            gain += go(params, fixed, goes)
            rides += 1
            stand(params, pause_h)
    soc_rows.append(column(params, "soc").copy())
    return Commute(
        soc=np.array(soc_rows),
        started=np.array(started),
        ride_ah=gain / max(rides, 1),
        duration_s=shares.duration_s,
        unfit=0.0,
        riding_days=habit.riding_days,
    )


def can_start(params: Array, start_v: Array) -> NDArray[np.bool_]:
    """Tell which machines of a batch (n, COUNT) crank at ``start_v`` (n,) [V] or more."""
    battery = battery_of(params, State())
    amps = demand_a(column(params, "crank_a"), column(params, "ambient_c"))
    return np.asarray(battery.short_emf_v - amps * battery.short_ohm >= start_v)


def go(params: Array, fixed: Rider, goes: NDArray[np.bool_]) -> Array:
    """Start and ride once, changing the charge in place; return ampere-hours gained (n,)."""
    capacity = column(params, "capacity_ah")
    before = column(params, "soc").copy()
    taken_ah = start_ah(column(params, "crank_a"), column(params, "ambient_c"))
    _add(params, -np.where(goes, taken_ah, 0.0))
    for _ in range(SUBSTEPS):
        riding = ride_current(fixed, params)
        kept = np.where(riding.stored_a > 0.0, STORING * riding.stored_a, riding.stored_a)
        ah = kept @ fixed.seconds / 3600.0 / SUBSTEPS
        _add(params, np.where(goes, ah, 0.0))
    return np.asarray((column(params, "soc") - before) * capacity)


def stand(params: Array, hours: float) -> None:
    """Let drain and self-discharge go on for ``hours``, in place."""
    lost = np.zeros(params.shape[0])
    for index, chemistry in enumerate(CHEMISTRIES):
        rate = lost_per_day(PLATE_OF[chemistry], column(params, "ambient_c"))
        lost = np.where(column(params, "chemistry") == index, rate, lost)
    drained = column(params, "drain_a") * hours
    _add(params, -(drained + lost * column(params, "capacity_ah") * hours / 24.0))


def _add(params: Array, ah: Array) -> None:
    soc = column(params, "soc") + ah / column(params, "capacity_ah")
    params[:, INDEX["soc"]] = np.clip(soc, 0.0, 1.0)
