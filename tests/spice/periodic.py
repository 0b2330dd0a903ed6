"""Runs any netlist of a turning machine until the currents of its coils repeat."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from tests.spice.run import (
    FINE_STEPS,
    FINER,
    MOST_ROUNDS,
    REPEATS_A,
    REPEATS_REL,
    ROUNDS_PER_STEP,
    RUN_IN_LOOSENESS,
    RUN_IN_PERIODS,
    RUN_IN_STEPS,
    SimulatorError,
    Waves,
    at,
    last_period,
    simulate,
)

Lines = Callable[[Mapping[str, float]], list[str]]


def periodic(
    lines: Lines, vectors: Sequence[str], currents: Mapping[str, float], period_s: float
) -> Waves:
    """Return the last period of the steady state.

    ``lines`` makes the netlist from the coils' currents [A] at time 0, of which ``currents`` is
    the first guess; coil ``x`` is called ``L_x``.
    """
    now = dict(currents)
    saved = [*vectors, *(f"i(L_{name})" for name in now)]
    for fine in (False, True):
        periods = 3 if fine else RUN_IN_PERIODS
        step = period_s / (FINE_STEPS if fine else RUN_IN_STEPS)
        for tried in range(MOST_ROUNDS):
            if fine and tried and tried % ROUNDS_PER_STEP == 0:
                step /= FINER
            stop = periods * period_s
            first = (periods - 1.02) * period_s
            waves = simulate(lines(now), saved, stop_s=stop, from_s=first, step_s=step)
            names = {name: f"i(l_{name})" for name in now}
            ends = {name: float(waves[vector][-1]) for name, vector in names.items()}
            before = {name: at(waves, vector, stop - period_s) for name, vector in names.items()}
            peak = max(float(np.abs(waves[vector]).max()) for vector in names.values())
            now = ends
            change = max(abs(ends[name] - before[name]) for name in now)
            if change < (1.0 if fine else RUN_IN_LOOSENESS) * (REPEATS_A + REPEATS_REL * peak):
                break
        else:
            raise SimulatorError(f"no steady state, change {change:.3g} A in a period")
    return last_period(waves, period_s)
