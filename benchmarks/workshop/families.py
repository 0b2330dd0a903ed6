"""Which jobs come in: families of scenarios, each with a rule that its machines must meet.

A job is known by (world, seed, number) alone: the same three give the same machine, meter,
technician and complaint to every policy. Families come in fixed shares within every 200 jobs,
shuffled, so that the first hundred are already a fair sample.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from benchmarks.workshop.matters import LOAD_TEST_V, Flags, Tried, weigh
from benchmarks.workshop.world import Draws, Hidden, Quirks, draws, ordinary_quirks
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Cause
from chargewright.machine.conditioning import load_class
from chargewright.machine.model import Machine
from chargewright.machine.parameters import column
from chargewright.machine.prior import complaints, prior

WORLD, MODEL = "world", "model"
CLASSES = (
    "sport-600-1000",
    "twin-250-400",
    "scooter-50-125",
    "big-twin-tourer",
    "atv",
    "side-by-side",
    "snowmobile",
    "outboard-three-phase",
    "adventure-twin-series",
    "tourer-1000-sense",
)
METERS = ("trms-6000", "average-2000")
FAMILIES = {  # of 200 jobs
    "single": 80,
    "healthy": 20,
    "double_listed": 12,
    "double_other": 12,
    "intermittent": 12,
    "hot": 12,
    "holds_band": 9,
    "flat_under_band": 9,
    "flat_health_test": 9,
    "unnulled": 9,
    "drop_under_current": 8,
    "turns_unseen": 8,
}
CONTACTS = (
    "terminal_loose",
    "plug_resistance",
    "charge_lead_resistance",
    "sense_lead_resistance",
    "regulator_ground_resistance",
    "battery_ground_resistance",
    "fuse_resistance",
    "starter_feed_resistance",
)
HOT = ("stator_ground_fault_hot", "regulator_cuts_hot", "regulator_drifts_hot")
LOW_SPEED = (
    "stator_phase_open",
    "stator_turns_shorted",
    "magnets_weak",
    "stator_wrong",
    "junction_open",
    "plug_resistance",
    "leg_open",
    "junction_shorted",
)
FLATTENS = ("drain", "battery_discharged", "accessories_too_great", "plug_resistance", "leg_open")
STATOR_OHMS = ("stator_turns_shorted", "stator_phases_shorted", "stator_phase_open", "no_fault")
UNDER_CURRENT = (
    "plug_resistance",
    "charge_lead_resistance",
    "fuse_resistance",
    "regulator_ground_resistance",
)
BAND_V = (13.5, 15.0)
OHMS_CANNOT_SEE = 0.3  # ohm: leads and last digit of a handheld meter
TURNS_CANNOT_SEE = 0.1  # ohm: half of what two counts of 0.1 ohm can hide
BATCH, BATCHES = 40, 6
MISLED = 0.15


@dataclass(slots=True, kw_only=True)
class Job:
    """One job as the world made it; ``refused`` counts draws below the floor, by cause."""

    world: str
    seed: int
    number: int
    family: str
    class_id: str
    complaint: str
    misled: bool
    meter_id: str
    hidden: Hidden
    refused: Counter[str] = field(default_factory=Counter)
    tried: Counter[str] = field(default_factory=Counter)


def job(world: str, seed: int, number: int) -> Job:
    """Return job ``number`` of a world."""
    rng = np.random.default_rng([seed, number, world == MODEL])
    class_id = str(rng.choice(CLASSES))
    machine = load_class(class_id)
    meter_id = str(rng.choice(METERS))
    if world == MODEL:
        return _model_job(seed, number, class_id, machine, meter_id, rng)
    return _world_job(seed, number, class_id, machine, meter_id, rng)


def family_of(seed: int, number: int) -> str:
    """Return the family of a job of the other world."""
    slots = [name for name, count in FAMILIES.items() for _ in range(count)]
    order = np.random.default_rng([seed, number // len(slots)]).permutation(len(slots))
    return slots[int(order[number % len(slots)])]


def _model_job(
    seed: int,
    number: int,
    class_id: str,
    machine: Machine,
    meter_id: str,
    rng: np.random.Generator,
) -> Job:
    complaint = str(rng.choice(list(complaints())))
    hypotheses = prior(machine, complaint)
    shares = np.array([hypothesis.share for hypothesis in hypotheses])
    chosen = hypotheses[int(rng.choice(len(hypotheses), p=shares / shares.sum()))]
    hidden = Hidden(
        machine=machine,
        causes=_real(chosen.causes),
        drawn=draws(1, rng, of_the_model=True),
        quirks=Quirks(),
        rng=np.random.default_rng([seed, number, 7]),
        of_the_model=True,
    )
    return Job(
        world=MODEL,
        seed=seed,
        number=number,
        family="model",
        class_id=class_id,
        complaint=complaint,
        misled=False,
        meter_id=meter_id,
        hidden=hidden,
    )


def _world_job(
    seed: int,
    number: int,
    class_id: str,
    machine: Machine,
    meter_id: str,
    rng: np.random.Generator,
) -> Job:
    family = family_of(seed, number)
    refused: Counter[str] = Counter()
    tried: Counter[str] = Counter()
    while True:
        causes = _causes(family, machine, rng)
        drawn = _drawn(family, machine, causes, rng, refused, tried)
        if drawn is not None:
            break
    quirks = _quirks(family, rng)
    complaint, misled = _complaint(causes, rng)
    hidden = Hidden(
        machine=machine,
        causes=_real(causes),
        drawn=drawn,
        quirks=quirks,
        rng=np.random.default_rng([seed, number, 7]),
    )
    return Job(
        world=WORLD,
        seed=seed,
        number=number,
        family=family,
        class_id=class_id,
        complaint=complaint,
        misled=misled,
        meter_id=meter_id,
        hidden=hidden,
        refused=refused,
        tried=tried,
    )


def _real(causes: tuple[Cause, ...]) -> tuple[Cause, ...]:
    return tuple(cause for cause in causes if cause.id != "no_fault")


def _causes(family: str, machine: Machine, rng: np.random.Generator) -> tuple[Cause, ...]:
    """Return the causes of a job of a family that the machine can have."""
    known = catalogue()
    if family == "healthy":
        return (known.get("no_fault"),)
    if family == "double_listed":
        pairs = [h.causes for h in prior(machine) if len(h.causes) == 2]
        return pairs[int(rng.integers(len(pairs)))]
    names = {
        "intermittent": CONTACTS,
        "hot": HOT,
        "holds_band": LOW_SPEED,
        "flat_under_band": ("battery_discharged",),
        "flat_health_test": FLATTENS,
        "unnulled": STATOR_OHMS,
        "drop_under_current": UNDER_CURRENT,
        "turns_unseen": ("stator_turns_shorted",),
    }.get(family)
    possible = [
        cause
        for cause in known.possible(machine)
        if (cause.id in names if names else cause.id != "no_fault")
    ]
    # The world's prior: square roots of the model's shares, so that rare faults come often.
    shares = np.sqrt([cause.share for cause in possible])
    count = 2 if family == "double_other" else 1
    picked = rng.choice(len(possible), size=count, replace=False, p=shares / shares.sum())
    causes = tuple(possible[int(n)] for n in picked)
    if count == 2 and not _can_meet(causes, machine):
        return _causes(family, machine, rng)
    return causes


def _can_meet(causes: tuple[Cause, ...], machine: Machine) -> bool:
    """Tell whether two causes are two faults: other repairs, other parameters."""
    first, second = causes
    if first.repair.id == second.repair.id:
        return False
    shared = first.columns(machine.layout) & second.columns(machine.layout)
    return not shared - {"soc"}


def _drawn(
    family: str,
    machine: Machine,
    causes: tuple[Cause, ...],
    rng: np.random.Generator,
    refused: Counter[str],
    tried: Counter[str],
) -> Draws | None:
    """Return the first draw that is a real fault of this family, or None when there is none."""
    name = "+".join(cause.id for cause in causes)
    for _ in range(BATCHES):
        drawn = draws(BATCH, rng)
        found = weigh(machine, drawn, causes)
        sound = found.sound
        tried[name] += int(sound.sum())
        refused[name] += int((sound & ~found.real).sum())
        fits = sound & found.real & _belongs(family, machine, drawn, causes, found)
        if fits.any():
            return drawn.one(int(np.argmax(fits)))
    return None


def _belongs(
    family: str, machine: Machine, drawn: Draws, causes: tuple[Cause, ...], found: Tried
) -> Flags:
    """Return which draws show what the family is about."""
    rule: Callable[[], Flags] | None = {
        "holds_band": lambda: _in_band(found.mine.high_v) & _loses_low(found),
        "flat_under_band": lambda: found.mine.found_high_v < BAND_V[0],
        "flat_health_test": lambda: (
            (found.mine.crank_found_v < LOAD_TEST_V) & (found.mine.crank_v >= LOAD_TEST_V)
        ),
        "drop_under_current": lambda: _added_ohm(machine, drawn, causes) < OHMS_CANNOT_SEE,
        "turns_unseen": lambda: _lost_pair_ohm(machine, drawn, causes) < TURNS_CANNOT_SEE,
    }.get(family)
    return np.ones(len(found.real), dtype=bool) if rule is None else rule()


def _in_band(volts: np.ndarray) -> Flags:
    return np.asarray((volts >= BAND_V[0]) & (volts <= BAND_V[1]))


def _loses_low(found: Tried) -> Flags:
    lost = found.twin.charge_a - found.mine.charge_a
    return np.asarray((lost >= 0.5) & (lost >= 0.25 * found.twin.charge_a))


def _added_ohm(machine: Machine, drawn: Draws, causes: tuple[Cause, ...]) -> np.ndarray:
    changed = drawn.params(machine, causes) - drawn.params(machine, ())
    names = [name for name in sorted(causes[0].columns(machine.layout)) if name.endswith("ohm")]
    names += [name for name in causes[0].columns(machine.layout) if "plug_ohm" in name]
    return np.asarray(np.max([np.abs(column(changed, name)) for name in names], axis=0))


def _lost_pair_ohm(machine: Machine, drawn: Draws, causes: tuple[Cause, ...]) -> np.ndarray:
    changed = drawn.params(machine, causes) - drawn.params(machine, ())
    return np.asarray(
        np.max([np.abs(column(changed, f"winding_ohm_{leg}")) for leg in "abc"], axis=0)
    )


def _quirks(family: str, rng: np.random.Generator) -> Quirks:
    quirks = ordinary_quirks(rng)
    if family == "intermittent":
        quirks.duty = float(rng.uniform(0.5, 0.9))
    if family == "unnulled":
        quirks.lead_ohm = float(rng.uniform(0.3, 0.6))
        quirks.nulled = quirks.claims_nulled = False
    return quirks


def _complaint(causes: tuple[Cause, ...], rng: np.random.Generator) -> tuple[str, bool]:
    """Return (complaint, whether it was drawn without regard to the fault)."""
    kinds = complaints()
    if rng.random() < MISLED:
        return str(rng.choice(list(kinds))), True
    fit = np.array([max(kind.factor(cause) for cause in causes) for kind in kinds.values()])
    return str(rng.choice(list(kinds), p=fit / fit.sum())), False
