"""The NumPy half of ``nodal.py``: the same answers from whole arrays, no compiler needed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from chargewright.circuit.nodal_kernel import MOST_EXPONENT, MOST_STEPS, STEP_V, TINY_OHM, Indices
from chargewright.machine.parameters import Array


def impedances(ends: Indices, siemens: Array, k: int) -> Array:
    """Return the impedance matrices (n, k, k), row and column 0 zero; as ``impedance``."""
    n = siemens.shape[0]
    g = np.zeros((n, k, k))
    for b, (u, v) in enumerate(ends):
        g[:, u, v] += siemens[:, b]
        g[:, v, u] += siemens[:, b]
    inverse = np.zeros((n, k, k))
    inverse[:, range(1, k), range(1, k)] = 1.0
    pivots = np.ones((n, k))
    for j in range(1, k):
        rest = np.r_[0, j + 1 : k]
        pivots[:, j] = g[:, j, rest].sum(axis=1)
        share = g[:, j, rest] / pivots[:, j, None]
        g[:, rest[:, None], rest] += share[:, :, None] * g[:, j, rest][:, None, :]
        # An ampere into node j arrives at each remaining node in these shares.
        inverse[:, j + 1 :, :] += share[:, 1:, None] * inverse[:, j, None, :]
    scaled = inverse[:, 1:] / pivots[:, 1:, None]
    return np.asarray(np.einsum("npa,npb->nab", inverse[:, 1:], scaled))


def _limited_v(new: Array, old: Array, n_vt: Array, sat: Array) -> Array:
    """Limit the rise of junction volts, as the kernel does, on arrays of one shape."""
    sat = np.where(sat > 0.0, sat, 1e-30)
    critical = n_vt * np.log(n_vt / (np.sqrt(2.0) * sat))
    rise = 1.0 + (new - old) / n_vt
    forward = np.where(rise > 0.0, old + n_vt * np.log(np.maximum(rise, 1e-300)), critical)
    start = n_vt * np.log(np.maximum(new / n_vt, 2.0))
    limited = np.where(old > 0.0, forward, start)
    tame = (new <= critical) | (np.abs(new - old) <= 2.0 * n_vt)
    return np.where(tame, new, limited)


def junction_amps(a: Array, w: Array, sat: Array, n_vt: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Return junction currents (q, 6) and which of the q systems converged."""
    n_vt = n_vt[:, None]
    alone_ohm = np.diagonal(w, axis1=1, axis2=2) + TINY_OHM
    alone = n_vt * np.log1p(np.maximum(a, 0.0) / (alone_ohm * np.where(sat > 0.0, sat, 1.0)))
    x = np.where((a > 0.0) & (sat > 0.0), np.minimum(a, alone), a)
    done = np.zeros(a.shape[0], dtype=np.bool_)
    for _ in range(MOST_STEPS):
        e = np.exp(np.minimum(x / n_vt, MOST_EXPONENT))
        slope = sat * e / n_vt
        residual = a - x - np.einsum("qjc,qc->qj", w, sat * (e - 1.0))
        jac = w * slope[:, None, :] + np.eye(a.shape[1])
        step = np.linalg.solve(jac, residual[:, :, None])[:, :, 0]
        new = np.where(sat > 0.0, _limited_v(x + step, x, n_vt, sat), x + step)
        moved = np.where(sat > 0.0, np.abs(new - x), 0.0).max(axis=1)
        x = np.where(done[:, None], x, new)
        done |= moved <= STEP_V
        if done.all():
            break
    return sat * (np.exp(np.minimum(x / n_vt, MOST_EXPONENT)) - 1.0), done
