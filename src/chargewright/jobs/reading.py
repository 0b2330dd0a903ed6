"""One reading on the card: where the probes were, how the machine stood, what was shown."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, model_validator

from chargewright.jobs.parts import (
    RPM_MAX,
    RPM_MIN,
    FreeDict,
    Line,
    NotNegative,
    Part,
    Rpm,
    TestPoint,
    Text,
    Utc,
    Word,
)
from chargewright.jobs.shown import UNIT_OF, Qualifier, Shown, out_of_limits
from chargewright.machine.points import Engine, Function, Load, State, Warmth


class Stage(StrEnum):
    """When the reading was taken."""

    BEFORE_FAULT = "before_fault"
    FAULT = "fault"
    AFTER_REPAIR = "after_repair"


class MeterUse(Part):
    """Which meter was used: a meter card by its id, or the whole card of one's own."""

    card: Word | None = None
    own_card: FreeDict | None = None
    leads_nulled: Annotated[
        bool, Field(description="Lead resistance was subtracted before the ohms readings.")
    ] = False

    @model_validator(mode="after")
    def _one_card(self) -> Self:
        if (self.card is None) == (self.own_card is None):
            raise ValueError("expected either 'card' (an id) or 'own_card' (an object), not both")
        return self


class CardState(Part):
    """How the machine stood. A null ``rpm`` while running means nobody noted the speed."""

    engine: Engine = Engine.OFF
    rpm: Rpm | None = None
    rpm_max: Annotated[float | None, Field(ge=RPM_MIN, le=RPM_MAX)] = None
    rpm_rel_u: Annotated[
        float, Field(gt=0, le=0.5, description="Relative standard uncertainty of the speed.")
    ] = 0.05
    key_on: bool = False
    lights_on: bool = False
    plug_in: bool = True
    battery_in: bool = True
    warmth: Warmth = Warmth.COLD
    load: Load = Load.NONE
    battery_charged: bool = False
    rest_h: NotNegative = 1.0
    full_field: Annotated[
        bool, Field(description="Field fed by a jumper from the battery, past the regulator.")
    ] = False

    @model_validator(mode="after")
    def _speed_fits_engine(self) -> Self:
        if self.engine is not Engine.RUNNING and self.rpm is not None:
            raise ValueError(f"rpm is {self.rpm}, but the engine is '{self.engine}', not 'running'")
        if self.rpm_max is not None:
            if not isinstance(self.rpm, float):
                raise ValueError(f"rpm_max is {self.rpm_max:g}, so rpm must be a number below it")
            if self.rpm > self.rpm_max:
                raise ValueError(f"rpm {self.rpm:g} is above rpm_max {self.rpm_max:g}")
        return self

    def machine_state(self, speeds_rpm: Mapping[str, float]) -> State:
        """Return the state with words turned into speeds.

        ``speeds_rpm`` gives rpm for ``idle``, ``mid`` and ``high`` of this machine. A speed
        that nobody noted becomes the range from idle to high.
        """
        rpm, rpm_max = self.rpm, self.rpm_max
        if isinstance(rpm, str):
            rpm = speeds_rpm[rpm]
        elif rpm is None and self.engine is Engine.RUNNING:
            rpm, rpm_max = speeds_rpm["idle"], speeds_rpm["high"]
        return State(
            engine=self.engine,
            rpm=rpm,
            rpm_max=rpm_max,
            rpm_rel_u=self.rpm_rel_u,
            key_on=self.key_on,
            lights_on=self.lights_on,
            plug_in=self.plug_in,
            battery_in=self.battery_in,
            warmth=self.warmth,
            load=self.load,
            battery_charged=self.battery_charged,
            rest_h=self.rest_h,
            full_field=self.full_field,
        )


class Reading(Part):
    """One reading: a measurement has points and ``shown``, a look has ``sign``."""

    id: Word
    check: Annotated[
        Word | None, Field(description="Id in the catalogue of checks; null for a free reading.")
    ] = None
    function: Function
    plus: Annotated[TestPoint | None, Field(description="Red probe.")] = None
    minus: Annotated[TestPoint | None, Field(description="Black probe.")] = None
    state: CardState = Field(default_factory=CardState)
    shown: Shown | None = None
    sign: Annotated[bool | None, Field(description="For a look: the sign is there.")] = None
    meter: Annotated[
        MeterUse | None, Field(description="Only when it is not the card's meter.")
    ] = None
    at: Utc | None = None
    stage: Stage = Stage.FAULT
    note: Text = ""
    excluded: Annotated[
        Line | None,
        Field(min_length=1, description="Why this reading is kept but not reckoned with."),
    ] = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if self.function is Function.LOOK:
            if self.sign is None or self.check is None or self.shown is not None:
                raise ValueError(
                    "a look needs 'check' (which look) and 'sign' (true or false), and no 'shown'"
                )
            return self
        if self.sign is not None or self.shown is None:
            raise ValueError(f"a {self.function} reading needs 'shown', and no 'sign'")
        if self.plus is None or self.minus is None:
            raise ValueError(f"a {self.function} reading needs two test points, plus and minus")
        if self.plus is self.minus and self.function is not Function.OHM:
            raise ValueError(
                f"plus and minus are both {self.plus.word}; "
                "only the ohms of the meter's own leads are read at one point"
            )
        self._figures_fit_function(self.shown)
        return self

    def _figures_fit_function(self, shown: Shown) -> None:
        if shown.unit is not UNIT_OF[self.function]:
            raise ValueError(
                f"unit is '{shown.unit}', but {self.function} is read in '{UNIT_OF[self.function]}'"
            )
        if shown.qualifier is Qualifier.CONTINUITY and self.function not in (
            Function.OHM,
            Function.DIODE,
        ):
            raise ValueError(f"qualifier 'continuity' belongs to ohm or diode, not {self.function}")
        for value in (shown.value, shown.value_max):
            if value is not None and (why := out_of_limits(value, self.function)):
                raise ValueError(why)

    @property
    def counts(self) -> bool:
        """True when the reading may speak about the fault: not excluded, not after the repair."""
        return self.excluded is None and self.stage is not Stage.AFTER_REPAIR
