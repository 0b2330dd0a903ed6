"""From class, spec sheet and battery to the one machine on the bench."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from chargewright.errors import InputError
from chargewright.machine.battery_spec import BatterySpec, battery_scatter, worn_factor
from chargewright.machine.classes import MachineClass, read_class
from chargewright.machine.layout import Layout, Sense, Winding
from chargewright.machine.limit_table import build_limits
from chargewright.machine.model import Machine
from chargewright.machine.parameters import INDEX, PARAMETERS
from chargewright.machine.scatter import (
    Z_95,
    Kind,
    Scatter,
    centres,
    fixed,
    lognormal,
    lognormal_between,
    normal_between,
)
from chargewright.machine.spec import SPEC_SHEET, SpecSheet
from chargewright.machine.speeds import Speeds
from chargewright.machine.winding import (
    PAIR_OHM,
    PAIR_OHM_LEG,
    PAIR_V,
    PAIR_V_LEG,
    Stator,
    copper_at,
    greatest_rated_a,
)

MINIMUM_TO_CENTRE = 1.15  # a healthy unit reads some 15 % above a minimum (assumed, 10-25 %)
RATED_SD = 0.08  # rated output of one type: 10 % with heat is quoted by an outboard manual
CLAMP_PER_AC = 0.90  # clamping volts per AC volt an average-responding meter shows at the lamp
AMBIENT_SD_C = 2.0  # a thermometer on the workshop wall against the machine itself (assumed)


def load_class(class_id: str) -> Machine:
    """Return a machine of a class of which nothing else is known."""
    return machine_of(class_id)


def machine_of(
    class_id: str,
    spec: SpecSheet | None = None,
    *,
    battery: BatterySpec | None = None,
    ambient_c: float | None = None,
) -> Machine:
    """Return the machine that a class, its spec sheet and its battery describe.

    A figure printed as a range holds about 95 % of healthy units, a lowest AC voltage leaves
    97.5 % above it; all else keeps the class's scatter.

    Raises
    ------
    InputError
        The class is unknown, or the figures contradict one another.
    """
    return condition(read_class(class_id), spec, battery=battery, ambient_c=ambient_c)


def condition(
    kind: MachineClass,
    spec: SpecSheet | None = None,
    *,
    battery: BatterySpec | None = None,
    ambient_c: float | None = None,
) -> Machine:
    """Return the machine of a class already read, as ``machine_of``."""
    spec = spec or SpecSheet()
    battery = battery or BatterySpec()
    layout = _layout(kind.layout, spec)
    stator = _stator(kind.stator, layout.winding, spec)
    scatter = dict(kind.scatter)
    windings = stator.windings(layout.winding)
    _refuse_beyond_model(windings, layout, spec)
    scatter.update(windings)
    scatter.update(battery_scatter(scatter, battery))
    if spec.poles is not None:
        scatter["pole_pairs"] = fixed(spec.poles / 2, SPEC_SHEET)
    if spec.regulated_v is not None and spec.regulated_v.both is not None:
        held_v = _above_battery_v(scatter, layout)
        low, high = spec.regulated_v.both
        scatter["setpoint_v"] = normal_between(low + held_v, high + held_v, SPEC_SHEET)
    scatter.update(_field(scatter, layout, spec))
    scatter.update(_lighting(scatter, layout, spec))
    if ambient_c is not None:
        scatter["ambient_c"] = Scatter(
            kind=Kind.NORMAL, centre=ambient_c, spread=AMBIENT_SD_C, source=SPEC_SHEET
        )
    machine = Machine(
        class_id=kind.id,
        title=kind.title,
        layout=layout,
        speeds=_speeds(kind.speeds, spec),
        scatter=scatter,
        limits=(),
        output_a=stator.output_a.centre,
        lights_always_on=_lights(kind, spec),
        battery_age=worn_factor(battery.age_years),
    )
    return replace(machine, limits=build_limits(machine, (spec, kind.spec)))


def _field(scatter: Mapping[str, Scatter], layout: Layout, spec: SpecSheet) -> dict[str, Scatter]:
    """Return what a field coil changes: its ohms as told, and no magnets that fade when hot."""
    if not layout.field:
        return {}
    found = {"magnet_per_k": fixed(0.0, "field-no-magnets")}
    if spec.field_ohm is not None and spec.field_ohm.both is not None:
        found["field_ohm"] = lognormal_between(*spec.field_ohm.both, SPEC_SHEET)
    return found


def _lighting(
    scatter: Mapping[str, Scatter], layout: Layout, spec: SpecSheet
) -> dict[str, Scatter]:
    """Return what a spec sheet tells of the lighting coil and its AC regulator."""
    if not layout.lighting_coil:
        return {}
    found = {"light_load_a": fixed(0.0, "lamps-on-coil")}
    if spec.light_ohm is not None and spec.light_ohm.both is not None:
        found["light_ohm"] = lognormal_between(*spec.light_ohm.both, SPEC_SHEET)
    if spec.light_ac_v is not None and spec.light_ac_v.both is not None:
        low, high = (CLAMP_PER_AC * volts for volts in spec.light_ac_v.both)
        found["light_clamp_v"] = normal_between(low, high, SPEC_SHEET)
    return found


def _refuse_beyond_model(windings: Mapping[str, Scatter], layout: Layout, spec: SpecSheet) -> None:
    """Refuse figures that put sound windings outside what a parameter may be.

    Clipping them would quietly pile units up at the limit. Three standard deviations count.
    """
    told = (
        ("ac_v", spec.ac_v, "emf_v_per_krpm_a", PAIR_V, "V per 1000 rpm"),
        ("stator_ohm", spec.stator_ohm, "winding_ohm_a", PAIR_OHM, "ohm"),
    )
    for field, given, name, pair, unit in told:
        parameter, rule = PARAMETERS[INDEX[name]], windings[name]
        reach = math.exp(3.0 * math.hypot(rule.spread, rule.each))
        low, high = (end * pair[layout.winding] for end in (parameter.low, parameter.high))
        middle = rule.centre * pair[layout.winding]
        if given is not None and not low < middle / reach < middle * reach < high:
            raise InputError(
                f"spec sheet: field {field!r} puts sound units between {middle / reach:.3g} and"
                f" {middle * reach:.3g} {unit} between leads; expected {low:.3g} to {high:.3g}"
            )


def _above_battery_v(scatter: Mapping[str, Scatter], layout: Layout) -> float:
    """Return by how much the regulator's sensed voltage exceeds the battery's [V].

    Manuals print volts at the battery, nearly charged and with lights on; the regulator also
    holds the drops of the loads' current in its ground and, sensing its own output, in the
    charge lead.
    """
    typical = centres(scatter)
    load_a = typical["running_load_a"] + typical["light_load_a"]
    ohm = typical["reg_ground_ohm"]
    if layout.sense is Sense.OUTPUT:
        ohm += typical["charge_lead_ohm"]
    return load_a * ohm


def _lights(kind: MachineClass, spec: SpecSheet) -> bool:
    return kind.lights_always_on if spec.lights_always_on is None else spec.lights_always_on


def _layout(layout: Layout, spec: SpecSheet) -> Layout:
    names = ("winding", "regulator", "mosfet", "sense", "charge_to", "lighting")
    given = {name: getattr(spec, name) for name in names if getattr(spec, name) is not None}
    return replace(layout, **given)


def _speeds(speeds: Speeds, spec: SpecSheet) -> Speeds:
    if spec.idle_rpm is None:
        return speeds
    if spec.idle_rpm >= speeds.mid_rpm:
        raise InputError(
            f"spec sheet: idle_rpm = {spec.idle_rpm:g} rpm; expected below {speeds.mid_rpm:g} rpm,"
            " the middle speed of this class"
        )
    return replace(speeds, idle_rpm=spec.idle_rpm)


def _stator(stator: Stator, winding: Winding, spec: SpecSheet) -> Stator:
    volts, ohms, output = stator.pair_v_per_krpm, stator.pair_ohm, stator.output_a
    if spec.ac_v is not None and spec.ac_rpm is not None:
        volts = _pair_volts(volts, winding, spec, spec.ac_rpm)
    if spec.stator_ohm is not None and spec.stator_ohm.both is not None:
        low, high = (copper_at(v, spec.stator_ohm_at_c, 20.0) for v in spec.stator_ohm.both)
        ohms = _narrowed(ohms, lognormal_between(low, high, SPEC_SHEET), PAIR_OHM_LEG[winding])
    if spec.rated_a is not None and spec.rated_rpm is not None:
        greatest = greatest_rated_a(winding, volts.centre, spec.rated_a, spec.rated_rpm)
        output = replace(lognormal(greatest, RATED_SD, SPEC_SHEET), each=output.each)
    return Stator(pair_v_per_krpm=volts, pair_ohm=ohms, output_a=output)


def _pair_volts(volts: Scatter, winding: Winding, spec: SpecSheet, rpm: float) -> Scatter:
    """Return the AC volts per 1000 rpm that the spec sheet tells."""
    assert spec.ac_v is not None
    per_krpm = spec.ac_v.divided(rpm / 1000.0)
    if per_krpm.both is not None:
        told = lognormal_between(*per_krpm.both, SPEC_SHEET)
    elif per_krpm.low is not None:
        told = Scatter(
            kind=Kind.LOGNORMAL,
            centre=per_krpm.low * MINIMUM_TO_CENTRE,
            spread=math.log(MINIMUM_TO_CENTRE) / Z_95,
            source=SPEC_SHEET,
        )
    else:
        return volts  # a greatest value alone says nothing of where healthy units lie
    return _narrowed(volts, told, PAIR_V_LEG[winding])


def _narrowed(before: Scatter, told: Scatter, leg_share: float) -> Scatter:
    """Split the spread told for a pair between the unit and its legs.

    The legs keep the class's imbalance as far as the told range has room for it (at most
    half of its variance); the unit takes the rest, so that the pair has the spread told.
    """
    legs = min(leg_share * before.each**2, 0.5 * told.spread**2)
    return replace(told, spread=math.sqrt(told.spread**2 - legs), each=math.sqrt(legs / leg_share))
