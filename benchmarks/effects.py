"""Prints how big each effect is that fools technicians, on the typical sport machine.

Run from the root of the repository: ``python -m benchmarks.effects``. The figures are quoted in
docs/model.md; ``tests/circuit/test_effects.py`` holds them to their size and sign.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from chargewright.circuit.observe import signals, under_test
from chargewright.circuit.signals import Probe, TestSource
from chargewright.machine.conditioning import load_class
from chargewright.machine.layout import ChargeTo, Layout
from chargewright.machine.parameters import INDEX, Array
from chargewright.machine.points import Engine, Point, State, Warmth

P = Point
MACHINE = load_class("sport-600-1000")
LAYOUT: Layout = MACHINE.layout
OHMS = TestSource(open_v=0.6, short_a=1e-3)
BATTERY = Probe(P.BATTERY_POS, P.BATTERY_NEG)
PAIR = Probe(P.ALT_A, P.ALT_B)
COLD, HOT = Warmth.COLD, Warmth.HOT
Figures = Mapping[str, float]


def typical(**changed: float) -> Array:
    """Return the typical unit with some parameters changed, (1, COUNT)."""
    values = MACHINE.typical() | changed
    row = np.zeros(len(INDEX))
    for name, index in INDEX.items():
        row[index] = values[name]
    return row[None, :]


def state(rpm: float, *, warmth: Warmth = COLD, plug_in: bool = True, lights: bool = True) -> State:
    """Return a running state whose speed is known."""
    return State(
        engine=Engine.RUNNING, rpm=rpm, rpm_rel_u=0.0, key_on=True, lights_on=lights,
        plug_in=plug_in, warmth=warmth,
    )  # fmt: skip


def dc(params: Array, at: State, probe: Probe = BATTERY) -> float:
    """Return direct volts."""
    return float(signals(LAYOUT, params, at, volts=[probe])[0].dc[0, 0])


def ac(params: Array, at: State, probe: Probe) -> tuple[float, float]:
    """Return alternating volts: true rms and average-responding."""
    found = signals(LAYOUT, params, at, volts=[probe])[0]
    return float(found.ac_true_rms[0, 0]), float(found.ac_average[0, 0])


def ohms(params: Array, probe: Probe, warmth: Warmth = COLD) -> float:
    """Return ohms with the plug open and the battery off."""
    bench = State(plug_in=False, battery_in=False, warmth=warmth)
    found = under_test(LAYOUT, params, bench, [probe], OHMS)
    return float(found.volts[0, 0] / found.amps[0, 0])


def copper_temperature() -> Figures:
    """Ohms between two leads, cold and hot."""
    return {"cold ohm": ohms(typical(), PAIR), "hot ohm": ohms(typical(), PAIR, HOT)}


def magnet_temperature() -> Figures:
    """Open AC volts at 5000 rpm, cold and hot."""
    cold, hot = (ac(typical(), state(5000, warmth=w, plug_in=False), PAIR)[0] for w in (COLD, HOT))
    return {"cold V": cold, "hot V": hot}


def set_point_temperature() -> Figures:
    """Battery volts at 5000 rpm, cold and hot."""
    return {f"{w} V": dc(typical(), state(5000, warmth=w)) for w in (COLD, HOT)}


def good_cold_fails_hot() -> Figures:
    """The same with a regulator that cuts off nine tenths of the time when hot."""
    bad = typical(cut_min_hot=0.9)
    return {f"{w} V": dc(bad, state(5000, warmth=w)) for w in (COLD, HOT)}


def flat_battery() -> Figures:
    """Running volts at 3000 rpm of a sound machine on a charged and on a flat battery."""
    return {
        "charged V": dc(typical(soc=0.95), state(3000)),
        "flat V": dc(typical(soc=0.05), state(3000)),
    }


def quasi_square_wave() -> Figures:
    """AC between connected leads at 5000 rpm, all the output wanted, by two kinds of meter."""
    rms, average = ac(typical(cut_max=0.0), state(5000), PAIR)
    return {"true rms V": rms, "average V": average}


def ripple_filtered() -> Figures:
    """AC at the battery, whole and with one junction open, on a sound and an open battery."""
    whole, faulty = typical(soc=0.2), typical(soc=0.2, up_open_a=1.0)
    open_battery = typical(battery_ohm=5.0)
    return {
        "sound V": ac(whole, state(3000), BATTERY)[0],
        "open junction V": ac(faulty, state(3000), BATTERY)[0],
        "battery 5 ohm V": ac(open_battery, state(3000), BATTERY)[0],
    }


def load_at_regulator_or_battery() -> Figures:
    """Battery volts with 0.2 ohm in the fuse, output led to the harness and to the battery."""
    bad = typical(fuse_ohm=0.2)
    return {
        f"{to.value} V": float(
            signals(replace(LAYOUT, charge_to=to), bad, state(5000), volts=[BATTERY])[0].dc[0, 0]
        )
        for to in ChargeTo
    }


def loose_ground() -> Figures:
    """Drop across a regulator ground of 0.15 ohm: charging hard, and at rest with the key on."""
    bad = typical(reg_ground_ohm=0.15, soc=0.2)
    probe = Probe(P.FRAME, P.REG_BODY)
    return {
        "charging V": dc(bad, state(3000), probe),
        "key on V": dc(bad, State(key_on=True), probe),
    }


def turns_short() -> Figures:
    """An eighth of one winding's turns gone: change of ohms and of open AC volts."""
    part = 1.0 - 1.0 / 8.0
    whole = typical()
    short = typical(
        **{f"{name}_a": MACHINE.typical()[f"{name}_a"] * part
           for name in ("emf_v_per_krpm", "winding_ohm", "winding_h")}
    )  # fmt: skip
    at = state(5000, plug_in=False)
    return {
        "ohm less": ohms(whole, PAIR) - ohms(short, PAIR),
        "AC V less": ac(whole, at, PAIR)[0] - ac(short, at, PAIR)[0],
    }


