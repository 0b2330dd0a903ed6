"""Currents in wires: the same names and signs whatever the engine does (Kirchhoff's first law)."""

from __future__ import annotations

import numpy as np
import pytest

from chargewright.circuit import observe
from chargewright.circuit.signals import Probe
from chargewright.circuit.wires import wire_between, wires
from chargewright.errors import InputError
from chargewright.machine.layout import ChargeTo, Layout, Sense
from chargewright.machine.parameters import COUNT, INDEX, healthy_row
from chargewright.machine.points import Engine, Point, State

P = Point
RUNNING = State(engine=Engine.RUNNING, rpm=4000, key_on=True, lights_on=True)
OFF = State(key_on=True, lights_on=True)
LAYOUTS = [
    Layout(charge_to=to, sense=sense) for to in ChargeTo for sense in (Sense.OUTPUT, Sense.LEAD)
]


def amps(layout: Layout, state: State, plus: Point, minus: Point) -> float:
    """Return the mean current of one wire of the reference machine, half charged."""
    params = healthy_row().reshape(1, COUNT)
    params[0, INDEX["soc"]] = 0.5
    found = observe.signals(layout, params, state, amps=[Probe(plus, minus)])[1]
    return float(found.dc[0, 0])


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("state", [RUNNING, OFF])
def test_every_wire_of_the_table_can_be_read_in_every_state(layout: Layout, state: State) -> None:
    for plus, minus in wires(layout):
        there, back = amps(layout, state, plus, minus), amps(layout, state, minus, plus)
        assert np.isfinite(there)
        assert there == pytest.approx(-back, abs=1e-9)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_signs_agree_between_running_and_standing(layout: Layout) -> None:
    """Current leaves the battery's plus with the engine off and enters it while charging."""
    drawn = amps(layout, OFF, P.FRAME, P.BATTERY_NEG)
    charged = amps(layout, RUNNING, P.FRAME, P.BATTERY_NEG)
    assert drawn > 5.0
    assert charged < -1.0
    assert amps(layout, OFF, P.STARTER_POS, P.BATTERY_POS) == pytest.approx(0.0, abs=1e-3)
    assert amps(layout, RUNNING, P.STARTER_POS, P.BATTERY_POS) == 0.0


def test_what_the_output_gives_goes_to_battery_and_loads() -> None:
    """Harness layout: the fuse carries the output less the loads, which return by the frame."""
    layout = Layout()
    output = amps(layout, RUNNING, P.REG_OUT, P.FUSE_OUT)
    fuse = amps(layout, RUNNING, P.BATTERY_POS, P.FUSE_OUT)
    cable = amps(layout, RUNNING, P.FRAME, P.BATTERY_NEG)
    assert fuse == pytest.approx(cable, rel=1e-6)
    params = healthy_row().reshape(1, COUNT)
    params[0, INDEX["soc"]] = 0.5
    at = observe.signals(layout, params, RUNNING, volts=[Probe(P.FUSE_OUT, P.FRAME)])[0]
    loads_a = float(at.dc[0, 0]) * (11.0 / 13.5 + 0.001 / 12.6)  # 11 A at 13.5 V and the drain
    assert output + fuse == pytest.approx(loads_a, rel=1e-6)


def test_no_single_wire() -> None:
    with pytest.raises(InputError, match="no single wire joins"):
        wire_between(Layout(), Probe(P.ALT_A, P.FRAME))
