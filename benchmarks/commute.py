"""Thirty days of commuting of a thousand scattered machines: how long it takes.

Run from the root of the repository: ``python -m benchmarks.commute``. The ride is part 1 of the
two-wheeler test cycle (600 s, 4.07 km), twice on each working day, drawn afresh per machine.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from chargewright.energy.commute import Habit, simulate
from chargewright.energy.trace import Gearing, read_trace, rpm_shares
from chargewright.machine.conditioning import load_class

TRACE = Path(__file__).resolve().parents[1] / "tests" / "data" / "wmtc-two-wheeler.csv"
MOST_S = 10.0
UNITS, DAYS = 1000, 30


def main() -> int:
    """Print seconds for three winters and the chance of a start; fail above ten seconds."""
    machine = load_class("sport-600-1000")
    time_s, speed_kmh, _ = read_trace(TRACE, column="Motorcycle >35kW")
    shares = rpm_shares(time_s[:600], Gearing().rpm(speed_kmh[:600]))
    simulate(machine, shares, Habit(days=1), units=20)  # compile, or load what was compiled
    slowest = 0.0
    for mean_c, extra_a in ((15.0, 0.0), (2.0, 0.0), (2.0, 6.0)):
        started = time.perf_counter()
        done = simulate(
            machine, shares, Habit(days=DAYS, mean_c=mean_c, extra_a=extra_a), units=UNITS
        )
        seconds = time.perf_counter() - started
        slowest = max(slowest, seconds)
        fridays = ", ".join(f"{done.chance_of_start(day):.3f}" for day in (4, 11, 18, 25))
        print(
            f"{mean_c:5.1f} C, {extra_a:.0f} A of accessories: {seconds:.2f} s,"
            f" {UNITS} machines;"
            f" starts on Fridays {fridays}; charge on day {DAYS}"
            f" {done.soc_on(DAYS - 1).best:.2f}"
        )
    print(f"slowest {slowest:.2f} s, allowed {MOST_S:g} s")
    return 0 if slowest <= MOST_S else 1


if __name__ == "__main__":
    sys.exit(main())
