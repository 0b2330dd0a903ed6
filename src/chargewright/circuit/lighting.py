"""The lighting coil: a coil, an AC regulator that holds its volts down, and a headlamp.

Nothing of it reaches the battery. With the coil's current i known, all else follows: behind the
plug the lead feeds the lamp, and the AC regulator conducts to its body above ``light_clamp_v``
either way round, through the regulator's ground. So the lead's volts are an odd function of i
with one corner, and one coil is one equation

    L di/dt + R i = e(t) - v(i),

marched over half a period by the second-order backward difference (C. Gear, Numerical Initial
Value Problems, 1971, from memory), whose step has a closed form here. EMF and circuit are odd,
so that the second half period mirrors the first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.running import emf_peak_v, winding_temperature_c
from chargewright.machine.parameters import INDEX, OPEN_OHM, Array, column
from chargewright.machine.points import State
from chargewright.machine.winding import copper_factor

STEPS = 128  # in half a period; against 2048 steps volts and amperes move by less than 0.1 %
MOST_HALVES = 60
SAME_REL, SAME_A = 1e-5, 1e-6  # change from half period to half period that counts as none
LEAST_OHM = 1e-5
NEVER_V = 1e9
WEAKEST_S = 1e-8  # what insulation leaks at the lead: 100 Mohm (assumed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """n lighting coils: harmonics' peak EMF (n, 3) [V], angular frequency, R, L (n,)."""

    emf_v: Array
    omega: Array
    ohm: Array
    henry: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Waves:
    """Half a period of the lit circuit, arrays (STEPS, n): volts to frame, amperes."""

    light_coil: Array
    light_reg: Array
    lamp: Array
    body: Array
    plug_a: Array
    lamp_a: Array
    converged: NDArray[np.bool_]


