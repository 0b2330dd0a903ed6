"""A limit a reading is judged by: tied to function, points and state, never to a check's name."""

from __future__ import annotations

from dataclasses import dataclass, replace

from chargewright.machine.points import Engine, Function, Load, Point, State, Warmth

ALT = frozenset({Point.ALT_A, Point.ALT_B, Point.ALT_C})
REG = frozenset({Point.REG_A, Point.REG_B, Point.REG_C})
SIGNED = frozenset({Function.DC_V, Function.DC_A, Function.CLAMP_A})


@dataclass(frozen=True, slots=True, kw_only=True)
class When:
    """The states a limit holds in; ``None`` means it does not matter."""

    engine: Engine
    rpm_low: float | None = None
    plug_in: bool | None = None
    key_on: bool | None = None
    charged: bool | None = None
    warmth: Warmth | None = None
    load: Load = Load.NONE
    rest_h_low: float = 0.0
    full_field: bool = False

    def holds(self, state: State) -> bool:
        """Tell whether ``state`` is one of these; a speed limit needs a known speed."""
        if (state.engine, state.load) != (self.engine, self.load):
            return False
        if state.full_field is not self.full_field:
            return False
        if self.rpm_low is not None and (state.rpm is None or state.rpm < self.rpm_low):
            return False
        pairs = (
            (self.plug_in, state.plug_in),
            (self.key_on, state.key_on),
            (self.charged, state.battery_charged),
            (self.warmth, state.warmth),
        )
        return state.rest_h >= self.rest_h_low and all(
            wanted is None or wanted == found for wanted, found in pairs
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Lowest and highest value of a sound machine; ``None`` leaves that side open.

    ``low`` and ``high`` count from ``plus`` to ``minus`` [unit]. ``plus`` and ``minus`` are sets
    of points, so that phases are interchangeable; ``same_leg`` asks for the same letter on
    both. ``per_krpm``: the numbers are per 1000 rpm of the state. ``one_way``: the pair
    counts only as given (a junction conducts one way).
    """

    id: str
    title: str
    function: Function
    plus: frozenset[Point]
    minus: frozenset[Point]
    when: When
    unit: str
    source: str
    low: float | None = None
    high: float | None = None
    per_krpm: bool = False
    one_way: bool = False
    same_leg: bool = False

    def fits(self, plus: Point, minus: Point) -> bool:
        """Tell whether the limit is about red probe ``plus`` and black probe ``minus``."""
        return self._pair(plus, minus) or (not self.one_way and self._pair(minus, plus))

    def _pair(self, plus: Point, minus: Point) -> bool:
        if plus is minus or plus not in self.plus or minus not in self.minus:
            return False
        return not self.same_leg or plus.name[-1] == minus.name[-1]

    def at(self, plus: Point, minus: Point, state: State) -> Limit:
        """Return the limit as it reads for these probes and this speed, in plain units."""
        low, high = self.low, self.high
        if self.per_krpm:
            krpm = (state.rpm or 0.0) / 1000.0
            low = None if low is None else low * krpm
            high = None if high is None else high * krpm
        if self.function in SIGNED and not self._pair(plus, minus):
            low, high = (None if high is None else -high), (None if low is None else -low)
        return replace(self, low=low, high=high, per_krpm=False)
