"""Draws machines: healthy scatter from standard normal latents, then the causes' changes.

A pure function of its latents: the same row of ``z`` gives the same unit, and moving one
latent moves one thing, so that a population can be refined around the survivors.
"""

from __future__ import annotations

import numpy as np

from chargewright.errors import InputError
from chargewright.machine.causes import SEVERITIES, Cause, Change, Op, Scale, Spread
from chargewright.machine.model import Machine
from chargewright.machine.normal import ndtr
from chargewright.machine.parameters import COUNT, INDEX, NAMES, PARAMETERS, Array
from chargewright.machine.scatter import draw_order, leg_families

SLOTS = 2  # causes a machine can have at once
_FAMILIES = leg_families()
_SHARED = {name: COUNT + i for i, group in enumerate(_FAMILIES.values()) for name in group}
_SLOT_START = COUNT + len(_FAMILIES)
_SLOT_SIZE = SEVERITIES + 1
SOC_LATENT = _SLOT_START + SLOTS * _SLOT_SIZE
LATENTS = SOC_LATENT + 1
LATENT_NAMES = (
    *NAMES,
    *(f"shared_{family}" for family in _FAMILIES),
    *(
        f"cause{slot}_{part}"
        for slot in range(SLOTS)
        for part in (*(f"severity{k}" for k in range(SEVERITIES)), "placement")
    ),
    "soc_left",
)
_LOW = np.array([parameter.low for parameter in PARAMETERS])
_HIGH = np.array([parameter.high for parameter in PARAMETERS])


def draw(machine: Machine, causes: tuple[Cause, ...], z: Array) -> Array:
    """Return parameters (n, COUNT) of n units with these causes, clipped to their limits.

    ``causes`` holds none, one or two; ``z`` (n, LATENTS) iid standard normal. Where two
    causes leave a state of charge, the lower counts.

    Raises
    ------
    InputError
        ``z`` has another width, there are too many causes, or the machine cannot have one.
    """
    _check(machine, causes, z)
    return afflict(machine, causes, z, healthy(machine, z))


def afflict(machine: Machine, causes: tuple[Cause, ...], z: Array, params: Array) -> Array:
    """Return sound units' parameters (n, COUNT), drawn from the same ``z``, with causes put in.

    ``params`` is changed in place. Raises as ``draw`` does.
    """
    _check(machine, causes, z)
    for slot, cause in enumerate(causes):
        _apply(machine, cause, slot=slot, z=z, params=params)
    left = [cause.soc for cause in causes if cause.soc is not None]
    if left:
        u = ndtr(z[:, SOC_LATENT])
        soc = np.min([low + (high - low) * u for low, high in left], axis=0)
        own = any(change.parameter == "soc" for cause in causes for change in cause.changes)
        params[:, INDEX["soc"]] = np.minimum(soc, params[:, INDEX["soc"]]) if own else soc
    return np.clip(params, _LOW, _HIGH, out=params)


def _check(machine: Machine, causes: tuple[Cause, ...], z: Array) -> None:
    if z.ndim != 2 or z.shape[1] != LATENTS:
        raise InputError(f"latents of shape {z.shape}; expected (n, {LATENTS})")
    if len(causes) > SLOTS:
        raise InputError(f"{len(causes)} causes at once; expected at most {SLOTS}")
    for cause in causes:
        if not cause.possible(machine):
            raise InputError(
                f"cause {cause.id!r} cannot occur on {machine.class_id!r}; its layout or battery"
                " lacks the part"
            )


def healthy(machine: Machine, z: Array) -> Array:
    """Return parameters (n, COUNT) of n sound units, clipped to their limits."""
    params = np.empty((z.shape[0], COUNT))
    for name in draw_order(machine.scatter):
        rule = machine.scatter[name]
        index = INDEX[name]
        values = rule.sample(z[:, _SHARED.get(name, index)], z[:, index])
        for other, power in rule.times:
            values = values * params[:, INDEX[other]] ** power
        params[:, index] = np.clip(values, _LOW[index], _HIGH[index])
    return params


def severity(machine: Machine, cause: Cause, z: Array, *, slot: int = 0) -> Array:
    """Return the values (n,) of the leading change, NaN for a cause without any.

    In the parameter's unit (a factor for ``multiply``), before it is applied.
    """
    if not cause.changes:
        return np.full(z.shape[0], np.nan)
    return _values(machine, cause.changes[0], slot=slot, z=z)


def with_first(z: Array, slot: int) -> Array:
    """Return latents (n, LATENTS) of the same units with the cause of ``slot`` as their first.

    So a unit that has lost the first of its two causes keeps the other as severe, where it was.
    """
    moved = z.copy()
    moved[:, _own(0)], moved[:, _own(slot)] = z[:, _own(slot)], z[:, _own(0)]
    return moved


def with_another(z: Array, fresh: Array) -> Array:
    """Return latents (n, LATENTS) of the same units with a new first cause, the old one second.

    The new cause's latents are those that ``fresh`` (n, LATENTS) has for a first cause.
    """
    moved = with_first(z, 1)
    moved[:, _own(0)] = fresh[:, _own(0)]
    return moved


def _own(slot: int) -> slice:
    """Return the latents of a slot's cause."""
    start = _SLOT_START + slot * _SLOT_SIZE
    return slice(start, start + _SLOT_SIZE)


def placement(machine: Machine, cause: Cause, z: Array, *, slot: int = 0) -> Array:
    """Return which of ``cause.placement.spots`` each unit has, as floats (n,)."""
    count = len(cause.placement.spots(machine.layout))
    u = ndtr(z[:, _SLOT_START + slot * _SLOT_SIZE + SEVERITIES])
    return np.minimum(np.floor(u * count), count - 1)


def _values(machine: Machine, change: Change, *, slot: int, z: Array) -> Array:
    u = ndtr(z[:, _SLOT_START + slot * _SLOT_SIZE + change.severity])
    if change.spread is Spread.LOGUNIFORM:
        values = change.low * (change.high / change.low) ** u
    else:
        values = change.low + (change.high - change.low) * u
    return np.asarray(values * _scale(machine, change.scale))


def _scale(machine: Machine, scale: Scale) -> float:
    if scale is Scale.PER_OUTPUT_A:
        return 1.0 / machine.output_a
    if scale is Scale.OF_OUTPUT:
        return machine.output_a
    if scale is Scale.PER_CRANK_A:
        return 1.0 / machine.typical()["crank_a"]
    return 1.0


def _apply(machine: Machine, cause: Cause, *, slot: int, z: Array, params: Array) -> None:
    """Change the rows of ``params`` in place."""
    spots = cause.placement.spots(machine.layout)
    chosen = placement(machine, cause, z, slot=slot)
    everyone = np.ones(z.shape[0], dtype=np.bool_)
    for change in cause.changes:
        values = _values(machine, change, slot=slot, z=z)
        if not change.placed:
            _put(params, INDEX[change.parameter], everyone, change.op, values)
            continue
        for number, spot in enumerate(spots):
            for place in spot:
                index = INDEX[change.parameter.format(**place)]
                _put(params, index, chosen == number, change.op, values)


def _put(
    params: Array,
    index: int,
    rows: np.ndarray[tuple[int], np.dtype[np.bool_]],
    op: Op,
    values: Array,
) -> None:
    if op is Op.SET:
        params[rows, index] = values[rows]
    elif op is Op.ADD:
        params[rows, index] += values[rows]
    else:
        params[rows, index] *= values[rows]
