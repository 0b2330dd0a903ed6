"""The engine speeds a class of machine is measured at."""

from __future__ import annotations

from dataclasses import dataclass

from chargewright.errors import InputError


@dataclass(frozen=True, slots=True)
class Speeds:
    """Crankshaft speeds behind the words idle, mid and high.

    ``idle_rel_sd`` is the relative standard deviation of the idle speed from unit to unit
    and of its reading without a tachometer (assumed 0.08).
    """

    idle_rpm: float
    mid_rpm: float
    high_rpm: float
    idle_rel_sd: float = 0.08

    def __post_init__(self) -> None:
        if not 0.0 < self.idle_rpm < self.mid_rpm <= self.high_rpm:
            raise InputError(
                f"speeds idle {self.idle_rpm:g}, mid {self.mid_rpm:g}, high {self.high_rpm:g} rpm:"
                " expected 0 < idle < mid <= high"
            )
        if not 0.0 <= self.idle_rel_sd < 1.0:
            raise InputError(f"speeds idle_rel_sd {self.idle_rel_sd:g}: expected 0 to below 1")

    def rpm(self, word: str) -> float:
        """Return the speed [rpm] behind ``idle``, ``mid`` or ``high``.

        >>> Speeds(1200.0, 3000.0, 5000.0).rpm("mid")
        3000.0
        """
        try:
            return {"idle": self.idle_rpm, "mid": self.mid_rpm, "high": self.high_rpm}[word]
        except KeyError:
            raise InputError(f"speed {word!r}: expected idle, mid or high") from None
