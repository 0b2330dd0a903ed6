"""Turns the validator's findings into one line: where, what was given, what was expected."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from chargewright.errors import InputError, nearest

_QUOTED = re.compile(r"'([^']*)'")
_PATTERN_WORDS = {
    "[A-Za-z0-9]": "an id of letters, digits, '_', '-', '.'",
    "[a-z0-9]": "a word of a-z, 0-9, '_', '-', '.'",
    "x00": "text without control characters",
}
Location = tuple[int | str, ...]


def json_path(location: Location) -> str:
    """Return ``('readings', 2, 'state')`` as ``readings[2].state``."""
    path = ""
    for step in location:
        path += f"[{step}]" if isinstance(step, int) else f".{step}" if path else step
    return path


def short(value: object) -> str:
    """Return the value as the message shows it, cut to one short line."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _models_in(annotation: object) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for inner in get_args(annotation) for model in _models_in(inner)]


def field_names(model: type[BaseModel]) -> dict[str, Any]:
    """Return the model's fields by the name they have in JSON."""
    return {
        str(info.serialization_alias or name): info for name, info in model.model_fields.items()
    }


def _model_at(model: type[BaseModel], location: Location) -> type[BaseModel] | None:
    """Return the model that holds the last step of ``location``."""
    for step in location[:-1]:
        if isinstance(step, str):
            info = field_names(model).get(step)
            inner = _models_in(info.annotation) if info is not None else []
            if not inner:
                return None
            model = inner[0]
    return model


def sentence(finding: Mapping[str, Any], model: type[BaseModel]) -> str:
    """Return one finding of the validator in words; ``model`` tells which names are known."""
    kind, message, given = finding["type"], finding["msg"], short(finding["input"])
    if kind == "extra_forbidden":
        holder = _model_at(model, finding["loc"])
        hint = nearest(str(finding["loc"][-1]), field_names(holder)) if holder else ""
        return f"unknown field; {hint}"
    if kind == "missing":
        return "is missing, and the card cannot do without it"
    if kind == "value_error":  # from our own validators, which name the value themselves
        return str(message.removeprefix("Value error, "))
    if kind in ("enum", "literal_error"):
        known = _QUOTED.findall(message)
        if isinstance(finding["input"], str) and known:
            return f"{given} is not known; {nearest(finding['input'], known)}"
    if kind == "string_pattern_mismatch":
        pattern = finding["ctx"]["pattern"]
        words = next((words for key, words in _PATTERN_WORDS.items() if key in pattern), pattern)
        return f"given {given}, expected {words}"
    if kind == "json_invalid":
        return str(message)
    expected = message.replace("Input should be", "expected")
    expected = expected.replace("a valid boolean", "true or false").replace("a valid", "a")
    return f"given {given}, {expected[0].lower()}{expected[1:]}"


def refusal(error: ValidationError, model: type[BaseModel], *, source: str) -> InputError:
    """Return the InputError for the first finding, and how many more there are."""
    findings = error.errors(include_url=False)
    first = findings[0]
    path = json_path(first["loc"])
    line = f"{source}: {path + ': ' if path else ''}{sentence(first, model)}"
    if len(findings) > 1:
        line += f" (and {len(findings) - 1} more)"
    return InputError(line)
