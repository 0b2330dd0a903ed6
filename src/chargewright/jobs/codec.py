"""Between a job card and its JSON text, without loss in either direction."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NoReturn

from pydantic import ValidationError

from chargewright.errors import InputError
from chargewright.jobs.card import CARD_VERSION, JobCard
from chargewright.jobs.refusal import refusal, short
from chargewright.jobs.upgrades import upgraded

MAX_CARD_CHARS = 5_000_000  # assumed: a busy job is a few hundred kilobytes at most


def card_dict(card: JobCard) -> dict[str, Any]:
    """Return the card as JSON-ready dictionaries and lists, without fields that nobody knows.

    Nulls inside free dictionaries are kept.
    """
    return card.model_dump(mode="json", by_alias=True, exclude_none=True)


def canonical_json(card: JobCard) -> str:
    """Return the one JSON text that equal cards share: sorted keys, no spaces."""
    return _dumps(card_dict(card), ascii_only=False, sort_keys=True, separators=(",", ":"))


def pretty_json(card: JobCard) -> str:
    """Return the card as people read it: fields in the schema's order, two-space indent."""
    return _dumps(card_dict(card), ascii_only=False, indent=2) + "\n"


def card_from_json(text: str, *, source: str = "card") -> JobCard:
    """Return the card that ``text`` holds.

    Older versions are upgraded. Raises InputError, one line with the JSON path, the value and
    what was expected; ``source`` names where the text came from.
    """
    if len(text) > MAX_CARD_CHARS:
        raise InputError(
            f"{source}: {len(text)} characters, expected a card of at most {MAX_CARD_CHARS}"
        )
    return _checked(_loads(text, source), source)


def object_from_json(text: str, *, source: str) -> dict[str, Any]:
    """Return the JSON object that ``text`` holds; InputError names the place and what is wrong."""
    raw = _loads(text, source)
    if not isinstance(raw, dict):
        raise InputError(f"{source}: given {short(raw)}, expected one JSON object")
    return raw


def card_from_dict(raw: Mapping[str, Any], *, source: str = "card") -> JobCard:
    """Return the card that ``raw`` holds; the same door as ``card_from_json``."""
    return card_from_json(_dumps(dict(raw), source=source), source=source)


def rechecked(card: JobCard) -> JobCard:
    """Return the card as it will be read back; what could not be read is refused, not written.

    Raises InputError.
    """
    return card_from_dict(card_dict(card), source=f"job {card.id}")


def _checked(raw: object, source: str) -> JobCard:
    if not isinstance(raw, dict):
        raise InputError(f"{source}: given {short(raw)}, expected one JSON object, a job card")
    raw = upgraded(raw, current=CARD_VERSION, source=source)
    try:
        # Through text once more: strict JSON mode knows that dates and words arrive as strings
        # but still refuses "12.6" where a number belongs.
        return JobCard.model_validate_json(
            _dumps(raw, source=source), strict=True, by_alias=True, by_name=False
        )
    except ValidationError as error:
        raise refusal(error, JobCard, source=source) from None


def _loads(text: str, source: str) -> object:
    try:
        return json.loads(text, object_pairs_hook=_no_key_twice, parse_constant=_not_a_number)
    except json.JSONDecodeError as error:
        raise InputError(
            f"{source}: line {error.lineno}, column {error.colno}: {error.msg}, expected JSON"
        ) from None
    except RecursionError:
        raise InputError(f"{source}: nested too deeply for a job card") from None
    except ValueError as error:
        raise InputError(f"{source}: {error}") from None


def _dumps(
    raw: object,
    *,
    source: str = "card",
    ascii_only: bool = True,
    sort_keys: bool = False,
    indent: int | None = None,
    separators: tuple[str, str] | None = None,
) -> str:
    try:
        return json.dumps(
            raw,
            allow_nan=False,
            ensure_ascii=ascii_only,
            sort_keys=sort_keys,
            indent=indent,
            separators=separators,
        )
    except RecursionError:
        raise InputError(f"{source}: nested too deeply for a job card") from None
    except (TypeError, ValueError) as error:
        raise InputError(f"{source}: cannot be written as JSON: {error}") from None


def _no_key_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        name = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"field {short(name)} occurs twice in one object, expected once")
    return found


def _not_a_number(token: str) -> NoReturn:
    raise ValueError(f"given {token}, expected a finite number")
