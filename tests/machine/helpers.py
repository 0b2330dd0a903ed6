"""What a meter between two leads would find, by textbook formulas kept apart from the program."""

from __future__ import annotations

import math

import numpy as np

from chargewright.machine.draw import LATENTS
from chargewright.machine.layout import Winding
from chargewright.machine.model import Machine
from chargewright.machine.parameters import Array, column


def latents(n: int, seed: int = 1) -> Array:
    return np.random.default_rng(seed).standard_normal((n, LATENTS))


def pair_v_per_krpm(machine: Machine, params: Array) -> Array:
    """Return rms volts between leads A and B per 1000 rpm (phasors 120 degrees apart)."""
    a, b = (column(params, f"emf_v_per_krpm_{leg}") for leg in "ab")
    if machine.layout.winding is Winding.STAR:
        return np.sqrt(a**2 + b**2 + a * b)
    return a


def pair_ohm(machine: Machine, params: Array) -> Array:
    """Return ohms between leads A and B at 20 C."""
    a, b, c = (column(params, f"winding_ohm_{leg}") for leg in "abc")
    if machine.layout.winding is Winding.STAR:
        return a + b
    return a if machine.layout.winding is Winding.SINGLE else a * (b + c) / (a + b + c)


def available_a(machine: Machine, rpm: float, bus_v: float) -> float:
    """Return the direct current [A] a typical unit gives into ``bus_v`` (junctions included).

    Star with resistance, current in all phases: Io = (3/pi)(-R V1 + sqrt(E^2 Z^2 - X^2 V1^2))/Z^2,
    V1 = 2 pi V/9 (after Caliskan, Perreault, Jahns and Kassakian 2003; derived, within 5 % of
    a 27-state implicit bridge solver for R/X up to 0.3).
    """
    assert machine.layout.winding is Winding.STAR
    t = machine.typical()
    e = math.sqrt(2.0) * t["emf_v_per_krpm_a"] * rpm / 1000.0
    x = 2.0 * math.pi * t["pole_pairs"] * rpm / 60.0 * t["winding_h_a"]
    r, v1 = t["winding_ohm_a"], 2.0 * math.pi * bus_v / 9.0
    z2 = r * r + x * x
    root = e * e * z2 - (x * v1) ** 2
    return 0.0 if root <= 0.0 else max((3.0 / math.pi) * (math.sqrt(root) - r * v1) / z2, 0.0)
