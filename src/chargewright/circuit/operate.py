"""Finds the voltage at which alternator, regulator, loads and battery agree.

The battery's slow over-voltage follows its mean current, the regulator cuts charging for the
share of time that holds its set point, and both shift the voltage against which the alternator
works. One unknown carries it all: the battery's internal voltage ``e`` (open-circuit voltage
plus settled over-voltage). The regulator alternates between charging and cutting over times
long against a period and short against the battery, so its state is a share of time ``cut``.

The voltage moves after every period, together with the winding currents, until both stand
still. It goes no higher than where the set point is held; if the alternator can deliver more
than is needed there, the regulator's share of time follows at once. Only where the regulator
cannot cut enough does the voltage rise beyond.
"""

from __future__ import annotations

import math

from chargewright.circuit.compiled import compiled
from chargewright.circuit.conduction import CHARGE, CUT_SERIES, CUT_SHUNT, LEGS
from chargewright.circuit.direct_current import at_setpoint, law_gap, paths, settled_e, storing_ends
from chargewright.circuit.first_guess import mean_output
from chargewright.circuit.mixing import END, PER_VOLT_A, START, VOLTAGE, mix
from chargewright.circuit.network import (
    CUT_MAX,
    CUT_MIN,
    FRAME_NODE,
    OMEGA,
    assemble,
    drive_rows,
    eliminate,
    node_row,
)
from chargewright.circuit.period import (
    BEGAN,
    BRANCHES,
    FRAME,
    MARCHED,
    MIXING,
    MODE,
    OUTPUT_A,
    PATIENCE,
    REST,
    SCRATCH,
    STILL,
    WIDER,
    begin,
    fill_emf,
    one_period,
    unsettled,
)
from chargewright.machine.parameters import Array

AGREE_V = 0.002  # accepted disagreement of the battery's internal voltage
CLOSE_V = 1e-4  # so near its ceiling it counts as at it: an open lead's nanoamperes move it less
MOST_ROUNDS = 90
NO_CEILING_V = 1e9
LOST, SETTLED, HELD = 0, 1, 2  # outcomes of ``settle``

# The small result of one machine
E_V, CUT, SOURCE_V, PLUS_OHM, BATTERY_PATH_OHM, LOAD_PATH_S, CONVERGED, PERIODS = range(8)
RESULTS = 8


@compiled
def first_voltage(
    op: Array,
    ends: tuple[float, float],
    kind: int,
    battery: float,
    load: float,
    rp: float,
    e: float,
    need: float,
) -> tuple[float, float]:
    """Return (internal voltage to begin with, fall of the output per volt of the source).

    ``e`` is the voltage where the set point is held and ``need`` the output that takes.
    """
    divide = 1.0 + load * battery
    slope = 0.0
    for _ in range(2):
        output = mean_output(op, kind, e / divide, rp)
        slope = 5.0 * (mean_output(op, kind, e / divide - 0.2, rp) - output)
        if output > need:
            break
        e = settled_e(op, ends, battery, load, e, output, slope)
    return e, slope


@compiled
def advance(scratch: Array, charges: bool, cuts: bool, e: float, then: float) -> float:
    """Let mixing choose the next start of the modes in use, and return its internal voltage.

    The period that ended was marched at ``e``; its output asks for ``then``.
    """
    m = scratch[MIXING:BRANCHES]
    for mode, used in enumerate((charges, cuts)):
        space = scratch[mode * MODE : (mode + 1) * MODE]
        for b in range(4):
            m[START + 4 * mode + b] = space[BEGAN + b] if used else 0.0
            m[END + 4 * mode + b] = space[LEGS + b] if used else 0.0
    m[START + VOLTAGE] = PER_VOLT_A * e
    m[END + VOLTAGE] = PER_VOLT_A * then
    mix(m)
    for mode, used in enumerate((charges, cuts)):
        if used:
            space = scratch[mode * MODE : (mode + 1) * MODE]
            for b in range(4):
                space[LEGS + b] = m[END + 4 * mode + b]
    return m[END + VOLTAGE] / PER_VOLT_A  # type: ignore[no-any-return]


