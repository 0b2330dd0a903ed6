"""The batteries this one may be: drawn sound, worn, weak and with a dead cell, then judged.

What wears is what the causes of the machine room change; charge and temperature are spread as
far as nobody told them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from chargewright.circuit.battery import battery_of
from chargewright.energy.capacity import temperature_share
from chargewright.energy.charge_state import CELL_V, Rested, chemistry_shares, curve_u_v
from chargewright.energy.evidence import Suspects
from chargewright.machine.battery_spec import BatterySpec, sae_cca_a, worn_factor
from chargewright.machine.layout import CHEMISTRIES, Chemistry
from chargewright.machine.parameters import INDEX, Array, healthy_row
from chargewright.machine.points import State

PER_KIND = 6000  # batteries drawn of each kind
KINDS = ("sound", "high resistance", "low capacity", "dead cell")
# Shares before any test: 0.65 sound at any charge, 0.27 worn or sulphated, 0.08 open or shorted
# cell (assumption; the battery lines of a slow-crank prior, renormalised).
PRIOR = (0.65, 0.15, 0.12, 0.08)
# Done: resistance half above new, where makers' warranties end (Buchmann 2004); capacity below
# 0.6 of the label (assumed for starting; stationary practice replaces below 0.8, IEEE 1188).
DONE_OHM, DONE_SHARE = 1.5, 0.6
UNKNOWN_AH, UNKNOWN_AH_SPREAD = 10.0, 0.4  # assumed where the label is not known
CCA_PER_AH, CCA_PER_AH_SPREAD = 17.0, 0.134  # 13 to 22, catalogue level, from memory
NEW_OHM_V, NEW_OHM_SPREAD = 3.0, 0.10  # resistance x CCA of a new battery
LITHIUM_OHM_V, LITHIUM_OHM_SPREAD = 2.0, 0.40  # as machine/battery_spec.py, assumed


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What is known while testing: label, temperature [C], rested voltage, and the charger.

    ``charged``: full on a charger before the tests, surface charge off.
    """

    label: BatterySpec = field(default_factory=BatterySpec)
    temp_c: float | None = None
    rested: Rested | None = None
    charged: bool = False


def draw_suspects(
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
