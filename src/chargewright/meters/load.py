"""Meter cards from files: the two that ship with the program, and the user's own."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from importlib import resources
from math import isfinite
from pathlib import Path
from typing import Any

from chargewright.errors import InputError, nearest
from chargewright.machine.points import Function
from chargewright.meters.card import FunctionCard, MeterCard, Range

DEFAULT_METER = "average-2000"
DATA = resources.files("chargewright.meters") / "data"

# Field of a function: lowest and highest value that makes sense, and its unit.
_NUMBERS: dict[str, tuple[float, float, str]] = {
    "bandwidth_hz": (10.0, 1e7, "Hz"),
    "spec_max_hz": (10.0, 1e7, "Hz"),
    "percent_above_spec_hz": (0.0, 99.0, "% of reading"),
    "input_ohm": (1e2, 1e12, "ohm"),
    "burden_ohm": (0.0, 1e5, "ohm"),
    "open_v": (0.1, 20.0, "V"),
    "short_a": (1e-8, 1.0, "A"),
    "lead_ohm": (0.0, 10.0, "ohm"),
    "lead_ohm_u": (0.0, 10.0, "ohm"),
    "contact_ohm_u": (0.0, 10.0, "ohm"),
    "zero_u_a": (0.0, 50.0, "A"),
}
_FLAGS = ("autorange", "average_responding", "null_removes_offset")
_ACCURACY: dict[str, tuple[float, float, str]] = {
    "percent": (0.0, 99.0, "% of reading"),
    "counts": (0.0, 1000.0, "steps of the last digit"),
}
_SCALE: dict[str, tuple[float, float, str]] = {
    "full_scale": (1e-9, 1e12, "V, ohm or A"),
    "lsd": (1e-12, 1e9, "V, ohm or A"),
}
_SOURCED = (Function.OHM, Function.DIODE)


def meter_ids() -> tuple[str, ...]:
    """Return the names of the cards that ship with the program."""
    names = (entry.name for entry in DATA.iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def load_meter(meter: str | Path | Mapping[str, Any] = DEFAULT_METER) -> MeterCard:
    """Return a meter card: by built-in name, from a TOML file, or from parsed data.

    A string is a file when it ends in ``.toml`` or holds a path separator.

    Raises:
        InputError: unknown name, unreadable file, or a field that is missing, unknown or wrong.

    >>> load_meter("trms-6000").functions[Function.DC_V].ranges[2].full_scale
    60.0
    """
    if isinstance(meter, Mapping):
        return _card("meter card", meter)
    if isinstance(meter, Path) or meter.endswith(".toml") or "/" in meter or "\\" in meter:
        return _card(str(meter), _parse(str(meter), _read(Path(meter))))
    if meter not in meter_ids():
        hint = nearest(meter, meter_ids())
        raise InputError(f"meter {meter!r}: expected a built-in card or a .toml file; {hint}")
    return _card(f"{meter}.toml", _parse(meter, (DATA / f"{meter}.toml").read_text("utf-8")))


def _read(path: Path) -> str:
    try:
        return path.read_text("utf-8")
    except FileNotFoundError as error:
        raise InputError(f"{path}: no such file: expected a meter card in TOML") from error
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: cannot be read as UTF-8 text: {error}") from error


def _parse(where: str, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{where}: not valid TOML: {error}") from error


def _card(where: str, data: Mapping[str, Any]) -> MeterCard:
    _known(where, data, ("id", "title", "source", "functions"))
    functions = _table(f"{where}: functions", data.get("functions"))
    if not functions:
        raise InputError(f"{where}: functions is empty: expected at least one, as functions.dc_v")
    words = [function.value for function in Function if function is not Function.LOOK]
    _known(f"{where}: functions", functions, words)
    return MeterCard(
        id=_text(where, data, "id", required=True),
        title=_text(where, data, "title", required=True),
        source=_text(where, data, "source"),
        functions={
            Function(word): _function(f"{where}: functions.{word}", Function(word), table)
            for word, table in functions.items()
        },
    )


def _function(where: str, function: Function, data: object) -> FunctionCard:
    table = _table(where, data)
    _known(where, table, (*_NUMBERS, *_FLAGS, *_ACCURACY, "ranges", "source"))
    if function in _SOURCED:
        for key in ("open_v", "short_a"):
            if key not in table:
                low, high, unit = _NUMBERS[key]
                raise InputError(f"{where}.{key} is missing: expected {low:g} to {high:g} {unit}")
    rows = table.get("ranges")
    if not isinstance(rows, list) or not rows:
        raise InputError(f"{where}.ranges = {rows!r}: expected a list of ranges")
    ranges = tuple(_range(f"{where}.ranges[{index}]", row, table) for index, row in enumerate(rows))
    numbers = {key: _number(where, table, key, _NUMBERS[key]) for key in _NUMBERS if key in table}
    flags = {key: _flag(where, table, key) for key in _FLAGS if key in table}
    try:
        return FunctionCard(
            ranges=ranges,
            source=_text(where, table, "source"),
            **numbers,  # type: ignore[arg-type]  # keys and kinds are held by the tables above
            **flags,
        )
    except InputError as error:
        raise InputError(f"{where}: {error}") from error


def _range(where: str, row: object, function: Mapping[str, Any]) -> Range:
    own = _table(where, row)
    _known(where, own, (*_SCALE, *_ACCURACY))
    merged = {key: function[key] for key in _ACCURACY if key in function} | dict(own)
    fields = {key: _number(where, merged, key, bounds) for key, bounds in _SCALE.items()}
    fields |= {key: _number(where, merged, key, bounds) for key, bounds in _ACCURACY.items()}
    try:
        return Range(**fields)
    except InputError as error:
        raise InputError(f"{where}: {error}") from error


def _known(where: str, table: Mapping[str, Any], words: tuple[str, ...] | list[str]) -> None:
    for key in table:
        if key not in words:
            raise InputError(f"{where}: unknown field {key!r}: {nearest(str(key), words)}")


def _table(where: str, value: object) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise InputError(f"{where} = {value!r}: expected a table of fields")
    return value


def _number(
    where: str, table: Mapping[str, Any], key: str, bounds: tuple[float, float, str]
) -> float:
    low, high, unit = bounds
    expected = f"expected {low:g} to {high:g} {unit}"
    if key not in table:
        raise InputError(f"{where}.{key} is missing: {expected}")
    value = table[key]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(f"{where}.{key} = {value!r}: {expected}")
    if not (isfinite(value) and low <= value <= high):
        raise InputError(f"{where}.{key} = {value!r}: {expected}")
    return float(value)


def _flag(where: str, table: Mapping[str, Any], key: str) -> bool:
    value = table[key]
    if not isinstance(value, bool):
        raise InputError(f"{where}.{key} = {value!r}: expected true or false")
    return value


def _text(where: str, table: Mapping[str, Any], key: str, *, required: bool = False) -> str:
    value = table.get(key, "")
    if not isinstance(value, str) or (required and not value.strip()):
        raise InputError(f"{where}: {key} = {value!r}: expected some text")
    return value
