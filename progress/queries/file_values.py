"""How a value stands in a studio's file, and how it is read back, strictly.

A day is 2026-03-31, a moment is ISO 8601 in UTC, a time of day 04:00:00, "not known" is null.
"""

import json
import math
from datetime import UTC, date, datetime, time
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Field

DEEPEST = 6
LONGEST_JSON = 20_000

_AS_TEXT = {models.DateField: date, models.TimeField: time, models.UUIDField: UUID}
_PLAIN: tuple[tuple[Any, type | tuple[type, ...], str], ...] = (
    (models.BooleanField, bool, "true or false"),
    (models.IntegerField, int, "a whole number"),
    (models.FloatField, (int, float), "a number"),
    (models.CharField, str, "text"),
)


class BadValueError(ValueError):
    """A value that cannot stand in its column; the message says what is allowed."""


def to_json(value: Any) -> Any:
    """Turn a column's value into what JSON can hold."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, date | time):
        return value.isoformat()
    return str(value) if isinstance(value, UUID) else value


def from_json(field: "Field[Any, Any]", given: Any) -> Any:
    """Read a value back for its column; BadValueError for all that could not stand there."""
    if given is None:
        if not field.null:
            message = "is missing: it may not be empty"
            raise BadValueError(message)
        return None
    if isinstance(field, models.JSONField):
        return _loose(given)
    try:
        value = field.clean(_read(field, given), None)
    except BadValueError:
        raise
    except ValidationError as error:
        raise BadValueError(f"{_shown(given)}: {' '.join(error.messages)}") from None
    except (ValueError, OverflowError):
        raise BadValueError(f"{_shown(given)} cannot be read") from None
    return value


def _read(field: "Field[Any, Any]", given: Any) -> Any:
    if isinstance(field, models.DateTimeField):
        moment = datetime.fromisoformat(_text(given))
        if moment.tzinfo is None:
            message = f"{_shown(given)} is a time without a zone: write it with Z"
            raise BadValueError(message)
        return moment.astimezone(UTC)
    for kind, made in _AS_TEXT.items():
        if isinstance(field, kind):
            reader = made if made is UUID else made.fromisoformat  # type: ignore[attr-defined]
            return reader(_text(given))
    for kind, allowed, words in _PLAIN:
        if isinstance(field, kind):
            is_bool = isinstance(given, bool) and kind is not models.BooleanField
            if is_bool or not isinstance(given, allowed):
                message = f"{_shown(given)} is not {words}"
                raise BadValueError(message)
            return _text(given) if isinstance(given, str) else given
    message = f"{_shown(given)} cannot be read"
    raise BadValueError(message)


def _text(given: Any) -> str:
    """Take text that every database can keep: no NUL, no half of a pair."""
    if not isinstance(given, str):
        message = f"{_shown(given)} is not text"
        raise BadValueError(message)
    if "\0" in given or any("\ud800" <= letter <= "\udfff" for letter in given):
        message = "holds a letter that no database keeps"
        raise BadValueError(message)
    return given


def _loose(given: Any, *, depth: int = 0) -> Any:
    """Take a list or an object of plain values, not too deep and not too long."""
    if depth == 0 and len(json.dumps(given)) > LONGEST_JSON:
        message = f"is longer than {LONGEST_JSON} letters"
        raise BadValueError(message)
    if depth > DEEPEST:
        message = f"is more than {DEEPEST} lists deep"
        raise BadValueError(message)
    if isinstance(given, dict):
        return {_text(key): _loose(value, depth=depth + 1) for key, value in given.items()}
    if isinstance(given, list):
        return [_loose(value, depth=depth + 1) for value in given]
    if isinstance(given, float) and not math.isfinite(given):
        message = f"{given} is not a number"
        raise BadValueError(message)
    return _text(given) if isinstance(given, str) else given


def _shown(given: Any) -> str:
    """Show what was given in a few letters that any terminal can print."""
    shown = ascii(given)
    return shown if len(shown) <= 40 else f"{shown[:37]}..."
