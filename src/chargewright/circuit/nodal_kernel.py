"""The compiled half of ``nodal.py``: one loop over machines, a few small solves in each."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.compiled import compiled, compiled_parallel, cores_loop
from chargewright.machine.parameters import Array

MOST_STEPS = 60
STEP_V = 1e-9  # a Newton step this small ends the search; it converges quadratically
MOST_EXPONENT = 600.0  # keeps exp() finite; the step limit holds real ones far below
TINY_OHM = 1e-9

Indices = NDArray[np.int64]


@compiled
def eliminate_nodes(ends: Indices, siemens: Array, y: Array) -> None:
    """Eliminate nodes 1..k-1 in turn, each star becoming a mesh of the nodes after it.

    ``y`` (k, k) is left with inverse pivots on its diagonal and, below it, the share of an
    ampere put into the column's node that goes on to the row's node. Column 0 is the way to
    node 0.
    """
    k = y.shape[0]
    y[:, :] = 0.0
    for b in range(ends.shape[0]):
        y[ends[b, 0], ends[b, 1]] += siemens[b]
        y[ends[b, 1], ends[b, 0]] += siemens[b]
    for j in range(1, k):
        pivot = y[j, 0]
        for i in range(j + 1, k):
            pivot += y[i, j]
        y[j, j] = 1.0 / pivot
        for i in range(j + 1, k):
            share = y[i, j] * y[j, j]
            if share != 0.0:
                y[i, 0] += share * y[j, 0]
                for p in range(j + 1, i):
                    y[i, p] += share * y[p, j]
        for i in range(j + 1, k):
            y[i, j] *= y[j, j]


@compiled
def impedance(ends: Indices, siemens: Array, y: Array, z: Array) -> None:
    """Fill ``z`` (k, k) with node volts per ampere injected; row and column 0 stay 0.

    Pivots are sums of what is left, never differences, and every step adds positive numbers:
    a part that hangs on 1e-8 S keeps full accuracy beside joints of 1e6 S (the idea of
    Grassmann, Taksar and Heyman, 1985, from memory). ``y`` (k, k) is scratch.
    """
    eliminate_nodes(ends, siemens, y)
    k = y.shape[0]
    # Above the diagonal: the shares by all ways together.
    for col in range(1, k):
        for i in range(col + 1, k):
            total = y[i, col]
            for p in range(col + 1, i):
                total += y[i, p] * y[col, p]
            y[col, i] = total
    z[0, :] = 0.0
    z[:, 0] = 0.0
    for a in range(1, k):
        for p in range(a + 1, k):
            y[0, p] = y[a, p] * y[p, p]
        z[a, a] = y[a, a]
        for p in range(a + 1, k):
            z[a, a] += y[0, p] * y[a, p]
        for b in range(a + 1, k):
            total = y[0, b]
            for p in range(b + 1, k):
                total += y[0, p] * y[b, p]
            z[a, b] = total
            z[b, a] = total


@compiled
def limited_v(new: float, old: float, n_vt: float, sat: float) -> float:
    """Return the new junction voltage, its rise limited where the exponential runs away."""
    critical = n_vt * np.log(n_vt / (1.4142135623730951 * sat))
    if new <= critical or abs(new - old) <= 2.0 * n_vt:
        return new
    if old > 0.0:
        rise = 1.0 + (new - old) / n_vt
        return float(old + n_vt * np.log(rise)) if rise > 0.0 else float(critical)
    return float(n_vt * np.log(max(new / n_vt, 2.0)))


@compiled
def eliminate(jac: Array, f: Array, size: int) -> None:
    """Solve jac * step = f in place by Gauss with row pivoting; the answer is left in ``f``."""
    for col in range(size):
        best = col
        for r in range(col + 1, size):
            if abs(jac[r, col]) > abs(jac[best, col]):
                best = r
        if best != col:
            for c in range(col, size):
                jac[col, c], jac[best, c] = jac[best, c], jac[col, c]
            f[col], f[best] = f[best], f[col]
        for r in range(col + 1, size):
            factor = jac[r, col] / jac[col, col]
            if factor != 0.0:
                for c in range(col + 1, size):
                    jac[r, c] -= factor * jac[col, c]
                f[r] -= factor * f[col]
    for col in range(size - 1, -1, -1):
        for c in range(col + 1, size):
            f[col] -= jac[col, c] * f[c]
        f[col] /= jac[col, col]


@compiled
def junction_amps(
    a: Array,
    w: Array,
    sat: Array,
    n_vt: float,
    x: Array,
    amps: Array,
    slope: Array,
    jac: Array,
    f: Array,
) -> int:
    """Find the junction currents ``amps``; return the steps taken, or -1 without convergence."""
    size = a.shape[0]
    busy = False
    for j in range(size):
        x[j] = a[j]
        if a[j] > 0.0 and sat[j] > 0.0:
            alone = n_vt * np.log1p(a[j] / ((w[j, j] + 1e-9) * sat[j]))
            x[j] = min(a[j], alone)
    for step in range(MOST_STEPS):
        for j in range(size):
            e = np.exp(min(x[j] / n_vt, MOST_EXPONENT))
            amps[j] = sat[j] * (e - 1.0)
            slope[j] = sat[j] * e / n_vt
        for j in range(size):
            f[j] = a[j] - x[j]
            for c in range(size):
                f[j] -= w[j, c] * amps[c]
                jac[j, c] = w[j, c] * slope[c]
            jac[j, j] += 1.0
        eliminate(jac, f, size)
        busy = False
        for j in range(size):
            if sat[j] > 0.0:
                new = limited_v(x[j] + f[j], x[j], n_vt, sat[j])
                busy = busy or abs(new - x[j]) > STEP_V
                x[j] = new
            else:
                x[j] += f[j]
        if not busy:
            for j in range(size):
                amps[j] = sat[j] * (np.exp(min(x[j] / n_vt, MOST_EXPONENT)) - 1.0)
            return step + 1
    return -1


@compiled
def reduce_ports(
    inject: Array,
    anode: Indices,
    cathode: Indices,
    ohm: float,
    z: Array,
    v0: Array,
    zp: Array,
    a0: Array,
    wj: Array,
) -> None:
    """Fill node volts without junctions, and the junction ports' volts and impedances."""
    k = z.shape[0]
    size = anode.shape[0]
    for r in range(k):
        v0[r] = 0.0
        for c in range(k):
            v0[r] += z[r, c] * inject[c]
    for j in range(size):
        a0[j] = v0[anode[j]] - v0[cathode[j]]
        for c in range(k):
            zp[j, c] = z[anode[j], c] - z[cathode[j], c]
    for j in range(size):
        for c in range(size):
            wj[j, c] = zp[j, anode[c]] - zp[j, cathode[c]]
        wj[j, j] += ohm


