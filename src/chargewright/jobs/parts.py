"""The small types that all parts of a job card are made of.

Each is checked at the door: an impossible value never gets inside.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    JsonValue,
    PlainSerializer,
    PlainValidator,
    StringConstraints,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError

from chargewright.errors import nearest
from chargewright.machine.points import POINT_BY_WORD, Point

RPM_MIN, RPM_MAX = 100.0, 20000.0  # assumed: slower is cranking, no engine here turns faster

# ``Line`` forbids control characters, so that a card from elsewhere cannot steer a terminal.
Line = Annotated[str, StringConstraints(max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$")]
Text = Annotated[
    str, StringConstraints(max_length=20_000, pattern=r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f]*$")
]
Word = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9_.-]{0,63}$")]
JobId = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,63}$")]
FreeDict = dict[str, JsonValue]
SpeedWord = Literal["idle", "mid", "high"]
SPEED_WORDS: tuple[SpeedWord, ...] = ("idle", "mid", "high")

_ISO = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?(Z|[+-]\d\d:\d\d)", re.ASCII)


class Part(BaseModel):
    """A part of the card: unknown fields and NaN are refused, a change makes a new object."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, validate_by_name=True
    )


def _utc(value: object) -> datetime:
    if isinstance(value, str) and _ISO.fullmatch(value):
        try:
            value = datetime.fromisoformat(value)
        except ValueError as error:
            raise PydanticCustomError(
                "time", "expected a real date: {why}", {"why": str(error)}
            ) from None
    if isinstance(value, datetime) and value.tzinfo is not None:
        try:
            return value.astimezone(UTC)
        except OverflowError:
            pass
    raise PydanticCustomError("time", "expected a time with its zone, as 2026-08-01T10:30:00Z")


def iso(moment: datetime) -> str:
    """Return the one way a time is written: UTC, ISO 8601, ending in Z."""
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _speed(value: object) -> float | str:
    if isinstance(value, str) and value in SPEED_WORDS:
        return value
    if isinstance(value, int | float) and RPM_MIN <= value <= RPM_MAX:
        return float(value)
    raise PydanticCustomError(
        "speed",
        "expected {low} to {high} rpm, or one of the words idle, mid, high",
        {"low": int(RPM_MIN), "high": int(RPM_MAX)},
    )


def _point(value: object) -> Point:
    if isinstance(value, Point):
        return value
    if isinstance(value, str) and value in POINT_BY_WORD:
        return POINT_BY_WORD[value]
    raise PydanticCustomError(
        "point", "expected a test point; {hint}", {"hint": nearest(str(value), POINT_BY_WORD)}
    )


Utc = Annotated[
    datetime,
    PlainValidator(_utc),
    PlainSerializer(iso, return_type=str),
    WithJsonSchema({"type": "string", "format": "date-time"}),
]
Rpm = Annotated[
    float | SpeedWord,
    PlainValidator(_speed),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "minimum": RPM_MIN, "maximum": RPM_MAX},
                {"enum": list(SPEED_WORDS)},
            ]
        }
    ),
]
TestPoint = Annotated[
    Point,
    PlainValidator(_point),
    PlainSerializer(lambda point: point.word, return_type=str),
    WithJsonSchema({"enum": list(POINT_BY_WORD)}),
]
Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]


def twice(names: Iterable[str]) -> str | None:
    """Return the first name that occurs a second time, or None."""
    seen: set[str] = set()
    for name in names:
        if name in seen:
            return name
        seen.add(name)
    return None
