"""Hidden machines drawn from a world that is deliberately not the model.

Other scatter (wider, centres shifted), unequal phases, EMF harmonics, regulators' offsets,
batteries that take charge in another way, parts still warm from the ride in, contacts that are
bad only at some readings. A hidden machine is what the technician has on the stand: it can be
read (``instrument``), charged and mended, and nobody but the oracle sees inside.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from chargewright.machine.causes import Cause
from chargewright.machine.draw import LATENT_NAMES, LATENTS, draw
from chargewright.machine.model import Machine
from chargewright.machine.parameters import COUNT, INDEX, NAMES, PARAMETERS, Array
from chargewright.machine.points import Function, State, Warmth

WIDER = 1.25  # scatter of hidden machines against the model's
SHIFTED = 0.3  # share of figures whose centre is moved
SHIFT_SD = 0.5  # by how much, in the model's standard deviations
OFF = {  # relative disturbances on top, standard deviations; per winding where there are three
    "emf_v_per_krpm": 0.02,
    "winding_ohm": 0.03,
    "winding_h": 0.06,
    "running_load_a": 0.15,
    "light_load_a": 0.10,
    "polarisation": 0.10,
    "battery_ohm": 0.15,
    "crank_a": 0.12,
}
SHIFTS = {  # absolute disturbances, standard deviations in the parameter's unit
    "emf_third": 0.03,
    "emf_fifth": 0.03,
    "setpoint_v": 0.10,
    "ocv_shift_v": 0.03,
    "stator_hot_c": 15.0,
    "regulator_hot_c": 12.0,
    "magnet_hot_c": 10.0,
}
UNSTEADY = 0.015  # relative, of a throttle held by hand
BATTERY = ("battery_ohm", "polarisation", "capacity_ah", "lost_cell_v", "charged_soc")
COPPER_PER_K = 1.0 / 254.5  # annealed copper at 20 C, 1/(234.5 + 20)
SLOT_PARTS = ("severity0", "severity1", "severity2", "placement")
_LOW = np.array([parameter.low for parameter in PARAMETERS])
_HIGH = np.array([parameter.high for parameter in PARAMETERS])


@dataclass(slots=True, kw_only=True)
class Quirks:
    """What else is not as the program thinks: of this machine, its meter and its technician.

    ``gain`` is the meter's own error per dial position in units of its limit of error;
    ``claims_nulled`` what the card says of the leads and ``nulled`` what is true; ``ear_sd`` the
    relative error of a speed; ``duty`` the share of readings at which a bad contact is bad;
    ``warm_k`` how much warmer than the air the copper still is when it should be cold.
    """

    gain: dict[Function, float] = field(default_factory=dict)
    noise: float = 0.0  # of the limit of error, standard deviation from reading to reading
    lead_ohm: float = 0.2
    claims_nulled: bool = False
    nulled: bool = False
    ear_sd: float = 0.0
    duty: float = 1.0
    warm_k: float = 0.0


@dataclass(slots=True, kw_only=True)
class Draws:
    """n machines before anything is known of their faults: latents and disturbances."""

    z: Array  # (n, LATENTS)
    factors: Array  # (n, COUNT)
    shifts: Array  # (n, COUNT)

    def params(self, machine: Machine, causes: tuple[Cause, ...]) -> Array:
        """Return the parameters (n, COUNT) of these machines with ``causes``."""
        drawn = draw(machine, causes, self.z) * self.factors + self.shifts
        return np.clip(drawn, _LOW, _HIGH)

    def second_first(self) -> Draws:
        """Return the machines with the second cause's severity and place in the first slot."""
        z = self.z.copy()
        for part in SLOT_PARTS:
            first, second = (LATENT_NAMES.index(f"cause{slot}_{part}") for slot in (0, 1))
            z[:, first] = self.z[:, second]
        return Draws(z=z, factors=self.factors, shifts=self.shifts)

    def one(self, row: int) -> Draws:
        """Return the machine of one row."""
        keep = slice(row, row + 1)
        return Draws(
            z=self.z[keep].copy(),
            factors=self.factors[keep].copy(),
            shifts=self.shifts[keep].copy(),
        )


