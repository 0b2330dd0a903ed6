"""State of health: is this battery good, to be charged and tested again, or done?

Thousands of batteries are drawn: sound, high in resistance, low in capacity, with a dead cell;
at any charge and temperature that is not told. The circuit's battery says what each would show
in the tests made; Bayes' rule leaves those that fit. A flat or cold battery reads low like a
worn one, so both stay in, and the verdict says so instead of guessing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from chargewright.circuit.battery import battery_of
from chargewright.diagnosis.inference import posterior
from chargewright.energy.capacity import temperature_share
from chargewright.energy.charge_state import (
    CELL_V,
    Rested,
    chemistry_shares,
    curve_u_v,
    disturbance,
)
from chargewright.energy.evidence import Evidence, LoadTest, Suspects, heavy_tailed
from chargewright.energy.interval import Interval, of_samples, point
from chargewright.machine.battery_spec import BatterySpec, sae_cca_a, worn_factor
from chargewright.machine.layout import CHEMISTRIES, Chemistry
from chargewright.machine.limit_table import load_line_v
from chargewright.machine.parameters import INDEX, Array, column, healthy_row
from chargewright.machine.points import State

PER_KIND = 6000  # batteries drawn of each kind
KINDS = ("sound", "high resistance", "low capacity", "dead cell")
# Shares before any test: 0.65 sound at any charge, 0.27 worn or sulphated, 0.08 open or shorted
# cell (assumption; the battery lines of a slow-crank prior, renormalised).
PRIOR = (0.65, 0.15, 0.12, 0.08)
# Done: resistance half above new, where makers' warranties end (Buchmann 2004); capacity below
# 0.6 of the label (assumed for starting; stationary practice replaces below 0.8, IEEE 1188).
DONE_OHM, DONE_SHARE = 1.5, 0.6
SURE = 0.90  # chance that decides
ENOUGH_CHARGE = 0.75  # below it no load test counts (car makers' manuals 1998-2009)
# The pass line a third make prints, where ``machine/limit_table.py`` has that of two.
THIRD_MAKE_C, THIRD_MAKE_V = (-18.0, -10.0, -1.0, 10.0, 20.0), (8.0, 8.8, 9.1, 9.4, 9.6)
UNKNOWN_AH, UNKNOWN_AH_SPREAD = 10.0, 0.4  # assumed where the label is not known
CCA_PER_AH, CCA_PER_AH_SPREAD = 17.0, 0.134  # 13 to 22, catalogue level, from memory
NEW_OHM_V, NEW_OHM_SPREAD = 3.0, 0.10  # resistance x CCA of a new battery
LITHIUM_OHM_V, LITHIUM_OHM_SPREAD = 2.0, 0.40  # as machine/battery_spec.py, assumed


class Verdict(StrEnum):
    """What to do with the battery."""

    GOOD = "good"
    CHARGE_AND_TEST_AGAIN = "charge and test again"
    REPLACE = "replace"
    CANNOT_SAY_YET = "cannot say yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What is known while testing: label, temperature [C], rested voltage, and the charger.

    ``charged``: full on a charger before the tests, surface charge off.
    """

    label: BatterySpec = field(default_factory=BatterySpec)
    temp_c: float | None = None
    rested: Rested | None = None
    charged: bool = False


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
    suspects, kind, prior = _draw(at, np.random.default_rng(seed), per_kind)
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


