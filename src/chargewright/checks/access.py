"""What has to be opened to reach a test point: a tree, paid once and closed once.

A node can be opened only after its parent; whatever is open stays open for the checks that
follow. Opening and closing are charged together when a node is first opened (cost clusters:
Langseth and Jensen, Reliability Engineering and System Safety 80, 2003).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from chargewright.errors import InputError, nearest


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """One cover, or one thing moved out of the way: its minutes and what lies before it."""

    id: str
    title: str
    open_min: float
    close_min: float
    parent: str | None = None

    @property
    def total_min(self) -> float:
        """Minutes to open it and to close it again."""
        return self.open_min + self.close_min


@dataclass(frozen=True, slots=True)
class AccessTree:
    """All openings of one kind of machine. Raises ``InputError`` on an impossible tree."""

    openings: tuple[Opening, ...]
    _by_id: Mapping[str, Opening] = field(init=False, repr=False, compare=False)
    _chains: Mapping[str, tuple[str, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        by_id = {opening.id: opening for opening in self.openings}
        if len(by_id) != len(self.openings):
            names = [opening.id for opening in self.openings]
            twice = sorted({name for name in names if names.count(name) > 1})
            raise InputError(f"access {twice[0]!r} is given twice: expected one entry each")
        object.__setattr__(self, "_by_id", by_id)
        object.__setattr__(self, "_chains", {name: _chain(name, by_id) for name in by_id})

    @property
    def ids(self) -> tuple[str, ...]:
        """Names of all openings in the order given; position = bit in the planner's masks."""
        return tuple(self._by_id)

    def opening(self, name: str) -> Opening:
        """Return the opening called ``name``; raises ``InputError`` when there is none."""
        if name not in self._by_id:
            raise InputError(f"access {name!r}: no such opening; {nearest(name, self._by_id)}")
        return self._by_id[name]

    def ancestors(self, name: str) -> tuple[str, ...]:
        """Return what must be open before ``name``, outermost first."""
        return self._chains[self.opening(name).id][:-1]

    def closure(self, needs: Iterable[str]) -> frozenset[str]:
        """Return ``needs`` with everything that must be open before them."""
        return frozenset(step for name in needs for step in self._chains[self.opening(name).id])

    def to_open(self, needs: Iterable[str], already: frozenset[str]) -> tuple[Opening, ...]:
        """Return what still has to be opened for ``needs``, in an order that works."""
        missing = self.closure(needs) - already
        ordered = sorted(missing, key=lambda name: (len(self._chains[name]), name))
        return tuple(self._by_id[name] for name in ordered)

    def minutes(self, needs: Iterable[str], already: frozenset[str] = frozenset()) -> float:
        """Return the minutes to open and later close what ``needs`` still asks for."""
        return sum(opening.total_min for opening in self.to_open(needs, already))


def _chain(name: str, by_id: Mapping[str, Opening]) -> tuple[str, ...]:
    """Return ``name`` and its ancestors, outermost first."""
    chain = [name]
    while (parent := by_id[chain[-1]].parent) is not None:
        if parent not in by_id:
            raise InputError(
                f"access {chain[-1]!r}, field parent: {parent!r} is no opening; "
                f"{nearest(parent, by_id)}"
            )
        if parent in chain:
            raise InputError(f"access {name!r}, field parent: {parent!r} closes a ring")
        chain.append(parent)
    return tuple(reversed(chain))