def draws(count: int, rng: np.random.Generator, *, of_the_model: bool = False) -> Draws:
    """Return ``count`` draws of this world, or of the model's own prior."""
    z = rng.standard_normal((count, LATENTS))
    factors, shifts = np.ones((count, COUNT)), np.zeros((count, COUNT))
    if of_the_model:
        return Draws(z=z, factors=factors, shifts=shifts)
    scattered = np.array([not name.startswith("cause") for name in LATENT_NAMES])
    scattered[-1] = False  # what charge a fault leaves is its own law
    moved = SHIFT_SD * rng.standard_normal(LATENTS) * (rng.random(LATENTS) < SHIFTED)
    z[:, scattered] = z[:, scattered] * WIDER + moved[scattered]
    z = np.clip(z, -3.0, 3.0)
    for name in NAMES:
        sd = OFF.get(name, OFF.get(name[:-2], 0.0))
        factors[:, INDEX[name]] = np.exp(sd * rng.standard_normal(count))
        shifts[:, INDEX[name]] = SHIFTS.get(name, 0.0) * rng.standard_normal(count)
    return Draws(z=z, factors=factors, shifts=shifts)


@dataclass(slots=True, kw_only=True)
class Hidden:
    """One machine on the stand. ``causes`` are those still present."""

    machine: Machine
    causes: tuple[Cause, ...]
    drawn: Draws
    quirks: Quirks
    rng: np.random.Generator
    of_the_model: bool = False
    soc: float = field(init=False)
    held: dict[tuple[float, bool], float] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.soc = float(self.drawn.params(self.machine, self.causes)[0, INDEX["soc"]])

    @property
    def components(self) -> set[str]:
        """Components at fault now (``none`` for a sound machine)."""
        return {cause.component.value for cause in self.causes} or {"none"}

    @property
    def repairs(self) -> set[str]:
        """Repairs needed now."""
        return {cause.repair.id for cause in self.causes} - {"nothing"}

    def params(self, *, faulty: bool = True) -> Array:
        """Return the true parameters (1, COUNT) as the machine stands, faults in or left out."""
        row = self.drawn.params(self.machine, self.causes if faulty else ())
        row[0, INDEX["soc"]] = self.soc
        return row

    def at_reading(self, state: State) -> Array:
        """Return the parameters (1, COUNT) while one reading is taken in ``state``."""
        quirks = self.quirks
        row = self.params(faulty=self.rng.random() < quirks.duty)
        if quirks.warm_k and state.warmth is Warmth.COLD:
            for name in ("winding_ohm_a", "winding_ohm_b", "winding_ohm_c"):
                row[0, INDEX[name]] *= 1.0 + quirks.warm_k * COPPER_PER_K
        if quirks.ear_sd and state.rpm is not None:
            missed = self._missed(state.rpm, state.plug_in) / max(state.rpm_rel_u, 1e-3)
            row[0, INDEX["high_rpm_z"]] = np.clip(missed, -5.0, 5.0)
        return row

    def _missed(self, rpm: float, plug_in: bool) -> float:
        """Return by how much (relative) a speed is missed: held while readings follow on."""
        place = (rpm, plug_in)
        if place not in self.held:
            self.held[place] = float(self.rng.normal(0.0, self.quirks.ear_sd))
        return self.held[place] + float(self.rng.normal(0.0, UNSTEADY))

    def mend(self, repair_id: str) -> bool:
        """Do a repair; return whether it was needed."""
        was_needed = repair_id in self.repairs
        left = [n for n, cause in enumerate(self.causes) if cause.repair.id != repair_id]
        if was_needed and left == [1]:
            self.drawn = self.drawn.second_first()
        self.causes = tuple(self.causes[n] for n in left)
        if repair_id == "replace_battery":
            self.soc = float(self.params()[0, INDEX["charged_soc"]])
        return was_needed


def ordinary_quirks(rng: np.random.Generator) -> Quirks:
    """Return a technician with a meter: mostly in order, sometimes not.

    One meter in ten is out of calibration, up to three times its limit; one technician in
    three nulls the leads, and one in seven of these has forgotten it; three in five read the
    speed by ear; one machine in five is still warm.
    """
    reach = rng.uniform(1.2, 3.0) if rng.random() < 0.10 else 1.0
    claims = bool(rng.random() < 1 / 3)
    return Quirks(
        gain={function: reach * rng.uniform(-1.0, 1.0) for function in Function},
        noise=float(rng.uniform(0.1, 0.5)),
        lead_ohm=float(np.clip(np.exp(rng.normal(np.log(0.2), 0.5)), 0.05, 0.7)),
        claims_nulled=claims,
        nulled=claims and bool(rng.random() > 1 / 7),
        ear_sd=0.10 / 1.7 if rng.random() < 0.6 else 0.015,  # "by ear" is +-10 %
        warm_k=float(rng.uniform(8.0, 40.0)) if rng.random() < 0.2 else 0.0,
    )
