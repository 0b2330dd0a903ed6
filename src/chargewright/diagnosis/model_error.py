"""How far the circuit model itself may be from a real machine, per kind of reading.

Two figures, absolute and relative, as standard uncertainties; they widen what the meter may
show. All are assumed: see ``docs/model.md``. Small voltages along a wire are told apart from
voltages of the battery's size, because a drop is known far better in volts.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from chargewright.diagnosis.question import Question
from chargewright.errors import InputError
from chargewright.machine.layout import LIGHTING_POINTS, Layout
from chargewright.machine.parameters import Array
from chargewright.machine.points import Engine, Function, Load, Point

PLUG_CONTACTS = (
    {Point.ALT_A, Point.REG_A},
    {Point.ALT_B, Point.REG_B},
    {Point.ALT_C, Point.REG_C},
)
COPPER_OHM = 1000.0  # no winding or wire has more: what is read then is something else
SLOW_RPM = 1800.0  # below it output is close to its beginning and hangs on every volt of EMF
LEADS = LIGHTING_POINTS | {
    *(Point.ALT_A, Point.ALT_B, Point.ALT_C, Point.REG_A, Point.REG_B, Point.REG_C)
}


@dataclass(frozen=True, slots=True)
class ModelError:
    """Standard uncertainty of the model: absolute [V, A or ohm] and relative to the value."""

    absolute: float
    relative: float

    def sigma(self, centre: Array) -> Array:
        """Return the standard deviation at each predicted value (n,)."""
        finite = np.minimum(np.abs(centre), 1e9)
        return np.hypot(self.absolute, self.relative * finite)


@cache
def _table() -> dict[str, ModelError]:
    text = files("chargewright.diagnosis").joinpath("data/model_error.toml").read_text("utf-8")
    return {
        name: ModelError(row["absolute"], row["relative"])
        for name, row in tomllib.loads(text).items()
    }


def kind_of(question: Question, layout: Layout) -> str:
    """Return the row of ``model_error.toml`` that speaks for a question on a layout."""
    state, function = question.state, question.function
    if function is Function.DC_V:
        if state.engine is Engine.CRANKING:
            return "dc_cranking"
        if state.load is not Load.NONE:
            return "dc_load_test"
        if state.engine is not Engine.RUNNING:
            return "dc_rest"
        slow = (state.rpm_max or state.rpm or 0.0) <= SLOW_RPM
        return "dc_idle" if slow else "dc_running"
    if function is Function.AC_V:
        if state.plug_in and set(question.probe) in PLUG_CONTACTS:
            return "ac_drop"
        on_leads = [point in LEADS for point in question.probe]
        if not any(on_leads):
            return "ac_ripple"
        if not state.plug_in:
            on_frame = layout.half_wave or Point.LIGHT_COIL in question.probe
            return "ac_open" if all(on_leads) or on_frame else "ac_open_to_frame"
        return "ac_loaded"
    rows = {
        Function.OHM: "ohm",
        Function.DIODE: "diode",
        Function.DC_A: "dc_a",
        Function.CLAMP_A: "clamp_a",
    }
    if function not in rows:
        raise InputError(f"function {function.value!r} has no model error")
    return rows[function]


def model_sigma(question: Question, centre: Array, layout: Layout) -> Array:
    """Return the model's standard uncertainty (n,) around predicted readings ``centre`` (n,)."""
    table = _table()
    sigma = table[kind_of(question, layout)].sigma(centre)
    if question.function is Function.DC_V:
        sigma = np.minimum(sigma, table["dc_drop"].sigma(centre))
    if question.function is Function.OHM:
        sigma = np.where(centre > COPPER_OHM, table["ohm_no_copper"].sigma(centre), sigma)
    return sigma
