"""The numbers that make one machine: every part's true value, faults included.

A batch of n machines is a float64 array of shape (n, ``COUNT``), one column per entry
of ``PARAMETERS``. A cause is a change to some of these columns and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

OPEN_OHM = 1e9  # a break: what still leaks across it


@dataclass(frozen=True, slots=True)
class Parameter:
    """One column: its name (unit in the name), healthy reference value, limits, meaning."""

    name: str
    healthy: float
    low: float
    high: float
    doc: str


def _legs(name: str, healthy: float, low: float, high: float, doc: str) -> list[Parameter]:
    return [Parameter(f"{name}_{leg}", healthy, low, high, f"{doc}, {leg}") for leg in "abc"]


PARAMETERS: tuple[Parameter, ...] = (
    # --- alternator; per winding: star and single = phase/coil, delta = winding a-b, b-c, c-a
    *_legs("emf_v_per_krpm", 8.66, 0.0, 40.0, "rms EMF of the winding per 1000 rpm, 20 C magnets"),
    *_legs("winding_ohm", 0.15, 1e-3, OPEN_OHM, "winding resistance at 20 C"),
    *_legs("winding_h", 0.65e-3, 1e-6, 0.1, "winding inductance"),
    Parameter("pole_pairs", 6, 1, 24, "pole pairs of the rotor"),
    Parameter("emf_third", 0.0, -0.3, 0.3, "third harmonic of the EMF / fundamental"),
    Parameter("emf_fifth", 0.0, -0.2, 0.2, "fifth harmonic of the EMF / fundamental"),
    Parameter("stator_hot_c", 110.0, -30, 250, "copper temperature when hot"),
    Parameter("magnet_hot_c", 80.0, -30, 200, "magnet temperature when hot"),
    Parameter("magnet_per_k", -0.0015, -0.004, 0.0, "relative change of EMF per kelvin"),
    Parameter("stator_leak_s", 0.0, 0.0, 1e3, "conductance from the winding to frame, cold"),
    Parameter("stator_leak_hot_s", 0.0, 0.0, 1e3, "the same, hot"),
    Parameter(
        "stator_leak_at", 1.0, 0.0, 1.0, "where along phase A: 0 neutral (coil's B end), 1 lead A"
    ),
    Parameter("phase_short_s", 0.0, 0.0, 1e3, "conductance between leads A and B in the stator"),
    # --- plug and the leads behind it
    *_legs("plug_ohm", 0.005, 0.0, OPEN_OHM, "contact of the alternator plug"),
    Parameter(
        "harness_leak_s", 0.0, 0.0, 1e3, "conductance lead A to frame, regulator side of the plug"
    ),
    # --- rectifier: six junctions, up = lead to output, dn = body to lead
    *_legs("up_v", 0.46, 0.05, 0.9, "upper junction's forward volts at 1 mA, 25 C"),
    *_legs("dn_v", 0.46, 0.05, 0.9, "lower junction's forward volts at 1 mA, 25 C"),
    *_legs("up_open", 0.0, 0.0, 1.0, "1 = the upper junction is open"),
    *_legs("dn_open", 0.0, 0.0, 1.0, "1 = the lower junction is open"),
    *_legs("up_leak_s", 0.0, 0.0, 1e3, "conductance in parallel with the upper junction"),
    *_legs("dn_leak_s", 0.0, 0.0, 1e3, "conductance in parallel with the lower junction"),
    Parameter("junction_n", 1.0, 0.8, 2.5, "emission coefficient of the junctions"),
    Parameter("junction_ohm", 0.006, 0.0, 0.5, "ohmic part of a junction"),
    # --- regulator
    Parameter("setpoint_v", 14.5, 5.0, 25.0, "voltage held at the sensed point, 20 C"),
    Parameter("setpoint_v_per_k", -0.003, -0.03, 0.01, "its change per kelvin of the regulator"),
    Parameter("regulator_hot_c", 80.0, -30, 150, "regulator temperature when hot"),
    Parameter("setpoint_hot_shift_v", 0.0, -8.0, 8.0, "fault: extra shift of the set point, hot"),
    Parameter(
        "cut_min", 0.0, 0.0, 1.0, "least share of time the regulator cuts off charging, cold"
    ),
    Parameter("cut_min_hot", 0.0, 0.0, 1.0, "the same, hot"),
    Parameter("cut_max", 1.0, 0.0, 1.0, "greatest share it can cut: 0 never regulates"),
    Parameter("shunt_v", 1.0, 0.0, 2.5, "drop of a conducting shunt or series device"),
    Parameter("shunt_ohm", 0.005, 0.0, 0.5, "its slope"),
    Parameter("sense_ohm", 0.02, 0.0, OPEN_OHM, "sense lead and its contacts"),
    Parameter("sense_a", 0.01, 0.0, 8.0, "current the regulator draws through it"),
    # --- leads and grounds
    Parameter("charge_lead_ohm", 0.012, 0.0, OPEN_OHM, "regulator output to where it joins"),
    Parameter("fuse_ohm", 0.006, 0.0, OPEN_OHM, "main fuse and its holder"),
    Parameter("pos_clamp_ohm", 0.001, 0.0, OPEN_OHM, "positive post to its clamp"),
    Parameter("neg_cable_ohm", 0.003, 0.0, OPEN_OHM, "negative post, clamp and cable to frame"),
    Parameter("reg_ground_ohm", 0.006, 0.0, OPEN_OHM, "regulator body to frame"),
    # --- loads, as amperes at 13.5 V
    Parameter("running_load_a", 5.0, 0.0, 80.0, "ignition, fuel pump, instruments"),
    Parameter("light_load_a", 6.0, 0.0, 60.0, "lamps that the light switch adds"),
    Parameter("accessory_load_a", 0.0, 0.0, 60.0, "what the owner added, on with the key"),
    Parameter("drain_a", 0.001, 0.0, 20.0, "key-off current at 12.6 V"),
    # --- battery
    Parameter("chemistry", 1, 0, 3, "index into layout.CHEMISTRIES"),
    Parameter("capacity_ah", 10.0, 0.5, 400.0, "true 10-h capacity"),
    Parameter("soc", 0.9, -0.06, 1.0, "state of charge as it came in; below 0 beyond empty"),
    Parameter("charged_soc", 0.98, 0.0, 1.0, "state of charge it reaches on a charger"),
    Parameter("battery_ohm", 0.015, 1e-4, OPEN_OHM, "ohmic resistance at 25 C, charged"),
    Parameter("polarisation", 1.0, 0.1, 20.0, "scale of the current-dependent over-voltages"),
    Parameter(
        "lost_cell_v", 0.0, 0.0, 9.0, "open-circuit volts missing (a dead cell is about 2.1)"
    ),
    Parameter("ocv_shift_v", 0.0, -0.6, 0.6, "unit-to-unit offset of the open-circuit voltage"),
    Parameter("surface_v", 0.1, -0.5, 0.8, "surface charge left one hour after charging"),
    # --- starter
    Parameter(
        "crank_a", 120.0, 5.0, 800.0, "current the engine asks of a strong battery, cranking"
    ),
    Parameter("starter_ohm", 0.035, 1e-3, OPEN_OHM, "starter motor at standstill"),
    Parameter(
        "starter_cable_ohm", 0.003, 0.0, OPEN_OHM, "positive clamp to starter, relay included"
    ),
    # --- surroundings
    Parameter("ambient_c", 20.0, -40.0, 55.0, "air, and all parts before a cold check"),
    Parameter(
        "rated_cca_a", 170.0, 5.0, 2000.0, "rated cold-cranking current, for the load tester"
    ),
    # --- how this unit's speed differs from the speed asked for, in standard deviations
    Parameter("idle_rpm_z", 0.0, -5.0, 5.0, "this engine's idle or the reader's error near idle"),
    Parameter("high_rpm_z", 0.0, -5.0, 5.0, "error of the speed held above idle"),
    Parameter("warmth_z", 0.0, -5.0, 5.0, "how warm this unit is where nobody noted it"),
    # --- lighting coil, its AC regulator and the headlamp (layout.lighting = coil)
    Parameter("light_emf_v_per_krpm", 8.0, 0.0, 40.0, "rms EMF of the lighting coil, 1000 rpm"),
    Parameter("light_ohm", 0.4, 1e-3, OPEN_OHM, "lighting coil at 20 C"),
    Parameter("light_h", 1.2e-3, 1e-6, 0.1, "its inductance"),
    Parameter("light_leak_s", 0.0, 0.0, 1e3, "conductance from its lead to frame, in the stator"),
    Parameter("light_plug_ohm", 0.01, 0.0, OPEN_OHM, "contact of the lighting lead in the plug"),
    Parameter("light_clamp_v", 13.0, 5.0, 40.0, "volts above which the AC regulator conducts"),
    Parameter("light_clamp_ohm", 0.15, 1e-3, 5.0, "its slope there"),
    Parameter("light_clamp_open", 0.0, 0.0, 1.0, "1 = the AC regulator never conducts"),
    Parameter("light_short_s", 0.0, 0.0, 1e3, "conductance across the AC regulator"),
    Parameter("lamp_lead_ohm", 0.08, 0.0, OPEN_OHM, "lead and switch from there to the lamp"),
    Parameter("lamp_ohm", 4.2, 0.1, OPEN_OHM, "filament alight"),
    Parameter("lamp_ground_ohm", 0.03, 0.0, OPEN_OHM, "lamp to frame"),
    # --- field coil on the rotor (layout.regulator = field)
    Parameter("field_ohm", 4.0, 0.05, OPEN_OHM, "field winding at 20 C, all its turns"),
    Parameter("field_turns", 1.0, 0.02, 1.0, "share of its turns that are not shorted"),
    Parameter("field_leak_s", 0.0, 0.0, 1e3, "conductance from its fed end to frame"),
    Parameter("field_full_a", 3.3, 0.1, 40.0, "field current that makes emf_v_per_krpm"),
    Parameter("field_residual", 0.03, 0.0, 0.3, "share of that EMF without field current"),
    Parameter("brush_ohm", 0.15, 0.0, OPEN_OHM, "brushes and slip rings"),
    Parameter("field_plug_ohm", 0.01, 0.0, OPEN_OHM, "contact of the field lead in the plug"),
    Parameter("field_ground_ohm", 0.01, 0.0, OPEN_OHM, "field's other end to frame, plug in"),
    Parameter("field_feed_ohm", 0.1, 0.0, OPEN_OHM, "harness to the regulator's supply: key, lead"),
    Parameter("field_switch_ohm", 0.15, 0.0, OPEN_OHM, "regulator between supply and field, on"),
)

NAMES = tuple(parameter.name for parameter in PARAMETERS)
COUNT = len(PARAMETERS)
INDEX = {name: index for index, name in enumerate(NAMES)}


def healthy_row() -> Array:
    """Return the reference machine as one row of shape (COUNT,)."""
    return np.array([parameter.healthy for parameter in PARAMETERS], dtype=np.float64)


def column(params: Array, name: str) -> Array:
    """Return the column ``name`` of a batch (n, COUNT) as a view of shape (n,)."""
    return params[:, INDEX[name]]
