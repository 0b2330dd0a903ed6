"""State of health: is this battery good, to be charged and tested again, or done?

Thousands of batteries are drawn: sound, high in resistance, low in capacity, with a dead cell;
at any charge and temperature that is not told. The circuit's battery says what each would show
in the tests made; Bayes' rule leaves those that fit. A flat or cold battery reads low like a
worn one, so both stay in, and the verdict says so instead of guessing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from chargewright.diagnosis.inference import posterior
from chargewright.energy.charge_state import Rested, disturbance
from chargewright.energy.evidence import Evidence, LoadTest, Suspects, heavy_tailed
from chargewright.energy.interval import Interval, of_samples, point
from chargewright.energy.suspects import (
    KINDS,
    LITHIUM_OHM_V,
    NEW_OHM_V,
    PER_KIND,
    UNKNOWN_AH,
    Circumstances,
    draw_suspects,
)
from chargewright.machine.battery_spec import BatterySpec, sae_cca_a
from chargewright.machine.layout import Chemistry
from chargewright.machine.limit_table import load_line_v
from chargewright.machine.parameters import Array, column

SURE = 0.90  # chance that decides
ENOUGH_CHARGE = 0.75  # below it no load test counts (car makers' manuals 1998-2009)
# The pass line a third make prints, where ``machine/limit_table.py`` has that of two.
THIRD_MAKE_C, THIRD_MAKE_V = (-18.0, -10.0, -1.0, 10.0, 20.0), (8.0, 8.8, 9.1, 9.4, 9.6)


class Verdict(StrEnum):
    """What to do with the battery."""

    GOOD = "good"
    CHARGE_AND_TEST_AGAIN = "charge and test again"
    REPLACE = "replace"
    CANNOT_SAY_YET = "cannot say yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """Verdict with its chances. ``kinds``: chance of each of ``KINDS``.

    ``cca_a`` what it would crank when full, SAE amperes; ``capacity_ah`` at 25 C, 10-h rate;
    ``soc`` 0..1 as it stands; ``done`` chance that it is past use; ``flat`` chance of less than
    three quarters of a charge; ``line_v`` pass line at this temperature for ``load_a``.
    """

    verdict: Verdict
    done: float
    flat: float
    kinds: tuple[tuple[str, float], ...]
    soc: Interval
    cca_a: Interval
    capacity_ah: Interval
    line_v: Interval
    load_a: Interval
    next_steps: tuple[str, ...]


def judge_battery(
    evidence: Sequence[Evidence], at: Circumstances, *, seed: int = 1, per_kind: int = PER_KIND
) -> Health:
    """Return the verdict on a battery after any tests, in any order.

    Raises ``ImpossibleReadingsError`` when no battery could show these readings together.
    """
    suspects, kind, prior = draw_suspects(at, np.random.default_rng(seed), per_kind)
    rows = [np.exp(one.log_likelihood(suspects)) for one in evidence]
    if at.rested is not None:
        rows.append(_rest_likelihood(at.rested, suspects))
    belief = posterior(prior, rows) if rows else prior / prior.sum()
    return _judge(suspects, kind, belief, evidence=evidence, at=at)


def load_amps(label: BatterySpec) -> Interval:
    """Return the load-test current [A]: half the CCA, or three times the Ah of the label.

    A fixed tester load is not scaled to the battery: 75 A is 40 % of a 10 Ah battery's CCA.
    """
    if label.cca_a is not None:
        low, usual, high = sae_cca_a(label.cca_a, label.cca_standard)
        return Interval(0.5 * low, 0.5 * usual, 0.5 * high)
    if label.capacity_ah is not None:
        return point(3.0 * label.capacity_ah)
    return point(3.0 * UNKNOWN_AH)


def pass_line(temp_c: float | None) -> Interval:
    """Return the load-test pass line [V] at the battery's temperature [C].

    Two makes' manuals agree; a third prints 8.0 V for -18 C where they print 8.5, which
    opens the low end in the cold. Unknown temperature spans 0 to 30 C.
    """
    if temp_c is None:
        return Interval(load_line_v(0.0), load_line_v(15.0), load_line_v(30.0))
    best = load_line_v(temp_c)
    other = float(np.interp(temp_c, THIRD_MAKE_C, THIRD_MAKE_V))
    return Interval(min(best, other), best, max(best, other))


def _rest_likelihood(rested: Rested, of: Suspects) -> Array:
    mean_v, faded_u = disturbance(rested)
    u = float(np.hypot(rested.volts_u, faded_u))
    z = (rested.volts - mean_v - of.battery.emf_v) / u
    return heavy_tailed(np.asarray(z))


def _judge(
    of: Suspects, kind: Array, belief: Array, *, evidence: Sequence[Evidence], at: Circumstances
) -> Health:
    label_cca = of.label_cca_a
    wear_ohm = column(of.params, "battery_ohm")
    ability_a = label_cca * np.minimum(NEW_OHM_V / label_cca / wear_ohm, 1.3)
    if at.label.chemistry is Chemistry.LIFEPO4:
        ability_a = label_cca * np.minimum(LITHIUM_OHM_V / label_cca / wear_ohm, 1.3)
    ability_a = np.where(kind == KINDS.index("dead cell"), 0.0, ability_a)
    done = float(belief[kind > 0].sum())
    flat = float(belief[of.battery.soc < ENOUGH_CHARGE].sum())
    tested = any(one.tells_health for one in evidence)
    passed = any(_passed(one, at) for one in evidence)
    verdict = _verdict(done, flat=flat, tested=tested, passed=passed, at=at)
    return Health(
        verdict=verdict,
        done=done,
        flat=flat,
        kinds=tuple((name, float(belief[kind == i].sum())) for i, name in enumerate(KINDS)),
        soc=of_samples(of.battery.soc, belief),
        cca_a=of_samples(ability_a, belief),
        capacity_ah=of_samples(column(of.params, "capacity_ah"), belief),
        line_v=pass_line(at.temp_c),
        load_a=load_amps(at.label),
        next_steps=_next(verdict, flat=flat, evidence=evidence, at=at),
    )


def _passed(one: Evidence, at: Circumstances) -> bool:
    """Tell whether a load test stood at or above its line, at the load that belongs to it."""
    if not isinstance(one, LoadTest) or at.temp_c is None:
        return False
    enough = one.amps is None or one.amps >= 0.95 * load_amps(at.label).best
    return enough and one.volts - one.volts_u >= pass_line(at.temp_c).best


def _verdict(done: float, *, flat: float, tested: bool, passed: bool, at: Circumstances) -> Verdict:
    """Decide. A flat battery may pass, which is passing; it cannot fail.

    A low reading is not excused by the flatness that it is itself the evidence of.
    """
    unsure_charge = flat > 1.0 - SURE and not at.charged
    if tested and done <= 1.0 - SURE and (passed or not unsure_charge):
        return Verdict.GOOD
    if unsure_charge:
        return Verdict.CHARGE_AND_TEST_AGAIN
    if done >= SURE and at.temp_c is not None:
        return Verdict.REPLACE
    return Verdict.CANNOT_SAY_YET


def _next(
    verdict: Verdict, *, flat: float, evidence: Sequence[Evidence], at: Circumstances
) -> tuple[str, ...]:
    """Return what to do, first things first."""
    amps = load_amps(at.label).best
    if verdict is Verdict.REPLACE:
        return ("replace it, and find out first why it died: charging voltage and key-off drain",)
    if verdict is Verdict.GOOD:
        return ("charge it full",) if flat > 0.5 else ()
    steps = []
    if verdict is Verdict.CHARGE_AND_TEST_AGAIN:
        steps.append(
            "charge it full, take surface charge off, rest it two hours, then test again:"
            " below three quarters of a charge no test tells worn from flat"
        )
    if at.temp_c is None:
        steps.append("measure the battery's temperature: a cold battery reads low")
    if not any(isinstance(one, LoadTest) for one in evidence):
        steps.append(f"load test at {amps:.0f} A for 15 s")
    elif verdict is Verdict.CANNOT_SAY_YET:
        steps.append("discharge at a tenth of its Ah per hour to 10.5 V and count the Ah")
    if at.label.cca_a is None:
        steps.append("read the rated CCA and its standard off the label")
    return tuple(steps)
