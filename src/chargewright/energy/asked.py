"""The seven energy questions as they are asked from outside: names and units of the commands.

Each question is a frozen object of plain fields; ``answer`` returns JSON-ready data. What a field
left out means stands here once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from chargewright.energy.budget import load_budget
from chargewright.energy.charge_plan import ChargeJob, plan_charge
from chargewright.energy.charge_state import Rested, charge_from_gravity, charge_from_volts
from chargewright.energy.choice import Need, lithium_fit
from chargewright.energy.choice import choose_battery as choose
from chargewright.energy.commute import Habit, simulate
from chargewright.energy.drain import Branch, drain_limit, judge_drain, search_plan
from chargewright.energy.evidence import (
    CapacityTest,
    Cranking,
    Evidence,
    LoadTest,
    Resistance,
    ShownCca,
)
from chargewright.energy.health import judge_battery
from chargewright.energy.heating import heat_of
from chargewright.energy.interval import Interval
from chargewright.energy.loads import loads_from_dicts, usual_loads
from chargewright.energy.output import Measured
from chargewright.energy.storage import Stored, plan_storage
from chargewright.energy.suspects import Circumstances
from chargewright.energy.trace import Gearing, rpm_shares
from chargewright.energy.wire import choose_wire
from chargewright.energy.words import plain
from chargewright.errors import InputError, nearest
from chargewright.machine.battery_spec import BatterySpec, CcaStandard
from chargewright.machine.conditioning import load_class
from chargewright.machine.layout import Chemistry
from chargewright.machine.points import Function
from chargewright.machine.spec import Range
from chargewright.meters.load import load_meter
from chargewright.meters.verdict import range_u

USUAL_CLASS = "sport-600-1000"
Json = dict[str, Any]
CONFIG: Mapping[str, Any] = {"extra": "forbid", "allow_inf_nan": False}
MOST_SAMPLES = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What is printed on the battery; ``age`` in years."""

    __pydantic_config__: ClassVar = CONFIG
    chemistry: str | None = None
    ah: float | None = None
    cca: float | None = None
    standard: str = "sae"
    age: float | None = None

    def spec(self) -> BatterySpec:
        """Return the label as the library has it; ``InputError`` names what is wrong."""
        fields = {
            "chemistry": self.chemistry,
            "capacity_ah": self.ah,
            "cca_a": self.cca,
            "cca_standard": self.standard,
            "age_years": self.age,
        }
        return BatterySpec.from_dict({k: v for k, v in fields.items() if v is not None}, "battery")


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery(Label):
    """Is this battery good, flat or done?"""

    rested: float | None = None
    rest_hours: float | None = None
    gravity: tuple[float, ...] = ()
    meter: str | None = None
    temp: float | None = None
    charged: bool = False
    load_test: tuple[float, float] | None = None
    cranking: float | None = None
    cranking_a: float | None = None
    milliohm: float | None = None
    shown_cca: float | None = None
    gave_ah: float | None = None

    def answer(self) -> Json:
        """Return ``charge`` and ``health``."""
        label = self.spec()
        at_rest = charge = None
        if self.rested is not None:
            card = load_meter() if self.meter is None else load_meter(self.meter)
            at_rest = Rested(
                volts=self.rested,
                chemistry=label.chemistry,
                temp_c=self.temp,
                rest_h=self.rest_hours,
                volts_u=range_u(card, Function.DC_V, self.rested),
            )
            charge = charge_from_volts(at_rest)
        if self.gravity:
            charge = charge_from_gravity(self.gravity, self.temp, chemistry=label.chemistry)
        health = judge_battery(
            self.evidence(),
            Circumstances(label=label, temp_c=self.temp, rested=at_rest, charged=self.charged),
        )
        return {"charge": plain(charge), "health": plain(health)}

    def evidence(self) -> list[Evidence]:
        """Return the tests that were made."""
        found: list[Evidence] = []
        if self.load_test is not None:
            found.append(LoadTest(volts=self.load_test[0], amps=self.load_test[1]))
        if self.cranking is not None:
            found.append(Cranking(volts=self.cranking, amps=self.cranking_a))
        if self.milliohm is not None:
            ohm = self.milliohm / 1000.0
            found.append(Resistance(ohm=ohm, ohm_u=max(0.05 * ohm, 0.2e-3)))
        if self.shown_cca is not None:
            found.append(ShownCca(shown_a=self.shown_cca, standard=CcaStandard(self.standard)))
        if self.gave_ah is not None:
            found.append(CapacityTest(ah=self.gave_ah))
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge(Label):
    """How to charge a battery, and when not to."""

    rested: float | None = None
    temp: float = 20.0
    charger_a: float | None = None
    charger_v: float | None = None
    swollen: bool = False
    leaking: bool = False

    def answer(self) -> Json:
        """Return the plan of the charge."""
        label = self.spec()
        soc = Interval(0.0, 0.4, 1.0)
        if self.rested is not None:
            rested = Rested(volts=self.rested, chemistry=label.chemistry, temp_c=self.temp)
            soc = charge_from_volts(rested).soc or Interval(0.0, 0.02, 0.2)
        job = ChargeJob(
            label=label,
            soc=soc,
            temp_c=self.temp,
            rested_v=self.rested,
            charger_a=self.charger_a,
            charger_v=self.charger_v,
            swollen=self.swollen,
            leaking=self.leaking,
        )
        return _object(plan_charge(job))