def _draw(
    at: Circumstances, rng: np.random.Generator, per_kind: int
) -> tuple[Suspects, Array, Array]:
    """Return batteries (n), which of ``KINDS`` each is (n,), and prior weights (n,)."""
    n = per_kind * len(KINDS)
    kind = np.repeat(np.arange(len(KINDS)), per_kind).astype(np.float64)
    params = np.tile(healthy_row(), (n, 1))
    shares = chemistry_shares(at.label.chemistry)
    chemistry = rng.choice([CHEMISTRIES.index(c) for c in shares], size=n, p=list(shares.values()))
    label_ah, cca_a = _labels(at.label, rng, n)
    wear, soc = _wear(kind, rng), _charge(at, kind, rng)
    lithium = chemistry == CHEMISTRIES.index(Chemistry.LIFEPO4)
    if lithium.any():
        label_ah = label_ah * np.exp(np.log(0.55) + 0.4 * rng.standard_normal(n))
    new_v = np.where(lithium, LITHIUM_OHM_V, NEW_OHM_V)
    spread = np.where(lithium, LITHIUM_OHM_SPREAD, NEW_OHM_SPREAD)
    columns = {
        "chemistry": chemistry.astype(np.float64),
        "rated_cca_a": cca_a,
        "capacity_ah": label_ah * wear["capacity"],
        "battery_ohm": new_v / cca_a * np.exp(spread * rng.standard_normal(n)) * wear["ohm"],
        "polarisation": wear["polarisation"],
        "soc": soc,
        "ocv_shift_v": rng.standard_normal(n) * _curve_u(chemistry, soc),
        "lost_cell_v": wear["lost_v"],
        "ambient_c": _temperature(at, rng, n),
    }
    for name, values in columns.items():
        params[:, INDEX[name]] = values
    warm = columns["ambient_c"]
    share = np.where(
        lithium,
        temperature_share(Chemistry.LIFEPO4, warm),
        temperature_share(Chemistry.AGM, warm),
    )
    made = Suspects(
        params=params,
        battery=battery_of(params, State()),
        full_ah=columns["capacity_ah"] * share,
    )
    worn = worn_factor(at.label.age_years)
    weight = np.array(PRIOR) * (1.0, worn, worn, 1.0)
    return made, kind, (weight / per_kind)[kind.astype(np.intp)]


def _curve_u(chemistry: Array, soc: Array) -> Array:
    found = np.zeros_like(soc)
    for index, one in enumerate(CHEMISTRIES):
        found = np.where(chemistry == index, curve_u_v(one, soc), found)
    return found


def _labels(label: BatterySpec, rng: np.random.Generator, n: int) -> tuple[Array, Array]:
    """Return label Ah and rated SAE amperes, each (n,)."""
    if label.capacity_ah is not None:
        ah = np.full(n, label.capacity_ah)
    elif label.cca_a is not None:
        ratio = CCA_PER_AH * np.exp(CCA_PER_AH_SPREAD * rng.standard_normal(n))
        ah = sae_cca_a(label.cca_a, label.cca_standard)[1] / ratio
    else:
        ah = UNKNOWN_AH * np.exp(UNKNOWN_AH_SPREAD * rng.standard_normal(n))
    if label.cca_a is None:
        return ah, ah * CCA_PER_AH * np.exp(CCA_PER_AH_SPREAD * rng.standard_normal(n))
    low, usual, high = sae_cca_a(label.cca_a, label.cca_standard)
    return ah, usual * np.exp(np.log(high / low) / 3.92 * rng.standard_normal(n))


def _wear(kind: Array, rng: np.random.Generator) -> dict[str, Array]:
    """Return how each battery differs from new, by what it changes (ranges as in the causes).

    Resistance and capacity go their own ways: field studies found no line between them.
    """
    u, w, x = (rng.uniform(size=kind.size) for _ in range(3))
    sound, worn, weak = kind == 0, kind == 1, kind == 2
    return {
        "ohm": np.select(
            [sound, worn, weak],
            [0.9 * (1.4 / 0.9) ** u, DONE_OHM * (5.0 / DONE_OHM) ** u, 1.0 + 0.6 * u],
            1.0 + 1.5 * u,
        ),
        "capacity": np.select(
            [sound, worn, weak],
            [0.75 + 0.30 * w, 0.4 + 0.6 * w, 0.12 + (DONE_SHARE - 0.12) * w],
            0.2 + 0.6 * w,
        ),
        "polarisation": np.where(worn | weak, 1.3 + 2.7 * x, 0.8 + 0.4 * x),
        "lost_v": np.where(kind == KINDS.index("dead cell"), CELL_V - 0.5 * x, 0.0),
    }


def _charge(at: Circumstances, kind: Array, rng: np.random.Generator) -> Array:
    """Return the state of charge; a sulphated battery is not full when its charger says so."""
    u = rng.uniform(size=kind.size)
    if not at.charged:
        return u
    return np.where((kind == 1) | (kind == 2), 0.75 + 0.25 * u, 0.95 + 0.05 * u)


def _temperature(at: Circumstances, rng: np.random.Generator, n: int) -> Array:
    if at.temp_c is None:
        return 15.0 + 12.0 * rng.standard_normal(n)
    return at.temp_c + 2.0 * rng.standard_normal(n)


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
    verdict = _verdict(done, flat=flat, tested=tested, at=at)
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


def _verdict(done: float, *, flat: float, tested: bool, at: Circumstances) -> Verdict:
    if tested and done <= 1.0 - SURE:
        return Verdict.GOOD
    if flat > 1.0 - SURE and not at.charged:
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
