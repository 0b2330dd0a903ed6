"""A decision problem laid out for matrix products: all outcome columns side by side."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from chargewright.diagnosis.problem import Array, Mask, Problem, Situation

MEAN_RUN = 3  # below this many worlds per run one dense product is quicker (measured)
ONE_THREAD = 2**18  # multiply-adds; above this OpenBLAS, which NumPy brings along, wakes its pool


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """A situation as arrays: open nodes (a,), mode, used checks (c,)."""

    opened: Mask
    mode: int
    used: Mask


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stacked:
    """Arrays of a problem over n worlds, d decisions, c checks and K outcome columns in all.

    ``table`` (n, K) holds every outcome law side by side; check i owns the columns
    ``starts[i]:stops[i]``. ``worlds`` (n,) are the problem's worlds in the order kept here:
    sorted into runs that lose alike under every decision, run g being
    ``edges[g]:edges[g + 1]``. ``rows`` (d + 2, G) holds one column per run: the loss matrix,
    then a bound on the least cost of going on were the world known, then ones.
    """

    problem: Problem
    worlds: NDArray[np.intp]
    edges: NDArray[np.intp]
    table: Array
    starts: NDArray[np.intp]
    stops: NDArray[np.intp]
    owner: NDArray[np.intp]
    ends: Mask
    rows: Array
    minutes: Array
    extra: Array
    need: Mask
    mode: NDArray[np.intp]
    decision_need: Mask
    node_minutes: Array
    blur: Array

    @property
    def decisions(self) -> int:
        """Number of decisions."""
        return len(self.problem.loss)

    def spread(self, beliefs: Array) -> Array:
        """Return ``rows`` summed over the worlds of each belief and outcome, (d + 2, m, K).

        Worlds that lose alike are added up before the losses are applied: with 20 decisions
        and a loss that depends on the cause only, about 15 times fewer products.
        """
        m, runs = len(beliefs), len(self.edges) - 1
        width = self.table.shape[1]
        if runs > len(self.worlds) // MEAN_RUN:
            rows = np.repeat(self.rows, np.diff(self.edges), axis=1)
            losses = (rows[:, None, :] * beliefs).reshape(-1, beliefs.shape[1])
            return _on_one_thread(losses, self.table).reshape(len(rows), m, width)
        mass = np.empty((runs, m, width))
        for g, (a, b) in enumerate(pairwise(self.edges)):
            _on_one_thread(beliefs[:, a:b], self.table[a:b], out=mass[g])
        return _on_one_thread(self.rows, mass.reshape(runs, -1)).reshape(-1, m, width)

    def losses(self, beliefs: Array) -> Array:
        """Return the unnormalised loss of each decision under each belief, (m, d) [min]."""
        lumped = np.add.reduceat(beliefs, self.edges[:-1], axis=1)
        result: Array = lumped @ self.rows[: self.decisions].T
        return result

    def state(self, situation: Situation) -> State:
        """Return ``situation`` as arrays."""
        used = np.zeros(len(self.problem.checks), dtype=bool)
        used[list(situation.used)] = True
        return State(self.problem.costs.closure(situation.opened), situation.mode, used)

    def after(self, state: State, check: int) -> State:
        """Return the state once ``check`` has been made."""
        used = state.used.copy()
        used[check] = True
        wanted = int(self.mode[check])
        mode = state.mode if wanted < 0 else wanted
        return State(state.opened | self.need[check], mode, used)

    def first_minutes(self, state: State) -> Array:
        """Return what each check costs from ``state``, set-up included, (c,) [min]."""
        opening = (self.need & ~state.opened) @ self.node_minutes
        switch = np.asarray(self.problem.costs.switch_minutes, dtype=float)[state.mode]
        switching = np.where(self.mode < 0, 0.0, switch[np.maximum(self.mode, 0)])
        total: Array = self.minutes + opening + switching
        return total

    def decision_minutes(self, opened: Mask) -> Array:
        """Return what must still be opened for each decision, (d,) or (d, ...) [min].

        ``opened`` is (a,) or (c, a); the result is (d,) or (d, c).
        """
        if opened.ndim == 1:
            single: Array = (self.decision_need & ~opened) @ self.node_minutes
            return single
        many: Array = (self.decision_need[:, None, :] & ~opened) @ self.node_minutes
        return many


def _on_one_thread(left: Array, right: Array, out: Array | None = None) -> Array:
    """Return ``left @ right`` in pieces small enough that the library keeps to one thread.

    Products here are short; handing them to a pool of threads saves little on an idle machine
    and costs much on a busy one (median of a plan on two busy cores: 107 to 143 ms in pieces,
    143 to 325 ms whole).
    """
    width = right.shape[1]
    result = np.empty((len(left), width)) if out is None else out
    piece = max(1, ONE_THREAD // max(1, left.size))
    for a in range(0, width, piece):
        np.matmul(left, right[:, a : a + piece], out=result[:, a : a + piece])
    return result


def stack(problem: Problem, keep: Mask | None = None) -> Stacked:
    """Return ``problem`` as arrays, restricted to the worlds in ``keep`` (n,)."""
    worlds, edges = _runs_of_equal_loss(problem, keep)
    n = len(worlds)
    checks = problem.checks
    laws = [np.asarray(check.outcomes, dtype=float)[worlds] for check in checks]
    widths = np.array([law.shape[1] for law in laws], dtype=np.intp)
    stops = np.cumsum(widths, dtype=np.intp)
    extra = np.zeros((len(checks), n))
    for i, check in enumerate(checks):
        if check.extra_minutes is not None:
            extra[i] = np.asarray(check.extra_minutes, dtype=float)[worlds]
    nodes = len(problem.costs.access_minutes)
    loss = np.ascontiguousarray(np.asarray(problem.loss, dtype=float)[:, worlds])
    fields: dict[str, Any] = {
        "problem": problem,
        "worlds": worlds,
        "edges": edges,
        "table": np.hstack(laws) if laws else np.zeros((n, 0)),
        "starts": stops - widths,
        "stops": stops,
        "owner": np.repeat(np.arange(len(checks), dtype=np.intp), widths),
        "ends": _joined([check.ending for check in checks]),
        "minutes": np.array([check.minutes for check in checks], dtype=float),
        "extra": extra,
        "need": _closures(problem, [check.access for check in checks], nodes),
        "mode": np.array([-1 if c.mode is None else c.mode for c in checks], dtype=np.intp),
        "decision_need": _closures(
            problem, list(problem.decision_access) or [frozenset()] * len(loss), nodes
        ),
        "node_minutes": np.array(problem.costs.access_minutes, dtype=float),
        "blur": np.array([_row_entropy(law) for law in laws]).reshape(len(laws), n),
    }
    floor = np.minimum.reduceat(_going_on_floor(loss, laws, fields), edges[:-1])
    rows = np.vstack([loss[:, edges[:-1]], floor, np.ones(len(edges) - 1)])
    return Stacked(rows=rows, **fields)


def _runs_of_equal_loss(
    problem: Problem, keep: Mask | None
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the kept worlds sorted into runs of equal loss columns, and the runs' edges."""
    loss = np.asarray(problem.loss, dtype=float)
    kept = np.arange(loss.shape[1]) if keep is None else np.flatnonzero(keep)
    _, run = np.unique(loss[:, kept], axis=1, return_inverse=True)
    run = run.reshape(-1)
    order = np.argsort(run, kind="stable")
    edges = np.concatenate([[0], np.cumsum(np.bincount(run))])
    return kept[order].astype(np.intp), edges.astype(np.intp)


