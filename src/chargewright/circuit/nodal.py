"""Direct currents in a network of conductances, sources and up to six rectifier junctions.

The linear part is reduced once per machine to its impedance matrix Z (node voltages per
ampere injected). Junctions and the meter are ports on it, so one probe costs a few Newton
steps on a 6 x 6 system:

    x + (W + r) i(x) = a,    i(x) = i_s (exp(x / n_vt) - 1)

x junction volts without their ohmic part r, a the ports' volts with the junctions removed,
W the ports' impedance seen through the meter. W is positive semidefinite and i rises with x,
so there is exactly one answer (textbook nodal analysis; the step limit is the classic one of
circuit simulators, after L. Nagel, SPICE2, 1975, from memory).

Two forms of one solver: a loop over machines compiled with numba (``nodal_kernel.py``), and
whole-array NumPy (``nodal_plain.py``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit import nodal_kernel, nodal_plain
from chargewright.circuit.compiled import HAVE_NUMBA
from chargewright.circuit.nodal_kernel import Indices
from chargewright.circuit.signals import TestSource
from chargewright.machine.parameters import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """A batch of n networks of one shape; node 0 is the reference.

    ``ends`` (b, 2) nodes of each branch, ``siemens`` (n, b) its conductance;
    ``inject_a`` (n, k) source current into each node;
    ``anode`` and ``cathode`` (6,) nodes of the junctions, ``sat_a`` (n, 6) their saturation
    currents (0 = absent), ``n_vt`` (n,) emission voltage, ``junction_ohm`` (n,) ohmic part.
    """

    ends: Indices
    siemens: Array
    inject_a: Array
    anode: Indices
    cathode: Indices
    sat_a: Array
    n_vt: Array
    junction_ohm: Array

    @property
    def weights(self) -> Array:
        """Incidence of the junctions: (6, k), +1 at the anode and -1 at the cathode."""
        e = np.zeros((self.anode.size, self.inject_a.shape[1]))
        rows = np.arange(self.anode.size)
        e[rows, self.anode] += 1.0
        e[rows, self.cathode] -= 1.0
        return e


def probe(
    net: Network, plus: Indices, minus: Indices, source: TestSource, *, plain: bool = not HAVE_NUMBA
) -> tuple[Array, NDArray[np.bool_]]:
    """Return the meter's current [A] and whether it converged, both (n, m).

    The meter drives ``source`` into node ``plus[i]`` and takes it back from ``minus[i]``.
    """
    n = net.siemens.shape[0]
    amps = np.zeros((n, plus.size))
    good = np.zeros((n, plus.size), dtype=np.bool_)
    if plain:
        _probe_plain(net, plus, minus, source, amps, good)
    else:
        tail = (plus, minus, source.open_v, source.series_ohm, amps, good, _chunks(n))
        arguments = (*_kernel_arguments(net), *tail)
        nodal_kernel.probe_all(*arguments)
    return amps, good


def solve(
    net: Network, port: tuple[int, int] = (0, 0), *, plain: bool = not HAVE_NUMBA
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return node volts (n, k), ohms seen between two nodes (n,), and convergence (n,).

    The ohms are those of the linear part, junctions off.
    """
    n, k = net.inject_a.shape
    if plain:
        z = nodal_plain.impedances(net.ends, net.siemens, k)
        volts, good = _volts_plain(net, z)
        u, v = port
        return volts, z[:, u, u] - z[:, u, v] - (z[:, v, u] - z[:, v, v]), good
    volts = np.zeros((n, k))
    port_ohm = np.zeros(n)
    good = np.zeros(n, dtype=np.bool_)
    tail = (np.array(port, dtype=np.int64), volts, port_ohm, good, _chunks(n))
    arguments = (*_kernel_arguments(net), *tail)
    nodal_kernel.solve_all(*arguments)
    return volts, port_ohm, good


def _chunks(n: int) -> int:
    return max(1, min(16, n))


def _kernel_arguments(net: Network) -> tuple[Any, ...]:
    return (
        net.ends,
        np.ascontiguousarray(net.siemens),
        np.ascontiguousarray(net.inject_a),
        net.anode,
        net.cathode,
        np.ascontiguousarray(net.sat_a),
        np.ascontiguousarray(net.n_vt),
        np.ascontiguousarray(net.junction_ohm),
    )


def _ports_plain(net: Network, z: Array) -> tuple[Array, Array, Array, Array]:
    """Return node volts, junction-to-node and port impedances, port volts; junctions removed."""
    e = net.weights
    v0 = np.einsum("nrc,nc->nr", z, net.inject_a)
    zp = np.einsum("jr,nrc->njc", e, z)
    w = np.einsum("njc,lc->njl", zp, e) + net.junction_ohm[:, None, None] * np.eye(len(e))
    return v0, zp, w, v0 @ e.T


def _volts_plain(net: Network, z: Array) -> tuple[Array, NDArray[np.bool_]]:
    v0, zp, w, a = _ports_plain(net, z)
    amps, good = nodal_plain.junction_amps(a, w, net.sat_a, net.n_vt)
    return v0 - np.einsum("njc,nj->nc", zp, amps), good


def _probe_plain(
    net: Network,
    plus: Indices,
    minus: Indices,
    source: TestSource,
    amps: Array,
    good: NDArray[np.bool_],
) -> None:
    z = nodal_plain.impedances(net.ends, net.siemens, net.inject_a.shape[1])
    v0, zp, w0, a0 = _ports_plain(net, z)
    for p, (u, v) in enumerate(zip(plus, minus, strict=True)):
        total = source.series_ohm + z[:, u, u] - z[:, u, v] - (z[:, v, u] - z[:, v, v])
        free = source.open_v - (v0[:, u] - v0[:, v])
        zm = zp[:, :, u] - zp[:, :, v]
        w = w0 - zm[:, :, None] * zm[:, None, :] / total[:, None, None]
        a = a0 + zm * (free / total)[:, None]
        through, good[:, p] = nodal_plain.junction_amps(a, w, net.sat_a, net.n_vt)
        amps[:, p] = (free + np.einsum("nj,nj->n", zm, through)) / total