@compiled_parallel
def probe_all(
    ends: Indices,
    siemens: Array,
    inject: Array,
    anode: Indices,
    cathode: Indices,
    sat: Array,
    n_vt: Array,
    ohm: Array,
    plus: Indices,
    minus: Indices,
    open_v: float,
    series_ohm: float,
    amps_out: Array,
    good: NDArray[np.bool_],
    chunks: int,
) -> None:
    """Fill the meter's current (n, m) for every probe on every machine."""
    n = siemens.shape[0]
    k = inject.shape[1]
    size = anode.shape[0]
    for chunk in cores_loop(chunks):
        y = np.empty((k, k))
        z = np.empty((k, k))
        v0 = np.empty(k)
        zp = np.empty((size, k))
        wj = np.empty((size, size))
        w = np.empty((size, size))
        jac = np.empty((size, size))
        work = np.empty((7, size))
        a0, a, zm, x, f = work[0], work[1], work[2], work[3], work[4]
        amps, slope = work[5], work[6]
        for i in range(chunk, n, chunks):
            impedance(ends, siemens[i], y, z)
            reduce_ports(inject[i], anode, cathode, ohm[i], z, v0, zp, a0, wj)
            for p in range(plus.shape[0]):
                u = plus[p]
                v = minus[p]
                total = series_ohm + (z[u, u] - z[u, v]) - (z[v, u] - z[v, v])
                drop = open_v - (v0[u] - v0[v])
                for j in range(size):
                    zm[j] = zp[j, u] - zp[j, v]
                    a[j] = a0[j] + zm[j] * drop / total
                for j in range(size):
                    for c in range(size):
                        w[j, c] = wj[j, c] - zm[j] * zm[c] / total
                good[i, p] = junction_amps(a, w, sat[i], n_vt[i], x, amps, slope, jac, f) > 0
                for j in range(size):
                    drop += zm[j] * amps[j]
                amps_out[i, p] = drop / total


@compiled_parallel
def solve_all(
    ends: Indices,
    siemens: Array,
    inject: Array,
    anode: Indices,
    cathode: Indices,
    sat: Array,
    n_vt: Array,
    ohm: Array,
    port: Indices,
    volts: Array,
    port_ohm: Array,
    good: NDArray[np.bool_],
    chunks: int,
) -> None:
    """Fill node volts (n, k), and the resistance seen between the two nodes of ``port``."""
    n = siemens.shape[0]
    k = inject.shape[1]
    size = anode.shape[0]
    for chunk in cores_loop(chunks):
        y = np.empty((k, k))
        z = np.empty((k, k))
        v0 = np.empty(k)
        zp = np.empty((size, k))
        wj = np.empty((size, size))
        jac = np.empty((size, size))
        work = np.empty((5, size))
        a0, x, f, amps, slope = work[0], work[1], work[2], work[3], work[4]
        for i in range(chunk, n, chunks):
            impedance(ends, siemens[i], y, z)
            reduce_ports(inject[i], anode, cathode, ohm[i], z, v0, zp, a0, wj)
            good[i] = junction_amps(a0, wj, sat[i], n_vt[i], x, amps, slope, jac, f) > 0
            for r in range(k):
                volts[i, r] = v0[r]
                for j in range(size):
                    volts[i, r] -= zp[j, r] * amps[j]
            u = port[0]
            v = port[1]
            port_ohm[i] = (z[u, u] - z[u, v]) - (z[v, u] - z[v, v])