@dataclass(frozen=True, slots=True, kw_only=True)
class Storage(Label):
    """How long it can stand."""

    machine: str = USUAL_CLASS
    soc: float = 1.0
    drain_ma: float = 1.0
    temp: float = 15.0
    coldest: float | None = None
    disconnected: bool = False

    def answer(self) -> Json:
        """Return the plan of the stand."""
        stored = Stored(
            label=self.spec(),
            class_id=self.machine,
            soc=self.soc,
            drain_ma=self.drain_ma,
            temp_c=self.temp,
            coldest_c=self.coldest,
            disconnected=self.disconnected,
        )
        return _object(plan_storage(stored))


@dataclass(frozen=True, slots=True, kw_only=True)
class Drain:
    """Judge a key-off current and plan the fuse search. A fuse is ``name=share``."""

    __pydantic_config__: ClassVar = CONFIG
    shown_ma: float
    machine: str = USUAL_CLASS
    meter_u: float = 0.05
    burden: float = 2.0
    fuses: tuple[str, ...] = ()

    def answer(self) -> Json:
        """Return ``verdict``, ``search`` and the limit."""
        limit_ma, source = drain_limit(load_class(self.machine))
        found = judge_drain(
            self.shown_ma,
            meter_u_ma=self.meter_u,
            burden_ohm=self.burden,
            limit_ma=limit_ma,
            limit_source=source,
        )
        split = search_plan(tuple(map(branch, self.fuses))) if self.fuses else None
        return {"verdict": plain(found), "search": plain(split)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """Does the alternator carry the loads? ``measured`` are (rpm, A, V); ``wire`` is (A, m)."""

    __pydantic_config__: ClassVar = CONFIG
    machine: str = USUAL_CLASS
    loads: tuple[dict[str, Any], ...] | None = None
    cruise: float | None = None
    measured: tuple[tuple[float, float, float], ...] = ()
    wire: tuple[float, float] | None = None

    def answer(self) -> Json:
        """Return the balance, heat and wire."""
        machine = load_class(self.machine)
        loads = usual_loads(machine) if self.loads is None else loads_from_dicts(list(self.loads))
        told = [Measured(rpm=rpm, amps=amps, volts=volts) for rpm, amps, volts in self.measured]
        found = load_budget(machine, loads, cruise_rpm=self.cruise, measured=told)
        heat = heat_of(machine, rpm=found.cruise.rpm, load_a=found.cruise.load_a)
        cable = None if self.wire is None else choose_wire(self.wire[0], self.wire[1])
        return {**plain(found), "heat": plain(heat), "wire": plain(cable)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """A recorded ride: ``rpm``, or ``speed_kmh`` through the usual gears, at ``time_s``."""

    __pydantic_config__: ClassVar = CONFIG
    time_s: tuple[float, ...]
    rpm: tuple[float, ...] | None = None
    speed_kmh: tuple[float, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ride:
    """Days of commuting: will it still start?"""

    __pydantic_config__: ClassVar = CONFIG
    samples: Samples
    machine: str = USUAL_CLASS
    days: int = 30
    rides: int = 2
    temp: float = 15.0
    extra_a: float = 0.0
    drain_ma: float | None = None
    units: int = 300

    def answer(self) -> Json:
        """Return chance of a start and charge for each day."""
        if not 10 <= self.units <= 5000:
            raise InputError(f"units {self.units}: expected 10 to 5000 machines")
        machine = load_class(self.machine)
        time_s, rpm = self._trace(machine.speeds.idle_rpm)
        shares = rpm_shares(time_s, rpm)
        habit = Habit(
            days=self.days,
            rides=self.rides,
            mean_c=self.temp,
            extra_a=self.extra_a,
            drain_ma=self.drain_ma,
        )
        done = simulate(machine, shares, habit, units=self.units)
        rows = [
            {"day": day, "starts": plain(done.chance_of_start(day)), "soc": plain(done.soc_on(day))}
            for day in range(self.days)
        ]
        return {"days": rows, "unfit": plain(done.unfit)}

    def _trace(self, idle_rpm: float) -> tuple[Any, Any]:
        one = self.samples
        if (one.rpm is None) == (one.speed_kmh is None):
            raise InputError("samples: expected rpm or speed_kmh, just one of them")
        values = np.asarray(one.rpm if one.rpm is not None else one.speed_kmh, dtype=np.float64)
        time_s = np.asarray(one.time_s, dtype=np.float64)
        most = 20000.0 if one.rpm is not None else 400.0
        if not 3 <= len(time_s) <= MOST_SAMPLES or len(time_s) != len(values):
            raise InputError(
                f"samples: {len(time_s)} times and {len(values)} speeds; expected as many of "
                f"each, 3 to {MOST_SAMPLES}"
            )
        if not np.all(np.diff(time_s) > 0.0):
            raise InputError("samples.time_s does not rise; expected rising seconds")
        if not np.all((values >= 0.0) & (values <= most)):
            raise InputError(f"samples: a speed outside 0 to {most:g}")
        if one.rpm is not None:
            return time_s, values
        return time_s, Gearing(idle_rpm=idle_rpm).rpm(values)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChooseBattery:
    """CCA and Ah a machine needs; does lithium fit? ``regulated``: ends of the charging volts."""

    __pydantic_config__: ClassVar = CONFIG
    machine: str = USUAL_CLASS
    coldest: float = 0.0
    stands: float = 14.0
    drain_ma: float = 1.0
    chemistry: str = "agm"
    regulated: tuple[float, float] | None = None

    def answer(self) -> Json:
        """Return ``choice`` and, for a lithium battery, whether it fits."""
        kinds = [one.value for one in Chemistry]
        if self.chemistry not in kinds:
            raise InputError(
                f"chemistry {self.chemistry!r} is not known; {nearest(self.chemistry, kinds)}"
            )
        need = Need(
            class_id=self.machine,
            coldest_c=self.coldest,
            stands_days=self.stands,
            drain_ma=self.drain_ma,
            chemistry=Chemistry(self.chemistry),
        )
        lithium = None
        if need.chemistry is Chemistry.LIFEPO4:
            volts = None if self.regulated is None else Range(*sorted(self.regulated))
            lithium = lithium_fit(volts, coldest_c=self.coldest)
        return {"choice": plain(choose(need)), "lithium": plain(lithium)}


Asked = Battery | Charge | Storage | Drain | Budget | Ride | ChooseBattery


def branch(text: str) -> Branch:
    """Return the suspect that ``name=share`` tells; without a share it counts 1."""
    name, _, share = text.rpartition("=")
    try:
        return Branch(name=name or text, share=float(share) if name else 1.0)
    except ValueError:
        raise InputError(f"fuse {text!r}: expected NAME=SHARE, as 'clock=0.3'") from None


def _object(value: object) -> Json:
    found: Json = plain(value)
    return found
