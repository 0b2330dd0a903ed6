"""The decision problem as plain arrays: worlds, decisions, checks, access and modes.

Nothing here knows of circuits or meters. A *world* is one virtual machine with a weight; a
*check* turns a world into an outcome (a bin of readings, or "runs now" after a repair tried);
a *decision* ends the job and costs what the loss matrix says. One unit of cost: minutes.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from chargewright.errors import InputError

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

ROW_SUM_TOLERANCE = 1e-6  # outcome laws come from sums of normal tails; rounding stays far below


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Check:
    """One look, or one repair tried, that may be used at most once in a job.

    ``outcomes`` (n, k) is P(outcome | world); rows sum to 1. ``minutes`` is its own cost,
    without access and mode change. ``access`` are the nodes that must be open, ``mode`` the
    machine mode it needs (None: any). ``ends`` (k) marks outcomes that end the job at no
    further cost; empty means none. ``extra_minutes`` (n,) is a cost that depends on the world
    and not on the outcome, such as the parts of a repair paid only where that part is at fault.
    """

    name: str
    outcomes: Array
    minutes: float
    access: frozenset[int] = frozenset()
    mode: int | None = None
    ends: tuple[bool, ...] = ()
    extra_minutes: Array | None = None
    labels: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        table = np.asarray(self.outcomes, dtype=float)
        if table.ndim != 2 or table.shape[1] == 0:
            raise InputError(
                f"check {self.name!r}: outcomes of shape {table.shape}, expected (n, k)"
            )
        worst = float(np.max(np.abs(table.sum(axis=1) - 1.0), initial=0.0))
        # written so that a NaN anywhere fails too
        if not (np.all(table >= 0.0) and worst <= ROW_SUM_TOLERANCE):
            raise InputError(
                f"check {self.name!r}: outcome rows must be probabilities that sum to 1,"
                f" smallest entry {table.min():.3g}, worst sum off by {worst:.3g}"
            )
        if not (np.isfinite(self.minutes) and self.minutes >= 0.0):
            raise InputError(f"check {self.name!r}: minutes {self.minutes:g}, expected 0 or more")
        for what, given in (("ends", len(self.ends)), ("labels", len(self.labels))):
            if given not in (0, table.shape[1]):
                raise InputError(
                    f"check {self.name!r}: {given} {what} for {table.shape[1]} outcomes"
                )
        if self.extra_minutes is not None:
            extra = np.asarray(self.extra_minutes, dtype=float)
            if extra.shape != table.shape[:1] or not np.all((extra >= 0) & np.isfinite(extra)):
                raise InputError(
                    f"check {self.name!r}: extra minutes of shape {extra.shape}, expected"
                    f" {table.shape[:1]} of finite values, 0 or more"
                )

    @property
    def ending(self) -> Mask:
        """Which outcomes end the job, shape (k,)."""
        return np.array(self.ends or (False,) * self.outcomes.shape[1], dtype=bool)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Costs:
    """What set-up costs: access as a tree, modes as a matrix.

    Opening node i costs ``access_minutes[i]`` (closing again included), once, and needs its
    parent ``access_parent[i]`` open (-1: none); a parent is listed before its children.
    ``switch_minutes`` (m, m) is the cost from the row's mode to the column's.
    """

    access_minutes: tuple[float, ...] = ()
    access_parent: tuple[int, ...] = ()
    switch_minutes: Array = field(default_factory=lambda: np.zeros((1, 1)))

    def __post_init__(self) -> None:
        if len(self.access_minutes) != len(self.access_parent):
            raise InputError(
                f"access tree: {len(self.access_minutes)} costs"
                f" for {len(self.access_parent)} parents"
            )
        for node, (parent, minutes) in enumerate(
            zip(self.access_parent, self.access_minutes, strict=True)
        ):
            if not -1 <= parent < node:
                raise InputError(
                    f"access node {node}: parent {parent}, expected -1 or a node listed before it"
                )
            if not (np.isfinite(minutes) and minutes >= 0.0):
                raise InputError(f"access node {node}: {minutes:g} minutes, expected 0 or more")
        switch = np.asarray(self.switch_minutes, dtype=float)
        if switch.ndim != 2 or switch.shape[0] != switch.shape[1] or switch.shape[0] == 0:
            raise InputError(f"mode switch costs of shape {switch.shape}, expected (m, m)")
        if not np.all((switch >= 0.0) & np.isfinite(switch)):
            raise InputError("mode switch costs must be finite minutes, 0 or more")

    def closure(self, nodes: frozenset[int]) -> Mask:
        """Return which nodes must be open for ``nodes``, ancestors included, shape (a,)."""
        need = np.zeros(len(self.access_parent), dtype=bool)
        for start in nodes:
            if not 0 <= start < len(need):
                raise InputError(f"access node {start} is unknown, expected 0 to {len(need) - 1}")
            node = start
            while node >= 0:
                need[node] = True
                node = self.access_parent[node]
        return need


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """Where the job stands: nodes already open, machine mode, checks already used."""

    opened: frozenset[int] = frozenset()
    mode: int = 0
    used: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Problem:
    """Decisions, checks and set-up costs over n worlds.

    ``loss`` (d, n) is the cost in minutes of ending with a decision in a world.
    ``decision_access`` names, per decision, nodes that must be opened for it if they are not
    open yet (the cover a repair needs is not paid again after a look behind it); empty: none.
    """

    loss: Array
    checks: tuple[Check, ...]
    costs: Costs = field(default_factory=Costs)
    decisions: tuple[str, ...] = ()
    decision_access: tuple[frozenset[int], ...] = ()

    def __post_init__(self) -> None:
        loss = np.asarray(self.loss, dtype=float)
        if loss.ndim != 2 or 0 in loss.shape or not np.all(np.isfinite(loss)):
            raise InputError(f"loss of shape {loss.shape}, expected (d, n) of finite minutes")
        for given, what in (
            (self.decisions, "decision names"),
            (self.decision_access, "decision accesses"),
        ):
            if len(given) not in (0, loss.shape[0]):
                raise InputError(f"{len(given)} {what} for {loss.shape[0]} decisions")
        modes = len(self.costs.switch_minutes)
        for check in self.checks:
            if check.outcomes.shape[0] != loss.shape[1]:
                raise InputError(
                    f"check {check.name!r} speaks of {check.outcomes.shape[0]} worlds,"
                    f" the loss matrix of {loss.shape[1]}"
                )
            if check.mode is not None and not 0 <= check.mode < modes:
                raise InputError(
                    f"check {check.name!r}: mode {check.mode} is unknown, expected 0 to {modes - 1}"
                )
            self.costs.closure(check.access)

    def decision_name(self, index: int) -> str:
        """Return the name of a decision, or its number where none was given."""
        return self.decisions[index] if self.decisions else f"decision {index}"


def checked_weights(problem: Problem, weights: Array) -> Array:
    """Return ``weights`` (n,) normalised to sum 1.

    Raises InputError when they do not fit the problem, are negative or not finite, or sum to 0.
    """
    given = np.asarray(weights, dtype=float)
    if given.shape != problem.loss.shape[1:]:
        raise InputError(f"weights of shape {given.shape}, expected {problem.loss.shape[1:]}")
    total = float(given.sum())
    if not (np.isfinite(total) and total > 0.0 and np.all(given >= 0.0)):
        raise InputError(f"weights must be 0 or more with a positive finite sum, sum {total:g}")
    return given / total


def checked_situation(problem: Problem, situation: Situation) -> None:
    """Raise InputError when ``situation`` names a mode, node or check the problem lacks."""
    modes, checks = len(problem.costs.switch_minutes), len(problem.checks)
    if not 0 <= situation.mode < modes:
        raise InputError(f"situation: mode {situation.mode}, expected 0 to {modes - 1}")
    problem.costs.closure(situation.opened)
    for index in situation.used:
        if not 0 <= index < checks:
            raise InputError(f"situation: used check {index}, expected 0 to {checks - 1}")
