"""A ride as engine speed over time: one's own recording, or road speed through the gears."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from chargewright.errors import InputError, nearest
from chargewright.machine.parameters import Array

RPM_PER_KMH = 1000.0 / 60.0 / (2.0 * np.pi)  # times overall ratio over wheel radius in m: 2.6526
TIME_NAMES = ("time_s", "time (s)", "time", "t", "t_s")
SPEED_NAMES = ("speed_kmh", "kmh", "speed")
RPM_NAMES = ("rpm", "engine_rpm")
BINS = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Gearing:
    """Overall ratios (engine turns per wheel turn) from first to top gear, and wheel radius.

    A gear is held until the next one would turn the engine at ``shift_rpm`` or more; below
    ``idle_rpm`` the clutch slips. One ratio is a machine without gears.
    """

    ratios: tuple[float, ...] = (16.0, 11.5, 9.0, 7.4, 6.4, 5.7)  # assumed, 600 cc class
    wheel_m: float = 0.31  # rolling radius, assumed
    idle_rpm: float = 1200.0
    shift_rpm: float = 2800.0  # assumed, calm riding

    def __post_init__(self) -> None:
        if not self.ratios or any(not 0.5 <= ratio <= 60.0 for ratio in self.ratios):
            raise InputError(f"overall ratios {self.ratios}: expected some between 0.5 and 60")
        if not 0.1 <= self.wheel_m <= 0.6:
            raise InputError(f"wheel radius {self.wheel_m:g} m: expected 0.1 to 0.6 m")

    def rpm(self, speed_kmh: Array) -> Array:
        """Return the engine speed [rpm] at road speeds [km/h], same shape."""
        by_gear = RPM_PER_KMH * speed_kmh[:, None] * np.sort(self.ratios)[::-1] / self.wheel_m
        allowed = by_gear >= self.shift_rpm
        allowed[:, 0] = True
        top = by_gear.shape[1] - 1 - np.argmax(allowed[:, ::-1], axis=1)
        return np.asarray(np.maximum(by_gear[np.arange(by_gear.shape[0]), top], self.idle_rpm))


@dataclass(frozen=True, slots=True)
class RpmShares:
    """A ride as time at each speed: ``rpm`` (b,) rising, ``seconds`` (b,).

    The circuit answers in milliseconds and the battery over minutes, so the order of speeds
    within one ride hardly matters.
    """

    rpm: Array
    seconds: Array

    @property
    def duration_s(self) -> float:
        """Length of the ride [s]."""
        return float(self.seconds.sum())


def read_columns(path: Path) -> dict[str, Array]:
    """Return the numeric columns of a CSV with a header, comma or semicolon, by lower-case name.

    Raises ``InputError`` naming file, line and field.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}); expected a CSV") from error
    lines = text.splitlines()
    if len(lines) < 3:
        raise InputError(f"{path.name}: {len(lines)} lines; expected a header and two rows or more")
    rows = list(csv.reader(lines, delimiter=";" if ";" in lines[0] else ","))
    names = [name.strip().lower() for name in rows[0]]
    values: list[list[float]] = []
    for number, row in enumerate(rows[1:], start=2):
        if not row:
            continue
        if len(row) != len(names):
            raise InputError(f"{path.name} line {number}: {len(row)} fields; expected {len(names)}")
        try:
            values.append([float(field) for field in row])
        except ValueError as error:
            raise InputError(f"{path.name} line {number}: {error}; expected numbers") from error
    table = np.array(values)
    return {name: table[:, i] for i, name in enumerate(names)}


def read_trace(path: Path, *, column: str | None = None) -> tuple[Array, Array, bool]:
    """Return (time [s], values, whether the values are rpm) of a recorded ride.

    ``column`` names the one to take; else the first of rpm, engine_rpm, speed_kmh, kmh, speed.
    A named column counts as rpm when its name says so, else as km/h.
    """
    columns = read_columns(path)
    time_name = next((name for name in TIME_NAMES if name in columns), None)
    if time_name is None:
        raise InputError(f"{path.name}: no time column; expected one of {', '.join(TIME_NAMES)}")
    wanted = column.strip().lower() if column else None
    if wanted is not None and wanted not in columns:
        raise InputError(f"{path.name}: no column {column!r}; {nearest(wanted, columns)}")
    name = wanted or next((n for n in (*RPM_NAMES, *SPEED_NAMES) if n in columns), None)
    if name is None:
        raise InputError(
            f"{path.name}: no speed; expected a column {', '.join((*RPM_NAMES, *SPEED_NAMES))}"
        )
    time_s, values = columns[time_name], columns[name]
    if not np.all(np.diff(time_s) > 0.0):
        line = int(np.argmax(np.diff(time_s) <= 0.0)) + 3
        raise InputError(f"{path.name} line {line}: time does not rise; expected rising seconds")
    is_rpm = "rpm" in name
    most = 20000.0 if is_rpm else 400.0
    if not np.all((values >= 0.0) & (values <= most)):
        line = int(np.argmax(~((values >= 0.0) & (values <= most)))) + 2
        unit = "rpm" if is_rpm else "km/h"
        raise InputError(
            f"{path.name} line {line}: {values[line - 2]:g} {unit}; expected 0 to {most:g}"
        )
    return time_s, values, is_rpm


def durations(time_s: Array) -> Array:
    """Return how long each sample stands [s]: until the next one, the last as the one before."""
    steps = np.diff(time_s)
    return np.append(steps, steps[-1])


def distance_m(time_s: Array, speed_kmh: Array) -> float:
    """Return the length of a ride [m]: sum of speed/3.6 times its time step."""
    return float((speed_kmh / 3.6 * durations(time_s)).sum())


def rpm_shares(time_s: Array, rpm: Array, *, bins: int = BINS) -> RpmShares:
    """Return time at each engine speed, in at most ``bins`` classes of equal ratio.

    Each class stands at the mean speed of its samples; a standing engine does not count.
    """
    seconds = durations(time_s)
    turning = rpm > 0.0
    if not turning.any():
        raise InputError("ride without a turning engine: expected some rpm above 0")
    speed, spent = rpm[turning], seconds[turning]
    low, high = float(speed.min()), float(speed.max())
    edges = np.geomspace(low, high * (1.0 + 1e-9), bins + 1)
    place = np.clip(np.searchsorted(edges, speed, side="right") - 1, 0, bins - 1)
    total = np.bincount(place, weights=spent, minlength=bins).astype(np.float64)
    mean = np.bincount(place, weights=spent * speed, minlength=bins) / np.maximum(total, 1e-12)
    used = total > 0.0
    return RpmShares(mean[used], total[used])


def ride_shares(path: Path, *, column: str | None = None, gearing: Gearing) -> RpmShares:
    """Return time at each engine speed of a recorded ride, road speed going through the gears."""
    time_s, values, is_rpm = read_trace(path, column=column)
    rpm = np.maximum(values, gearing.idle_rpm) if is_rpm else gearing.rpm(values)
    return rpm_shares(time_s, rpm)