def ground_fault_plugged_in() -> Figures:
    """A lead grounded through 1 ohm: pairs read sound unplugged, output falls plugged in."""
    bad = typical(stator_leak_s=1.0, stator_leak_at=1.0)
    open_at = state(5000, plug_in=False)
    probe = Probe(P.REG_OUT, P.FUSE_OUT)

    def output_a(params: Array) -> float:
        flat = params.copy()
        flat[:, INDEX["soc"]] = 0.2
        return float(signals(LAYOUT, flat, state(3000), amps=[probe])[1].dc[0, 0])

    return {
        "open pair, share": ac(bad, open_at, PAIR)[0] / ac(typical(), open_at, PAIR)[0],
        "output, share": output_a(bad) / output_a(typical()),
    }


def damp_plug() -> Figures:
    """A kilohm of damp from plug to frame: ohms to frame unplugged, and volts lost running."""
    bad = typical(harness_leak_s=1e-3)
    found = under_test(
        LAYOUT, bad, State(plug_in=False, battery_in=False), [Probe(P.REG_A, P.FRAME)], OHMS
    )
    return {
        "harness ohm": float(found.volts[0, 0] / found.amps[0, 0]),
        "stator ohm": ohms(bad, Probe(P.ALT_A, P.FRAME)),
        "V lost": dc(typical(), state(3000)) - dc(bad, state(3000)),
    }


EFFECTS: tuple[Callable[[], Figures], ...] = (
    copper_temperature,
    magnet_temperature,
    set_point_temperature,
    good_cold_fails_hot,
    flat_battery,
    quasi_square_wave,
    ripple_filtered,
    load_at_regulator_or_battery,
    loose_ground,
    turns_short,
    ground_fault_plugged_in,
    damp_plug,
)


def main() -> None:
    """Print the table."""
    for effect in EFFECTS:
        told = (effect.__doc__ or "").split("\n")[0]
        print(f"{effect.__name__.replace('_', ' ')}: {told}")
        print("   ", ", ".join(f"{name} {value:.4g}" for name, value in effect().items()))


if __name__ == "__main__":
    main()
