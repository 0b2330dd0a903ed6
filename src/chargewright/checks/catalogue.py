"""The checks that exist on a machine: test points, a meter function, a state, and their price.

The checks themselves are data (``data/checks.toml``); this file gives them their types and
leaves out those a layout has no place for.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from chargewright.checks.looks import Sign
from chargewright.errors import InputError, nearest
from chargewright.machine.layout import ChargeTo, Layout, Regulator, Sense
from chargewright.machine.points import Engine, Function, Point, State, Warmth
from chargewright.machine.speeds import Speeds

FEATURES = frozenset(
    {
        *("three_phase", "regulator", "sense_lead", "charge_to_harness", "charge_to_battery"),
        *("bridge", "half_wave", "magnets", "field_coil", "battery_lamps", "lighting_coil"),
    }
)
"""Words a check may ask of a layout in its field ``requires``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One check, or one act (``function`` None: charging the battery).

    ``state`` is complete; of its warmth and charge only what ``warmth`` and ``charged`` name
    is demanded, the rest (None) is taken as it stands. ``speed`` is the word or number behind
    ``state.rpm``. ``minutes`` is attention; ``wait_h`` is time nobody has to stand by.
    ``sign`` tells when a look shows something.
    """

    id: str
    title: str
    function: Function | None
    plus: Point | None = None
    minus: Point | None = None
    state: State = field(default_factory=State)
    speed: str | float | None = None
    warmth: Warmth | None = None
    charged: bool | None = None
    requires: frozenset[str] = frozenset()
    needs: frozenset[str] = frozenset()
    minutes: float = 1.0
    wait_h: float = 0.0
    how: str = ""
    cautions: tuple[str, ...] = ()
    sign: Sign | None = None

    @property
    def is_act(self) -> bool:
        """Whether this changes the machine instead of measuring it."""
        return self.function is None


@dataclass(frozen=True, slots=True)
class Catalogue:
    """The checks of one machine, in the order of the data file."""

    checks: tuple[Check, ...]
    _by_id: dict[str, Check] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_by_id", {check.id: check for check in self.checks})

    def __iter__(self) -> Iterator[Check]:
        return iter(self.checks)

    def __len__(self) -> int:
        return len(self.checks)

    def __contains__(self, name: object) -> bool:
        return name in self._by_id

    def get(self, name: str) -> Check:
        """Return the check with id ``name``; raises ``InputError`` when it does not exist."""
        if name not in self._by_id:
            raise InputError(f"check {name!r} does not exist here; {nearest(name, self._by_id)}")
        return self._by_id[name]

    @property
    def acts(self) -> tuple[Check, ...]:
        """The entries that change the machine instead of measuring it."""
        return tuple(check for check in self.checks if check.is_act)


def features(layout: Layout) -> frozenset[str]:
    """Return the words of ``FEATURES`` that hold for a layout."""
    have = {
        "three_phase": layout.three_phase,
        "bridge": not layout.half_wave,
        "half_wave": layout.half_wave,
        "magnets": not layout.field,
        "field_coil": layout.field,
        "battery_lamps": not layout.lighting_coil,
        "lighting_coil": layout.lighting_coil,
        "regulator": layout.regulator is not Regulator.NONE,
        "sense_lead": has_sense_lead(layout),
        "charge_to_harness": layout.charge_to is ChargeTo.HARNESS,
        "charge_to_battery": layout.charge_to is ChargeTo.BATTERY,
    }
    return frozenset(word for word, holds in have.items() if holds)


def has_sense_lead(layout: Layout) -> bool:
    """Return whether the regulator has a lead of its own to sense the voltage."""
    return layout.regulator is not Regulator.NONE and layout.sense is Sense.LEAD


def has_point(layout: Layout, point: Point) -> bool:
    """Return whether a machine of this layout has the test point at all."""
    if point is Point.REG_SENSE:
        return has_sense_lead(layout)
    return layout.lacks(point) is None


def exists(check: Check, layout: Layout) -> bool:
    """Return whether the check has its points and features on this layout."""
    points = [point for point in (check.plus, check.minus) if point is not None]
    return check.requires <= features(layout) and all(has_point(layout, p) for p in points)


def select(
    checks: tuple[Check, ...], layout: Layout, speeds: Speeds, *, lights_always_on: bool = False
) -> Catalogue:
    """Return the checks that exist on ``layout``, their speeds as numbers from ``speeds``.

    Where lamps burn whenever the engine runs, a running check is read with lights on; one
    that has a twin with lights on does not exist there.
    """
    found = tuple(_at_speed(check, speeds) for check in checks if exists(check, layout))
    return Catalogue(_lit(found) if lights_always_on else found)


def _lit(checks: tuple[Check, ...]) -> tuple[Check, ...]:
    taken = {_meaning(check) for check in checks if check.state.lights_on}
    lit = []
    for check in checks:
        if check.state.lights_on or not (_is_running(check) and check.state.plug_in):
            lit.append(check)
            continue
        with_lights = replace(check, state=replace(check.state, lights_on=True))
        if _meaning(with_lights) not in taken:
            lit.append(with_lights)
    return tuple(lit)


def _meaning(check: Check) -> tuple[object, ...]:
    return (
        check.function,
        check.plus,
        check.minus,
        check.state,
        check.warmth,
        check.charged,
    )


def _is_running(check: Check) -> bool:
    return check.state.engine is Engine.RUNNING


def _at_speed(check: Check, speeds: Speeds) -> Check:
    if not _is_running(check) or check.speed is None:
        return check
    if isinstance(check.speed, float):
        return replace(check, state=replace(check.state, rpm=check.speed))
    state = replace(check.state, rpm=speeds.rpm(check.speed))
    if check.speed == "idle":
        state = replace(state, rpm_rel_u=speeds.idle_rel_sd)
    return replace(check, state=state)