def _joined(parts: list[Mask]) -> Mask:
    return np.concatenate(parts) if parts else np.zeros(0, dtype=bool)


def _closures(problem: Problem, sets: list[frozenset[int]], nodes: int) -> Mask:
    closed = [problem.costs.closure(nodes_needed) for nodes_needed in sets]
    return np.array(closed, dtype=bool).reshape(len(sets), nodes)


def _row_entropy(law: Array) -> Array:
    """Entropy of each row in bits (n,): what a check leaves open even in a known world."""
    safe = np.where(law > 0.0, law, 1.0)
    entropy: Array = -np.sum(law * np.log2(safe), axis=1)
    return entropy


def _going_on_floor(loss: Array, laws: list[Array], fields: dict[str, Any]) -> Array:
    """Least cost of going on in each world (n,), were the world known.

    Going on means at least the cheapest check and then the right decision, or an ending
    outcome with the cost of the check that has it. No policy that goes on can beat it.
    """
    if not laws:
        return np.full(loss.shape[1], np.inf)
    floor: Array = fields["minutes"].min() + loss.min(axis=0)
    for i, law in enumerate(laws):
        ending = fields["ends"][fields["owner"] == i]
        reachable = law[:, ending].sum(axis=1) > 0.0
        cost = fields["minutes"][i] + fields["extra"][i]
        floor = np.where(reachable, np.minimum(floor, cost), floor)
    return floor
