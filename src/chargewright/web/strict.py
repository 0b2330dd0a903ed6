"""Bodies are taken as JSON says them: a number is no switch, and no text is a number."""

from __future__ import annotations

import json
from typing import Any

from pydantic import TypeAdapter, ValidationInfo, ValidatorFunctionWrapHandler, WrapValidator


def strictly(kind: type) -> WrapValidator:
    """Return the annotation of a body of this type.

    The framework hands over what it has read, in which ``true`` would pass for 1; strict JSON
    mode knows that times and words arrive as strings and lets nothing else be bent.
    """
    adapter: TypeAdapter[Any] = TypeAdapter(kind)

    def checked(value: object, handler: ValidatorFunctionWrapHandler, info: ValidationInfo) -> Any:  # noqa: ANN401
        if info.mode == "json" or isinstance(value, kind):
            return handler(value)
        if isinstance(value, bytes):  # sent without a type
            raise ValueError("expected a body of application/json")
        text = json.dumps(value, allow_nan=False)
        return adapter.validate_json(text, strict=True, by_alias=True, by_name=False)

    return WrapValidator(checked)
