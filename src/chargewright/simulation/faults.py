"""A cause with its severity, as somebody asks for it: ``plug_resistance=0.2``."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from chargewright.errors import InputError
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Cause, Op, Show
from chargewright.machine.draw import LATENT_NAMES, LATENTS, SLOTS, severity
from chargewright.machine.model import Machine
from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import Array
from chargewright.machine.severity import severity_words

FAR = 3.0  # standard deviations of a severity's latent that count as its ends
FIGURE = re.compile(r"([+-]?\d+(?:[.,]\d+)?(?:e[+-]?\d+)?)\s*([%\w]*)", re.ASCII | re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Fault:
    """A cause at its first place, with a severity told (its latent) or left to chance (None)."""

    cause: Cause
    latent: float | None = None


def faults_of(machine: Machine, texts: Sequence[str]) -> tuple[Fault, ...]:
    """Return the faults that texts such as ``plug_resistance=0.2`` mean on a machine.

    The figure is in the unit in which the cause's severity is told. Raises ``InputError`` for
    an unknown cause, one this machine cannot have, or a severity outside its range.
    """
    if len(texts) > SLOTS:
        raise InputError(f"{len(texts)} causes at once; expected at most {SLOTS}")
    found: list[Fault] = []
    for text in texts:
        name, equals, figure = text.partition("=")
        cause = catalogue().get(name.strip())
        if not cause.possible(machine):
            raise InputError(
                f"cause {cause.id!r} cannot occur on {machine.class_id!r}; its layout or battery"
                " lacks the part"
            )
        if any(known.cause is cause for known in found):
            raise InputError(f"cause {cause.id!r} is given twice; expected once")
        found.append(Fault(cause, _latent(machine, cause, figure) if equals else None))
    return tuple(found)


def told_faults(machine: Machine, told: Sequence[str | Fault]) -> tuple[Fault, ...]:
    """Return the faults of texts, and those that are faults already as they are."""
    texts = iter(faults_of(machine, [one for one in told if isinstance(one, str)]))
    found = tuple(next(texts) if isinstance(one, str) else one for one in told)
    if len(found) > SLOTS:
        raise InputError(f"{len(found)} causes at once; expected at most {SLOTS}")
    return found


def graded(machine: Machine, cause_id: str, share: float) -> Fault:
    """Return a cause as severe as ``share`` says: 0 slight, 0.5 middling, 1 as bad as it gets.

    The share counts along the spread of severities that the cause has from case to case. Raises
    ``InputError`` for a cause this machine cannot have.
    """
    (fault,) = faults_of(machine, [cause_id])
    cause = fault.cause
    if not cause.changes:
        return fault
    rows = np.zeros((2, LATENTS))
    rows[:, _column(0, "severity0")] = (-1.0, 1.0)
    low, high = (_badness(cause, value) for value in severity(machine, cause, rows))
    latent = FAR * (2.0 * share - 1.0)
    return Fault(cause, latent if high >= low else -latent)


def _badness(cause: Cause, value: float) -> float:
    """Return how far a severity is from doing nothing; a scale does nothing at 1."""
    return abs(math.log(max(value, 1e-12))) if cause.changes[0].op is Op.MULTIPLY else abs(value)


def put_faults(z: Array, machine: Machine, faults: Sequence[Fault]) -> Array:
    """Return latents (n, LATENTS) with each fault at its first place and its own severity."""
    made = z.copy()
    for slot, fault in enumerate(faults):
        count = len(fault.cause.placement.spots(machine.layout))
        made[:, _column(slot, "placement")] = _z_of(0.5 / count)
        if fault.latent is not None:
            made[:, _column(slot, "severity0")] = fault.latent
    return made


def fault_words(machine: Machine, fault: Fault, *, slot: int = 0) -> str:
    """Return what a fault is, with its severity, or the middle one where none was told."""
    z = put_faults(np.zeros((1, LATENTS)), machine, [*([fault] * slot), fault])
    value = float(severity(machine, fault.cause, z, slot=slot)[0])
    text = severity_words(fault.cause, value)
    place = fault.cause.placement.spots(machine.layout)[0]
    where = " and ".join(_place_words(spot) for spot in place if spot)
    text = f"{text} ({where})" if where else text
    return (
        text if fault.latent is not None or fault.cause.show is None else f"{text}, a middling case"
    )


def _place_words(spot: Mapping[str, str]) -> str:
    side = {"up": "upper junction, ", "dn": "lower junction, "}.get(spot.get("rail", ""), "")
    return f"{side}{spot.get('leg', '').upper()}"


def _column(slot: int, part: str) -> int:
    return LATENT_NAMES.index(f"cause{slot}_{part}")


def _z_of(share: float) -> float:
    """Return the normal deviate that a share of all lies below."""
    return _where(lambda z: float(ndtr(np.array([z]))[0]) - share)


def _where(rises: Callable[[float], float], low: float = -8.0, high: float = 8.0) -> float:
    """Return where a rising function passes zero, by halving."""
    for _ in range(80):
        middle = 0.5 * (low + high)
        if rises(middle) > 0.0:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)


def _latent(machine: Machine, cause: Cause, text: str) -> float:
    """Return the latent whose severity is told as ``text``."""
    show = cause.show
    if show is None:
        raise InputError(f"cause {cause.id!r} has no severity; expected {cause.id!r} alone")
    found = FIGURE.fullmatch(text.strip())
    if found is None or found[2] not in ("", show.unit):
        raise InputError(
            f"severity {text!r} of {cause.id!r}: expected a number, in {show.unit or 'times'}"
        )
    wanted = float(found[1].replace(",", "."))

    def told(z: float) -> float:
        row = np.zeros((1, LATENTS))
        row[0, _column(0, "severity0")] = z
        return _told(show, float(severity(machine, cause, row)[0]))

    first, last = told(-FAR), told(FAR)
    low, high = min(first, last), max(first, last)
    if not low <= wanted <= high:
        raise InputError(
            f"severity {wanted:g} {show.unit} of {cause.id!r}: expected {low:.3g} to {high:.3g}"
            f" {show.unit}"
        )
    sign = 1.0 if last > first else -1.0
    return _where(lambda z: sign * (told(z) - wanted))


def _told(show: Show, value: float) -> float:
    """Return a severity as a technician is told it, in ``show.unit``."""
    if show.reciprocal:
        value = math.inf if value == 0.0 else 1.0 / value
    return value * show.factor + show.offset
