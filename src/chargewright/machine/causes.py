"""Causes: each is a change to the machine's parameters, a share of jobs and a repair."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations
from string import Formatter

from chargewright.errors import InputError, nearest
from chargewright.machine.layout import Chemistry, Layout
from chargewright.machine.model import Machine
from chargewright.machine.scatter import LEGS

SEVERITIES = 3  # latents of severity one cause can use
Spot = tuple[Mapping[str, str], ...]  # places changed together, each fills {leg} and {rail}


class Component(StrEnum):
    """The part at fault."""

    BATTERY = "battery"
    STATOR = "stator"
    ROTOR = "rotor"
    RECTIFIER = "rectifier"
    REGULATOR = "regulator"
    CONNECTOR = "connector"
    LEADS = "leads"
    GROUNDS = "grounds"
    FUSE = "fuse"
    LOADS = "loads"
    DRAIN = "drain"
    STARTER = "starter"
    NONE = "none"


class Op(StrEnum):
    """What a change does to the healthy value."""

    SET = "set"
    ADD = "add"
    MULTIPLY = "multiply"


class Spread(StrEnum):
    """How a severity spreads."""

    FIXED = "fixed"
    UNIFORM = "uniform"
    LOGUNIFORM = "loguniform"


class Scale(StrEnum):
    """What a change's numbers are in, so that they suit machines of every size."""

    PLAIN = "plain"  # the parameter's own unit
    PER_OUTPUT_A = "per_output_a"  # volts at full output: ohms = volts / amperes
    OF_OUTPUT = "of_output"  # share of the full output current
    PER_CRANK_A = "per_crank_a"  # volts at the usual cranking current


class Placement(StrEnum):
    """Where among alike places a fault sits."""

    FIXED = "fixed"
    ONE_WINDING = "one_winding"
    ALL_WINDINGS = "all_windings"
    ONE_LEAD = "one_lead"
    TWO_LEADS = "two_leads"
    ALL_LEADS = "all_leads"
    ONE_JUNCTION = "one_junction"
    TWO_JUNCTIONS = "two_junctions"  # on different leads

    def spots(self, layout: Layout) -> tuple[Spot, ...]:
        """Return the equally likely places on a machine of this layout."""
        leads = LEGS[: layout.phases]
        windings = LEGS if layout.three_phase else LEGS[:1]
        rails = ("up",) if layout.half_wave else ("up", "dn")
        junctions = [{"rail": rail, "leg": leg} for leg in leads for rail in rails]
        if self is Placement.ONE_WINDING:
            return tuple(({"leg": leg},) for leg in windings)
        if self is Placement.ALL_WINDINGS:
            return (tuple({"leg": leg} for leg in windings),)
        if self is Placement.ONE_LEAD:
            return tuple(({"leg": leg},) for leg in leads)
        if self is Placement.TWO_LEADS:
            return tuple(({"leg": a}, {"leg": b}) for a, b in combinations(leads, 2))
        if self is Placement.ALL_LEADS:
            return (tuple({"leg": leg} for leg in leads),)
        if self is Placement.ONE_JUNCTION:
            return tuple((place,) for place in junctions)
        if self is Placement.TWO_JUNCTIONS:
            pairs = combinations(junctions, 2)
            return tuple((a, b) for a, b in pairs if a["leg"] != b["leg"])
        return (({},),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change: ``op`` with a value between ``low`` (severity 0) and ``high`` (1).

    ``parameter`` may hold ``{leg}`` and ``{rail}``; ``severity`` is the latent's number.
    """

    parameter: str
    op: Op
    spread: Spread
    low: float
    high: float
    severity: int = 0
    scale: Scale = Scale.PLAIN

    @property
    def placed(self) -> bool:
        """Whether the parameter depends on the place."""
        return any(field for _, field, _, _ in Formatter().parse(self.parameter) if field)


@dataclass(frozen=True, slots=True, kw_only=True)
class Show:
    """How a severity is told: (1/value if reciprocal) * factor + offset, in ``unit``."""

    unit: str
    factor: float = 1.0
    offset: float = 0.0
    reciprocal: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What the machine must have for a cause to be possible; empty means anything."""

    winding: frozenset[str] = frozenset()
    regulator: frozenset[str] = frozenset()
    sense: frozenset[str] = frozenset()
    chemistry: frozenset[str] = frozenset()
    lighting: frozenset[str] = frozenset()

    def met(self, layout: Layout, chemistries: tuple[Chemistry, ...]) -> bool:
        """Tell whether a machine of this layout and these possible batteries has it all."""
        return (
            (not self.winding or layout.winding in self.winding)
            and (not self.regulator or layout.regulator in self.regulator)
            and (not self.sense or layout.sense in self.sense)
            and (not self.lighting or layout.lighting in self.lighting)
            and (not self.chemistry or any(kind in self.chemistry for kind in chemistries))
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """What mends a cause: a hint of its parts' cost [money units] and minutes of work."""

    id: str
    title: str
    parts_cost: float
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One cause. ``soc`` is the state of charge it leaves behind, lowest and highest."""

    id: str
    title: str
    component: Component
    repair: Repair
    share: float
    share_note: str
    placement: Placement = Placement.FIXED
    changes: tuple[Change, ...] = ()
    needs: Needs = Needs()
    soc: tuple[float, float] | None = None
    words: str = ""
    show: Show | None = None

    def possible(self, machine: Machine) -> bool:
        """Tell whether ``machine`` can have this cause."""
        return self.needs.met(machine.layout, machine.chemistries)

    def columns(self, layout: Layout) -> frozenset[str]:
        """Return every parameter that this cause can change on a machine of this layout."""
        places = [place for spot in self.placement.spots(layout) for place in spot]
        named = {change.parameter.format(**p) for change in self.changes for p in places}
        return frozenset(named | ({"soc"} if self.soc is not None else set()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A first fault that occurs together with one of several; ``share`` of all jobs."""

    first: str
    second: tuple[str, ...]
    share: float
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """All causes and the pairs that occur together."""

    causes: tuple[Cause, ...]
    pairs: tuple[Pair, ...]

    def get(self, cause_id: str) -> Cause:
        """Return the cause ``cause_id``; ``InputError`` with the nearest ids when unknown."""
        for cause in self.causes:
            if cause.id == cause_id:
                return cause
        known = [cause.id for cause in self.causes]
        raise InputError(f"cause {cause_id!r} does not exist; {nearest(cause_id, known)}")

    def possible(self, machine: Machine) -> tuple[Cause, ...]:
        """Return the causes that ``machine`` can have, in the order of the file."""
        return tuple(cause for cause in self.causes if cause.possible(machine))
