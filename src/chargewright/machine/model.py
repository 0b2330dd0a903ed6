"""The one machine on the bench, as far as it is known before anything is measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from chargewright.errors import InputError, nearest
from chargewright.machine.layout import CHEMISTRIES, Chemistry, Layout
from chargewright.machine.limit import Limit
from chargewright.machine.parameters import INDEX
from chargewright.machine.scatter import Kind, Scatter, centres
from chargewright.machine.sources import Source, source_of
from chargewright.machine.speeds import Speeds


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """Layout, speeds and scatter of one machine, its limits, and where each figure is from.

    ``scatter`` holds one distribution per parameter; ``output_a`` is the typical greatest
    direct current [A]; ``battery_age`` multiplies the prior of a worn battery (1 = unknown age).
    """

    class_id: str
    title: str
    layout: Layout
    speeds: Speeds
    scatter: Mapping[str, Scatter]
    limits: tuple[Limit, ...]
    output_a: float
    lights_always_on: bool
    battery_age: float = 1.0

    def provenance(self, parameter: str) -> Source:
        """Return the source of a parameter's scatter; ``InputError`` for an unknown name."""
        if parameter not in INDEX:
            raise InputError(f"parameter {parameter!r} does not exist; {nearest(parameter, INDEX)}")
        return source_of(self.scatter[parameter].source, f"scatter of {parameter!r}")

    def typical(self) -> dict[str, float]:
        """Return the typical healthy value of every parameter, in its own unit."""
        return centres(self.scatter)

    @property
    def chemistries(self) -> tuple[Chemistry, ...]:
        """The battery chemistries this machine may have, likeliest first."""
        rule = self.scatter["chemistry"]
        if rule.kind is not Kind.CHOICE:
            return (CHEMISTRIES[int(rule.centre)],)
        ranked = sorted(zip(rule.weights, rule.values, strict=True), reverse=True)
        return tuple(CHEMISTRIES[int(value)] for weight, value in ranked if weight > 0.0)
