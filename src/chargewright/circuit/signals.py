"""What the circuit answers: signals between pairs of test points, for a batch of machines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from chargewright.machine.parameters import Array
from chargewright.machine.points import Point


@dataclass(frozen=True, slots=True)
class Probe:
    """A pair of test points, red probe first.

    For a current the pair names the wire that joins the two points, counted positive
    when it flows from ``plus`` to ``minus``.
    """

    plus: Point
    minus: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Signals:
    """Volts or amperes of m probes on n machines; every array has shape (n, m).

    ``ac_average`` is 1.1107 x mean|v - mean(v)|, what an average-responding meter
    calibrated on a sine shows; ``ac_true_rms`` is the rms of v - mean(v);
    ``frequency_hz`` is that of the fundamental (0 where nothing alternates).
    ``converged`` (n,) tells for each machine whether the periodic steady state was reached.
    """

    dc: Array
    ac_true_rms: Array
    ac_average: Array
    frequency_hz: Array
    converged: NDArray[np.bool_]


def nothing(n: int, m: int) -> Signals:
    """Return signals (n, m) of which none shows anything."""
    zeros = [np.zeros((n, m)) for _ in range(4)]
    return Signals(
        dc=zeros[0],
        ac_true_rms=zeros[1],
        ac_average=zeros[2],
        frequency_hz=zeros[3],
        converged=np.ones(n, dtype=bool),
    )


def added(one: Signals, other: Signals) -> Signals:
    """Return the sum of two signals (n, m) that know nothing of each other."""
    louder = one.ac_true_rms >= other.ac_true_rms
    return Signals(
        dc=one.dc + other.dc,
        ac_true_rms=np.hypot(one.ac_true_rms, other.ac_true_rms),
        ac_average=np.hypot(one.ac_average, other.ac_average),
        frequency_hz=np.where(louder, one.frequency_hz, other.frequency_hz),
        converged=one.converged & other.converged,
    )


def spread(found: Signals, columns: Sequence[int], m: int) -> Signals:
    """Return signals (n, m) that hold ``found`` in some columns and nothing in the others."""
    whole = nothing(len(found.converged), m)
    for field in fields(Signals):
        if field.name != "converged":
            getattr(whole, field.name)[:, columns] = getattr(found, field.name)
    whole.converged[:] = found.converged
    return whole


@dataclass(frozen=True, slots=True, kw_only=True)
class TestSource:
    """A meter's ohms or diode test as a circuit: an open-circuit voltage behind a resistance.

    ``open_v`` [V] is what the leads show open, ``short_a`` [A] what flows when they touch.
    """

    __test__ = False  # not a pytest class

    open_v: float
    short_a: float

    @property
    def series_ohm(self) -> float:
        """Internal resistance of the source [ohm]."""
        return self.open_v / self.short_a


@dataclass(frozen=True, slots=True, kw_only=True)
class TestResult:
    """Answer of the machine to a test source; arrays of shape (n, m).

    ``volts`` stands across the probe tips, ``amps`` flows out of the red tip.
    """

    __test__ = False

    volts: Array
    amps: Array
