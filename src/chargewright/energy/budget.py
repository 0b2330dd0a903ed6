"""Load budget: does the alternator carry the loads, from which speed, and with what to spare?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from chargewright.energy.interval import Interval, of_samples
from chargewright.energy.loads import RATED_V, Load, mean_amps
from chargewright.energy.output import (
    UNITS,
    Measured,
    OutputTable,
    drawn_machines,
    output_interval,
    output_table,
    table_speeds,
    weights_after,
)
from chargewright.errors import InputError
from chargewright.machine.model import Machine
from chargewright.machine.parameters import Array

SPARE_SHARE = 0.15  # of the load kept for charging the battery after a start (assumed)
_SPEED_STEPS = 160


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """Output, load and what is left for the battery at one speed, all in amperes at 13.5 V.

    ``negative`` chance that the battery is being emptied.
    """

    rpm: float
    available_a: Interval
    load_a: float
    spare_a: Interval
    negative: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The balance of a machine. ``break_even_rpm`` is infinite at an end that never breaks even.

    ``headroom_a`` what an accessory may draw on average at cruise with a charge left over;
    ``idle_share_limit`` greatest share of time at idle for which the battery holds its own.
    """

    idle: Balance
    cruise: Balance
    break_even_rpm: Interval
    headroom_a: Interval
    idle_share_limit: Interval
    notes: tuple[str, ...]


def load_budget(
    machine: Machine,
    loads: tuple[Load, ...],
    *,
    cruise_rpm: float | None = None,
    idle_rpm: float | None = None,
    measured: Sequence[Measured] = (),
    units: int = UNITS,
    seed: int = 1,
) -> Budget:
    """Return the balance at idle and cruise of a machine, hot, with these loads.

    The interval is over machines that class and spec sheet allow, narrowed by ``measured``.
    """
    cruise = machine.speeds.high_rpm if cruise_rpm is None else cruise_rpm
    idle = machine.speeds.idle_rpm if idle_rpm is None else idle_rpm
    if not 0.3 * machine.speeds.idle_rpm <= idle < cruise <= 20000.0:
        raise InputError(
            f"idle {idle:g} and cruise {cruise:g} rpm: expected idle from"
            f" {0.3 * machine.speeds.idle_rpm:g} rpm, below cruise, up to 20000 rpm"
        )
    params = drawn_machines(machine, units, seed)
    table = output_table(machine.layout, params, table_speeds(machine))
    weight = weights_after(table, measured)
    load_a = mean_amps(loads)
    at_idle = balance(table, weight, idle, load_a)
    at_cruise = balance(table, weight, cruise, load_a)
    even = break_even_rpm(table, load_a)
    spare_idle = table.at(idle, RATED_V)[:, 0] - load_a
    spare_cruise = table.at(cruise, RATED_V)[:, 0] - load_a
    return Budget(
        idle=at_idle,
        cruise=at_cruise,
        break_even_rpm=_with_never(even, weight),
        headroom_a=of_samples(spare_cruise - SPARE_SHARE * load_a, weight),
        idle_share_limit=of_samples(_idle_share(spare_idle, spare_cruise), weight),
        notes=_notes(at_idle, at_cruise),
    )


def balance(table: OutputTable, weight: Array, rpm: float, load_a: float) -> Balance:
    """Return the balance of the drawn machines at one speed [rpm] and mean load [A]."""
    available = output_interval(table, weight, rpm, RATED_V)
    spare = table.at(rpm, RATED_V)[:, 0] - load_a
    return Balance(
        rpm=rpm,
        available_a=available,
        load_a=load_a,
        spare_a=of_samples(spare, weight),
        negative=float(weight[spare < 0.0].sum()),
    )


def break_even_rpm(table: OutputTable, load_a: float) -> Array:
    """Return the speed (n,) [rpm] from which each machine carries ``load_a``; inf for never."""
    rpm = np.geomspace(table.rpm[0], table.rpm[-1], _SPEED_STEPS)
    enough = table.at(rpm, RATED_V) >= load_a
    first = np.argmax(enough, axis=1)
    return np.where(enough.any(axis=1), rpm[first], np.inf)


def _with_never(even: Array, weight: Array) -> Interval:
    """Return the interval of break-even speeds where some machines have none."""
    ceiling = 1e9
    found = of_samples(np.minimum(even, ceiling), weight)
    low, best, high = (
        float("inf") if end > 1e6 else end for end in (found.low, found.best, found.high)
    )
    return Interval(low, best, high)


def _idle_share(spare_idle: Array, spare_cruise: Array) -> Array:
    """Return the share of time at idle (n,) at which charge gained and lost are equal."""
    gain, loss = np.maximum(spare_cruise, 0.0), np.maximum(-spare_idle, 0.0)
    return np.where(loss == 0.0, 1.0, gain / np.maximum(gain + loss, 1e-9))


def _notes(idle: Balance, cruise: Balance) -> tuple[str, ...]:
    notes = []
    if cruise.negative > 0.5:
        notes.append("the loads exceed what the alternator gives even at cruise: shed some")
    elif cruise.negative > 0.05:
        notes.append("close at cruise: measure the output at this speed to be sure")
    if idle.negative > 0.5:
        notes.append("at idle the battery pays: raise the idle, or shed loads in traffic")
    if cruise.spare_a.low > 0.0:
        notes.append("what is left over charges the battery or is turned to heat")
    return tuple(notes)
