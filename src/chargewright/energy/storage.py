"""A machine put away: how many days until half, until it will not start, until it may freeze."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from chargewright.energy.acid import soc_freezing_at
from chargewright.energy.cranking import Starter, class_crank_a, least_soc
from chargewright.energy.interval import Interval, point
from chargewright.energy.self_discharge import (
    LONGEST_DAYS,
    PLATE_OF,
    Plate,
    lost_interval,
    lost_per_day,
)
from chargewright.errors import InputError
from chargewright.machine.battery_spec import BatterySpec
from chargewright.machine.layout import Chemistry

LITHIUM_TRUE_SHARE = Interval(1.0 / 3.0, 0.55, 1.0)  # true Ah over a label's (forum; assumed)
LABEL_SHARE = Interval(0.75, 0.97, 1.05)  # true Ah over a lead label's, sound but aged (assumed)
RECHARGE_SOC = 0.70  # 12.4 V flooded: recharge before sulphation sets in (common practice)
USUAL_AH = 10.0
CCA_PER_AH = 17.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """A machine standing. ``temp_c`` mean [C], ``coldest_c`` on the coldest night, ``drain_ma``.

    ``disconnected`` takes the drain away. ``class_id`` decides the engine's demand.
    """

    label: BatterySpec = field(default_factory=BatterySpec)
    class_id: str = "sport-600-1000"
    plate: Plate | None = None
    soc: float = 1.0
    drain_ma: float = 1.0
    temp_c: float = 15.0
    coldest_c: float | None = None
    disconnected: bool = False

    def __post_init__(self) -> None:
        if not 0.0 < self.soc <= 1.0:
            raise InputError(f"soc = {self.soc:g}: expected above 0 up to 1")
        if not 0.0 <= self.drain_ma <= 20_000.0:
            raise InputError(f"drain_ma = {self.drain_ma:g} mA: expected 0 to 20000 mA")


@dataclass(frozen=True, slots=True, kw_only=True)
class Storage:
    """Days from now; ``math.inf`` where it never comes. ``steps`` what to do about it.

    ``to_half`` half of the present charge gone; ``to_no_start`` on the coldest morning;
    ``to_freezing`` charge at which the coldest night freezes the acid.
    """

    to_half: Interval
    to_no_start: Interval
    to_freezing: Interval
    recharge_every: float
    drain_share: float
    steps: tuple[str, ...]


def days_to_lose(
    share: float, capacity_ah: float, *, drain_ma: float, lost_per_day_share: float
) -> float:
    """Return the days until ``share`` of the capacity is gone: f C/(0.024 I + s C).

    >>> round(days_to_lose(0.5, 10.0, drain_ma=1.5, lost_per_day_share=1 / 600), 1)
    94.9
    """
    per_day_ah = 0.024 * drain_ma + lost_per_day_share * capacity_ah
    if share <= 0.0:
        return 0.0
    return share * capacity_ah / per_day_ah if per_day_ah > 0.0 else math.inf


def plan_storage(stored: Stored) -> Storage:
    """Return how long this machine can stand, and what to do."""
    chemistry = stored.label.chemistry or Chemistry.AGM
    plate = stored.plate or PLATE_OF[chemistry]
    capacity_ah = _capacity(stored.label, chemistry)
    drain_ma = 0.0 if stored.disconnected else stored.drain_ma
    coldest_c = stored.temp_c if stored.coldest_c is None else stored.coldest_c
    lost = lost_interval(plate, stored.temp_c)
    own = float(lost_per_day(plate, stored.temp_c)) * capacity_ah.best

    def days(share: float) -> Interval:
        return Interval(
            *(
                days_to_lose(share, ah, drain_ma=drain_ma, lost_per_day_share=rate)
                for ah, rate in (
                    (capacity_ah.low, lost.high),
                    (capacity_ah.best, lost.best),
                    (capacity_ah.high, lost.low),
                )
            )
        )

    no_start = least_soc(_starter(stored, chemistry), coldest_c)
    freezing = soc_freezing_at(chemistry, coldest_c)
    every = min(days(max(stored.soc - RECHARGE_SOC, 0.05)).best, LONGEST_DAYS[plate])
    never = point(math.inf)
    to_freezing = days(stored.soc - freezing) if freezing > 0.0 else never
    to_no_start = days(stored.soc - no_start)
    return Storage(
        to_half=days(0.5 * stored.soc),
        to_no_start=to_no_start,
        to_freezing=to_freezing,
        recharge_every=every,
        drain_share=0.024 * drain_ma / (0.024 * drain_ma + own),
        steps=_steps(stored, chemistry, every=every, drain_ma=drain_ma, own_ah=own),
    )


def _capacity(label: BatterySpec, chemistry: Chemistry) -> Interval:
    """Return true ampere-hours: a lithium label may print lead-equivalent ones."""
    share = LITHIUM_TRUE_SHARE if chemistry is Chemistry.LIFEPO4 else LABEL_SHARE
    return share.scaled(label.capacity_ah or USUAL_AH)


def _starter(stored: Stored, chemistry: Chemistry) -> Starter:
    cca_a = stored.label.cca_a or CCA_PER_AH * (stored.label.capacity_ah or USUAL_AH)
    volts = 2.0 if chemistry is Chemistry.LIFEPO4 else 3.0  # as machine/battery_spec.py
    return Starter(
        chemistry=chemistry, battery_ohm=volts / cca_a, crank_a=class_crank_a(stored.class_id)
    )


def _steps(
    stored: Stored, chemistry: Chemistry, *, every: float, drain_ma: float, own_ah: float
) -> tuple[str, ...]:
    steps = []
    if chemistry is Chemistry.LIFEPO4:
        steps.append("store it at about half charge, disconnected; charge only above 0 C")
    else:
        steps.append("charge it full before it stands")
    if 0.024 * drain_ma > own_ah:
        steps.append(
            f"the {drain_ma:g} mA drain takes more than its own loss: take the negative lead off"
        )
    steps.append(f"charge again after {every:.0f} days")
    if chemistry is not Chemistry.LIFEPO4:
        steps.append("or leave it on a maintainer made for its chemistry")
    if stored.temp_c > 30.0:
        steps.append("keep it cooler: every 10 K halve its life")
    return tuple(steps)


def life_share(temp_c: float, *, halving_k: float = 10.0) -> float:
    """Return battery life at ``temp_c`` [C] over that at 25 C, halving every ``halving_k`` K.

    >>> life_share(35.0), life_share(45.0)
    (0.5, 0.25)
    """
    return float(2.0 ** ((25.0 - temp_c) / halving_k))