def coil_of(params: Array, state: State, rpm: Array) -> Coil:
    """Return the lighting coil of each machine at its speed and temperature."""
    as_winding = params.copy()
    as_winding[:, INDEX["emf_v_per_krpm_a"]] = column(params, "light_emf_v_per_krpm")
    peak = emf_peak_v(as_winding, state, rpm)[:, 0]
    shares = [np.ones(len(rpm)), column(params, "emf_third"), column(params, "emf_fifth")]
    copper = copper_factor(winding_temperature_c(params, state.warmth))
    return Coil(
        emf_v=np.stack([peak * share for share in shares], axis=1),
        omega=2.0 * np.pi * np.round(column(params, "pole_pairs")) * rpm / 60.0,
        ohm=np.minimum(column(params, "light_ohm") * copper, OPEN_OHM),
        henry=column(params, "light_h"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Downstream:
    """What hangs on the coil, arrays (n,): all in terms of u, the AC regulator's own volts.

    Up to the corner ``clamp_v`` u grows alone; beyond it ``clamp_s`` joins in.
    """

    short_s: Array
    clamp_v: Array
    clamp_s: Array
    ground_ohm: Array
    lamp_s: Array
    lamp_part: Array  # lamp terminal's volts per volt behind the plug
    plug_ohm: Array
    leak_s: Array

    def at(self, u: Array) -> tuple[Array, Array, Array, Array, Array]:
        """Return (coil's amperes, lead before the plug, behind it, body volts, plug's amperes)."""
        over = np.sign(u) * np.maximum(np.abs(u) - self.clamp_v, 0.0)
        regulator_a = self.short_s * u + self.clamp_s * over
        body = self.ground_ohm * regulator_a
        behind = u + body
        plug_a = regulator_a + self.lamp_s * behind
        lead = behind + self.plug_ohm * plug_a
        return plug_a + self.leak_s * lead, lead, behind, body, plug_a


def downstream_of(params: Array, state: State) -> Downstream:
    """Return what hangs on each lighting coil, plug in."""
    ohm = column(params, "lamp_ohm") + column(params, "lamp_ground_ohm")
    whole = ohm + column(params, "lamp_lead_ohm")
    lit = 1.0 if state.lights_on else 0.0
    clamped = column(params, "light_clamp_open") < 0.5
    return Downstream(
        short_s=column(params, "light_short_s") + WEAKEST_S,
        clamp_v=np.where(clamped, column(params, "light_clamp_v"), NEVER_V),
        clamp_s=np.where(clamped, 1.0 / column(params, "light_clamp_ohm"), 0.0),
        ground_ohm=np.maximum(column(params, "reg_ground_ohm"), LEAST_OHM),
        lamp_s=lit / whole,
        lamp_part=lit * ohm / whole,
        plug_ohm=np.maximum(column(params, "light_plug_ohm"), LEAST_OHM),
        leak_s=column(params, "light_leak_s") + WEAKEST_S,
    )


def solve(coil: Coil, load: Downstream, steps: int = STEPS) -> Waves:
    """Return half a period of the steady state of n coils, arrays (steps, n)."""
    unit = np.ones_like(coil.ohm)
    inner_a, inner_v = (load.at(1e-3 * unit)[k] / 1e-3 for k in (0, 1))
    corner_a, corner_v = (load.at(load.clamp_v)[k] for k in (0, 1))
    past_a, past_v = (load.at(load.clamp_v + 1.0)[k] for k in (0, 1))
    rise_a, rise_v = past_a - corner_a, past_v - corner_v
    h = np.pi / (coil.omega * steps)
    whole = 1.5 * coil.henry / h + coil.ohm
    angle = np.pi * (np.arange(steps) + 1.0) / steps
    shape = np.cos(np.outer(np.array([1.0, 3.0, 5.0]), angle))
    emf = np.einsum("nk,ks->sn", coil.emf_v, shape)

    def u_of(rhs: Array) -> Array:
        """Solve whole * i(u) + v(u) = rhs: straight up to the corner and beyond it."""
        u = rhs / (whole * inner_a + inner_v)
        beyond = np.abs(u) > load.clamp_v
        excess = np.abs(rhs) - whole * corner_a - corner_v
        outer = np.sign(rhs) * (load.clamp_v + excess / (whole * rise_a + rise_v))
        return np.where(beyond, outer, u)

    shunt = inner_v / inner_a
    first = (coil.emf_v[:, 0] / (coil.ohm + shunt + 1j * coil.omega * coil.henry)).astype(complex)
    turn = np.exp(-1j * coil.omega * h)
    now, before = first.real, (first * turn).real
    us = np.zeros((steps, len(now)))
    starts: list[tuple[Array, Array]] = []
    ends: list[tuple[Array, Array]] = []
    settled = np.zeros(len(now), dtype=bool)
    for _ in range(MOST_HALVES):
        starts.append((before, now))
        for step in range(steps):
            rhs = emf[step] + coil.henry / h * (2.0 * now - 0.5 * before)
            us[step] = u_of(rhs)
            before, now = now, load.at(us[step])[0]
        before, now = -before, -now  # the mirrored half begins as this one did
        ends.append((before, now))
        size = np.abs(now)
        settled = np.abs(now - starts[-1][1]) < SAME_REL * size + SAME_A
        if settled.all():
            break
        before, now = _mixed(starts[-2:], ends[-2:])
    return _waves(load, us, settled)


def _mixed(
    starts: list[tuple[Array, Array]], ends: list[tuple[Array, Array]]
) -> tuple[Array, Array]:
    """Return the next start by Anderson's mixing of depth one (J. ACM 12, 1965, from memory)."""
    if len(starts) < 2:
        return ends[-1]
    residual, older = ends[-1][1] - starts[-1][1], ends[-2][1] - starts[-2][1]
    change = residual - older
    safe = np.where(np.abs(change) > 1e-12, change, 1.0)
    gamma = np.where(np.abs(change) > 1e-12, np.clip(residual / safe, -9.0, 0.95), 0.0)
    before, now = (ends[-1][k] - gamma * (ends[-1][k] - ends[-2][k]) for k in (0, 1))
    return before, now


def _waves(load: Downstream, us: Array, settled: NDArray[np.bool_]) -> Waves:
    _, lead, behind, body, plug_a = load.at(us)
    return Waves(
        light_coil=lead,
        light_reg=behind,
        lamp=load.lamp_part * behind,
        body=body,
        plug_a=plug_a,
        lamp_a=load.lamp_s * behind,
        converged=settled,
    )