@compiled
def settle(
    op: Array,
    ends: tuple[float, float],
    emf: Array,
    scratch: Array,
    samples: Array,
    cut: float,
    e: float,
    slope: float,
    ceiling: float,
    need: float,
    battery: float,
    load: float,
    rp: float,
) -> tuple[float, int]:
    """March with a fixed share ``cut`` until voltage and currents stand still.

    Start at ``e`` and stay at or below ``ceiling``, where the output is enough beyond ``need``;
    ``slope`` is the output's fall per volt as guessed. Return (voltage, outcome).
    """
    divide = 1.0 + load * battery
    charging = scratch[0:MODE]
    cutting = scratch[MODE:FRAME]
    charges, cuts = cut < 1.0, cut > 0.0
    scratch[MIXING:BRANCHES] = 0.0  # of the machine before, whatever became of it
    for _ in range(MOST_ROUNDS):
        still = True
        output = 0.0
        if charges:
            one_period(emf, scratch, 0, samples, e / divide, rp)
            still = charging[STILL] > 0.0
            output += (1.0 - cut) * charging[OUTPUT_A]
        if cuts:
            one_period(emf, scratch, 1, samples, e / divide, rp)
            still = still and cutting[STILL] > 0.0
            output += cut * cutting[OUTPUT_A]
        at_ceiling = e >= ceiling - CLOSE_V and output > need
        if still and at_ceiling:
            return e, HELD
        # Where a junction turns on a time step's edge the output jumps with the voltage.
        patient = max(charging[MARCHED], cutting[MARCHED]) >= PATIENCE
        agree = WIDER * AGREE_V if patient else AGREE_V
        if still and abs(law_gap(op, ends, e, (output - load * e) / divide)) < agree:
            return e, SETTLED
        then = ceiling
        if not at_ceiling:
            then = min(settled_e(op, ends, battery, load, e, output, slope), ceiling)
        chosen = advance(scratch, charges, cuts, e, then)
        e = ceiling if then >= ceiling else min(chosen, ceiling)
    return e, LOST


@compiled
def operate(
    op: Array,
    kind: int,
    series: bool,
    to_battery: bool,
    by_lead: bool,
    cosines: Array,
    y: Array,
    emf: Array,
    scratch: Array,
    samples: Array,
    result: Array,
) -> None:
    """Solve one machine. ``samples`` (2, SAMPLE_ROWS, ...) receives charging and cutting.

    ``result`` (RESULTS,) receives internal voltage, share of time cut, source voltage and
    resistances of the direct-current side, whether all converged, and periods marched.
    """
    steps = cosines.shape[1]
    battery, load, rp = paths(op, to_battery)
    divide = 1.0 + load * battery
    part = scratch[BRANCHES:SCRATCH]
    assemble(op, kind, 2.0 * math.pi / (op[OMEGA] * steps), rp, y, part)
    eliminate(y)
    drive_rows(op, kind, y, part)
    node_row(y, FRAME_NODE, scratch[FRAME:REST])
    fill_emf(op, part, cosines, emf)
    scratch[REST] = unsettled(op, kind)
    charging = scratch[0:MODE]
    cutting = scratch[MODE:FRAME]
    charging[MARCHED] = 0.0
    cutting[MARCHED] = 0.0
    least = op[CUT_MIN]
    most = max(op[CUT_MAX], least)
    cut_mode = CUT_SERIES if series else CUT_SHUNT

    ends = storing_ends(op)
    held_e, need = at_setpoint(op, ends, to_battery, by_lead, battery, load)
    ceiling = held_e if most > least else NO_CEILING_V
    e, slope = first_voltage(op, ends, kind, battery, load, rp, held_e, need)
    begin(op, kind, CHARGE, e / divide, rp, charging)
    if least > 0.0:
        begin(op, kind, cut_mode, e / divide, rp, cutting)
    cut = least
    e, outcome = settle(
        op, ends, emf, scratch, samples, cut, e, slope, ceiling, need, battery, load, rp
    )
    if outcome == HELD:
        if least == 0.0:
            begin(op, kind, cut_mode, e / divide, rp, cutting)
            cutting[STILL] = 0.0
            scratch[MIXING:BRANCHES] = 0.0
            while cutting[STILL] == 0.0 and cutting[MARCHED] < MOST_ROUNDS:
                one_period(emf, scratch, 1, samples, e / divide, rp)
                if cutting[STILL] == 0.0:
                    advance(scratch, False, True, e, e)
        surplus = charging[OUTPUT_A] - cutting[OUTPUT_A]
        cut = max((charging[OUTPUT_A] - need) / max(surplus, 1e-9), least)
        outcome = SETTLED if cutting[STILL] > 0.0 else LOST
        if cut > most:
            cut = most
            e, outcome = settle(
                op,
                ends,
                emf,
                scratch,
                samples,
                cut,
                e,
                slope,
                NO_CEILING_V,
                need,
                battery,
                load,
                rp,
            )
    result[E_V] = e
    result[CUT] = cut
    result[SOURCE_V] = e / divide
    result[PLUS_OHM] = rp
    result[BATTERY_PATH_OHM] = battery
    result[LOAD_PATH_S] = load
    result[CONVERGED] = 1.0 if outcome == SETTLED else 0.0
    result[PERIODS] = charging[MARCHED] + cutting[MARCHED]
