"""Wires: resistance by IEC 60228 or AWG, voltage drop, the size to take and its fuse."""

from __future__ import annotations

import math
from dataclasses import dataclass

from chargewright.errors import InputError, nearest
from chargewright.machine.winding import copper_at

# Largest resistance [ohm/km] at 20 C, plain copper, by cross-section [mm2].
IEC_60228_CLASS_5 = {
    0.5: 39.0,
    0.75: 26.0,
    1.0: 19.5,
    1.5: 13.3,
    2.5: 7.98,
    4.0: 4.95,
    6.0: 3.30,
    10.0: 1.91,
    16.0: 1.21,
    25.0: 0.780,
}
IEC_60228_CLASS_2 = {  # class 1 alike up to 10 mm2
    0.5: 36.0,
    0.75: 24.5,
    1.0: 18.1,
    1.5: 12.1,
    2.5: 7.41,
    4.0: 4.61,
    6.0: 3.08,
    10.0: 1.83,
    16.0: 1.15,
    25.0: 0.727,
}
AWG_OHM_M = 17.241e-9  # resistivity of standard annealed copper at 20 C (IACS)

# Greatest fuse [A] that still protects a single flexible copper wire in air (common practice, no
# source), and the sizes blade fuses come in.
FUSE_FOR_MM2 = {
    0.5: 7.5,
    0.75: 10.0,
    1.0: 15.0,
    1.5: 20.0,
    2.5: 30.0,
    4.0: 40.0,
    6.0: 50.0,
    10.0: 70.0,
    16.0: 100.0,
    25.0: 125.0,
}
FUSES_A = (
    *(1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 70.0),
    *(80.0, 100.0, 125.0),
)
FUSE_SHARE = 0.75  # a fuse carries three quarters of its rating for long (common practice)

# Drops [V] quoted as SAE recommendations in a service manual.
DROP_CABLE_V, DROP_CONNECTION_V, DROP_SWITCH_V = 0.2, 0.1, 0.3
HOT_WIRE_C = 60.0  # assumed in a harness near the engine


@dataclass(frozen=True, slots=True, kw_only=True)
class WireChoice:
    """A wire for a load: its size, its drop both ways [V], and the fuse at the battery's end.

    ``fuse_a`` is ``None`` when no fuse is both large enough for the load and safe for the wire.
    """

    mm2: float
    drop_v: float
    drop_share: float
    fuse_a: float | None


def iec_ohm_per_m(mm2: float, *, flexible: bool = True, temp_c: float = 20.0) -> float:
    """Return the largest resistance [ohm/m] of a standard cross-section [mm2], IEC 60228.

    >>> round(1.2 * 20.0 * iec_ohm_per_m(2.5), 3)
    0.192
    """
    table = IEC_60228_CLASS_5 if flexible else IEC_60228_CLASS_2
    if mm2 not in table:
        sizes = ", ".join(f"{size:g}" for size in table)
        raise InputError(f"wire of {mm2:g} mm2 is no standard size; expected one of {sizes}")
    return copper_at(table[mm2] / 1000.0, 20.0, temp_c)


def awg_mm2(gauge: int) -> float:
    """Return the cross-section [mm2] of a solid AWG wire: d = 0.127 mm 92^((36 - n)/39).

    Wire sold by AWG in the vehicle trade is often thinner than this.
    """
    if not 0 <= gauge <= 36:
        raise InputError(f"AWG {gauge}: expected 0 to 36")
    diameter_mm: float = 0.127 * 92.0 ** ((36.0 - gauge) / 39.0)
    return math.pi / 4.0 * diameter_mm * diameter_mm


def awg_ohm_per_m(gauge: int, *, temp_c: float = 20.0) -> float:
    """Return the resistance [ohm/m] of a solid annealed copper AWG wire.

    >>> round(1000.0 * awg_ohm_per_m(14), 3)
    8.285
    """
    return copper_at(AWG_OHM_M / (awg_mm2(gauge) * 1e-6), 20.0, temp_c)


def fuse_for(current_a: float, mm2: float) -> float | None:
    """Return the smallest blade fuse [A] that carries ``current_a`` and protects the wire."""
    fitting = [size for size in FUSES_A if size * FUSE_SHARE >= current_a - 1e-9]
    safe = FUSE_FOR_MM2.get(mm2)
    if safe is None:
        known = nearest(f"{mm2:g}", [f"{size:g}" for size in FUSE_FOR_MM2])
        raise InputError(f"wire of {mm2:g} mm2: no fuse known; {known}")
    return fitting[0] if fitting and fitting[0] <= safe else None


def choose_wire(
    current_a: float,
    length_m: float,
    *,
    drop_v: float = DROP_CABLE_V,
    system_v: float = 13.5,
    temp_c: float = HOT_WIRE_C,
) -> WireChoice:
    """Return the thinnest standard flexible wire for ``current_a`` over ``length_m`` of wire.

    ``length_m`` is all the copper the current goes through, there and back where the return is
    a wire. The wire must keep the drop and be protected by a fuse that carries the load.
    """
    if not 0.0 < current_a <= 200.0 or not 0.0 < length_m <= 50.0:
        raise InputError(
            f"{current_a:g} A over {length_m:g} m: expected up to 200 A and 50 m, above 0"
        )
    if not 0.0 < drop_v <= 2.0:
        raise InputError(f"drop of {drop_v:g} V: expected above 0 up to 2 V")
    for mm2 in IEC_60228_CLASS_5:
        drop = current_a * length_m * iec_ohm_per_m(mm2, temp_c=temp_c)
        fuse_a = fuse_for(current_a, mm2)
        if drop <= drop_v and fuse_a is not None:
            return WireChoice(mm2=mm2, drop_v=drop, drop_share=drop / system_v, fuse_a=fuse_a)
    raise InputError(
        f"{current_a:g} A over {length_m:g} m needs more than 25 mm2 for {drop_v:g} V;"
        " shorten the run or allow more drop"
    )
