"""The rotor's field coil: how much current it gets, and how much of its flux the rotor makes.

Fed for a share s of the time through a regulator with a freewheeling path, the coil's inductance
keeps its current even, so that averages obey Ohm's law. From the harness' volts V, with R_f what
feeds it (key, regulator, lead) and R_c what follows (brushes, coil, ground),

    i = s V / (R_c + s R_f)  out of the regulator's field terminal,  s i  out of the harness.

Flux is proportional to the coil's ampere-turns, over a residual share that stays without any.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chargewright.circuit.running import winding_temperature_c
from chargewright.circuit.still_network import JUMPER_OHM, LEAST_OHM
from chargewright.machine.parameters import INDEX, Array, column
from chargewright.machine.points import State
from chargewright.machine.winding import copper_factor

LEAST_SHARE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldCoil:
    """n field coils with what feeds them, arrays (n,)."""

    feed_ohm: Array  # from the harness to the field terminal, regulator on
    supply_ohm: Array  # the part of it before the regulator
    plug_ohm: Array  # from the regulator's side of the plug to the alternator's
    brush_ohm: Array  # from there to the slip ring
    coil_ohm: Array  # from there through the coil
    ground_ohm: Array
    leak_s: Array  # slip ring to frame
    turns: Array
    full_a: Array
    residual: Array

    @property
    def behind_ohm(self) -> Array:
        """Resistance from the field terminal to frame."""
        winding_s = 1.0 / (self.coil_ohm + self.ground_ohm)
        return self.plug_ohm + self.brush_ohm + 1.0 / (winding_s + self.leak_s)

    def terminal_a(self, share: Array, volts: Array) -> Array:
        """Return the current out of the field terminal, fed for a share of the time."""
        return np.asarray(share * volts / (self.behind_ohm + share * self.feed_ohm))

    def load_s(self, share: Array) -> Array:
        """Return the conductance that the harness sees, on average."""
        return np.asarray(share**2 / (self.behind_ohm + share * self.feed_ohm))

    def winding_a(self, terminal_a: Array) -> Array:
        """Return the part of it that goes through the coil."""
        winding_s = 1.0 / (self.coil_ohm + self.ground_ohm)
        return np.asarray(terminal_a * winding_s / (winding_s + self.leak_s))

    def excitation(self, share: Array, volts: Array) -> Array:
        """Return the EMF as a share of what ``emf_v_per_krpm`` says."""
        amps = self.winding_a(self.terminal_a(share, np.maximum(volts, 0.0)))
        return np.asarray(self.residual + (1.0 - self.residual) * amps * self.turns / self.full_a)

    def share_for(self, excitation: Array, volts: Array) -> Array:
        """Return the share of the time that makes an excitation from these volts."""
        wanted = (excitation - self.residual) / (1.0 - self.residual) * self.full_a / self.turns
        terminal = np.maximum(wanted, 0.0) / np.maximum(self.winding_a(np.ones_like(wanted)), 1e-12)
        free = np.maximum(volts - terminal * self.feed_ohm, 1e-9)
        return np.asarray(terminal * self.behind_ohm / free)


def field_coil(params: Array, state: State) -> FieldCoil:
    """Return the field coil of each machine at its temperature, plug in or fed by a jumper."""
    copper = copper_factor(winding_temperature_c(params, state.warmth))
    supply = column(params, "field_feed_ohm")
    feed = supply + column(params, "field_switch_ohm")
    plug = column(params, "field_plug_ohm")
    ground = column(params, "field_ground_ohm")
    if state.full_field:
        feed, supply = np.full_like(feed, JUMPER_OHM), np.zeros_like(feed)
        plug = np.zeros_like(feed)
        ground = ground if state.plug_in else np.full_like(ground, JUMPER_OHM)
    coil = column(params, "field_ohm") * column(params, "field_turns") * copper
    return FieldCoil(
        feed_ohm=np.maximum(feed, LEAST_OHM),
        supply_ohm=supply,
        plug_ohm=plug,
        brush_ohm=np.maximum(column(params, "brush_ohm"), LEAST_OHM),
        coil_ohm=np.maximum(coil, LEAST_OHM),
        ground_ohm=np.maximum(ground, LEAST_OHM),
        leak_s=column(params, "field_leak_s"),
        turns=column(params, "field_turns"),
        full_a=column(params, "field_full_a"),
        residual=column(params, "field_residual"),
    )


def excited(params: Array, excitation: Array, load_s: Array, rated_v: float) -> Array:
    """Return the machine (n, COUNT) with its EMF at ``excitation`` and its field as a load.

    ``load_s`` [S] joins the accessories, which are stated as amperes at ``rated_v``.
    """
    made = params.copy()
    for leg in "abc":
        made[:, INDEX[f"emf_v_per_krpm_{leg}"]] *= excitation
    made[:, INDEX["accessory_load_a"]] += load_s * rated_v
    return made
