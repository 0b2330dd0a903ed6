"""Energy answers as text: intervals with their unit, days, and JSON without infinities."""

from __future__ import annotations

import dataclasses
import math
from enum import Enum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from chargewright.energy.interval import Interval


def span(interval: Interval, unit: str, *, digits: int = 3) -> str:
    """Return an interval as ``best unit (low to high)``.

    >>> from chargewright.energy.interval import Interval
    >>> span(Interval(1.0, 2.0, 4.0), "A")
    '2 A (1 to 4)'
    """
    low, best, high = (_number(end, digits) for end in (interval.low, interval.best, interval.high))
    if low == best == high:
        return f"{best} {unit}".strip()
    return f"{best} {unit} ({low} to {high})".replace("  ", " ")


def share_span(interval: Interval) -> str:
    """Return an interval of shares in whole percent."""
    ends = (interval.low, interval.best, interval.high)
    low, best, high = (f"{100 * end:.0f}" for end in ends)
    return f"{best}% ({low} to {high}%)"


def days_span(interval: Interval) -> str:
    """Return an interval of days; ``never`` where it never comes."""
    if math.isinf(interval.low):
        return "never"
    return span(interval, "days", digits=2)


def _number(value: float, digits: int) -> str:
    if math.isinf(value):
        return "never"
    rounded = float(f"{value:.{digits}g}")
    return f"{rounded:g}" if abs(rounded) < 1e6 else f"{rounded:.0f}"


def plain(value: object) -> Any:  # noqa: ANN401 - JSON is anything
    """Return a result as JSON-ready data; what is infinite or not a number becomes null."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)
        }
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
