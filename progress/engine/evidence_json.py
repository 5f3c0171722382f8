"""The evidence of one student as a JSON object, read with errors that say what to change.

Conventions: days are written YYYY-MM-DD; null or a key left out is "not answered"; keys that mean
nothing here are passed over. The object has ``id``, ``block``, ``check-ins`` under ``checkins``,
``lessons`` and, if anything is open, ``open``.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any, NoReturn, TypeVar

from progress.engine.check_in import Criterion, Discomfort, Register
from progress.engine.evidence import (
    AssignedBlock,
    CheckIn,
    Evidence,
    EvidenceError,
    Lesson,
    OpenKind,
    OpenThing,
    Ratings,
)
from routines.engine.variants import Aim

Word = TypeVar("Word", bound=StrEnum)

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_SHOWN = 30
_ROWS = 2000
_LARGEST = 1e15


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """The evidence of one student and the name it goes under."""

    id: str | int
    evidence: Evidence


def parse(text: str) -> Named:
    """Read one student's object; EvidenceError says what was given and what to write instead."""
    try:
        found = json.loads(text, parse_constant=_no_such_number)
    except RecursionError:
        raise EvidenceError("line", "nested too deeply: write one object a student.") from None
    except json.JSONDecodeError as error:
        raise EvidenceError("line", f"not JSON: {error.msg} at column {error.colno}.") from None
    except EvidenceError:
        raise
    except ValueError:
        raise EvidenceError("line", "a number has too many digits.") from None
    return read(found)


def read(found: object) -> Named:
    """Read one student's object from what JSON holds."""
    student = _Object(found, "the line")
    block = _block(student.object("block"))
    evidence = Evidence(
        block=block,
        check_ins=tuple(_check_in(row) for row in student.rows("checkins")),
        lessons=tuple(_lesson(row) for row in student.rows("lessons")),
        open_things=tuple(_open_thing(row) for row in student.rows("open")),
    )
    return Named(id=student.name("id"), evidence=evidence)


def parse_day(text: object, where: str = "day") -> date:
    """Read a day; only YYYY-MM-DD will do."""
    if isinstance(text, str) and _DAY.fullmatch(text):
        try:
            return date.fromisoformat(text)
        except ValueError:
            pass
    raise EvidenceError(where, f"{where} {_shown(text)}: write a day as 2026-03-31.")


class _Object:
    """A JSON object and where it stands, so that an error can name the place."""

    def __init__(self, found: object, where: str) -> None:
        if not isinstance(found, dict):
            raise EvidenceError(where, f"{where} is {_shown(found)}: write an object, {{...}}.")
        self.found: Mapping[str, Any] = found
        self.where = where

    def at(self, key: str) -> str:
        return key if self.where == "the line" else f"{self.where} {key}"

    def required(self, key: str) -> Any:
        if self.found.get(key) is None:
            raise EvidenceError(self.at(key), f"{self.at(key)} is missing.")
        return self.found[key]

    def object(self, key: str) -> "_Object":
        return _Object(self.required(key), self.at(key))

    def rows(self, key: str) -> list["_Object"]:
        rows = self._list(key)
        one = {"checkins": "check-in", "lessons": "lesson", "open": "open thing"}[key]
        return [_Object(row, f"{one} {place}") for place, row in enumerate(rows, 1)]

    def name(self, key: str) -> str | int:
        value = self.required(key)
        if isinstance(value, str | int) and not isinstance(value, bool):
            return value
        raise EvidenceError(self.at(key), f"{self.at(key)} {_shown(value)}: write a text.")

    def day(self, key: str) -> date:
        return parse_day(self.required(key), self.at(key))

    def day_or_none(self, key: str) -> date | None:
        return None if self.found.get(key) is None else self.day(key)

    def number(self, key: str) -> float:
        return _number(self.required(key), self.at(key))

    def number_or_none(self, key: str) -> float | None:
        return None if self.found.get(key) is None else self.number(key)

    def whole(self, key: str) -> int:
        return _whole(self.required(key), self.at(key))

    def yes_or_no(self, key: str) -> bool:
        value = self.found.get(key)
        if value is None or isinstance(value, bool):
            return bool(value)
        raise EvidenceError(self.at(key), f"{self.at(key)} {_shown(value)}: write true or false.")

    def word_or_none(self, key: str, words: type[Word]) -> Word | None:
        value = self.found.get(key)
        return None if value is None else _word(value, words, self.at(key))

    def ratings(self) -> Ratings:
        values = self._list("ratings")
        where = self.at("ratings")
        if len(values) != len(Criterion):
            raise EvidenceError(where, f"{where}: write four, in the order {', '.join(Criterion)}.")
        first, second, third, fourth = (
            None if value is None else _whole(value, where) for value in values
        )
        return first, second, third, fourth

    def trouble(self) -> frozenset[Register] | None:
        if self.found.get("trouble") is None:
            return None
        where = self.at("trouble")
        return frozenset(_word(value, Register, where) for value in self._list("trouble"))

    def _list(self, key: str) -> list[Any]:
        value = self.found.get(key)
        if value is None and key == "ratings":
            return [None] * len(Criterion)
        if value is None:
            return []
        if not isinstance(value, list) or len(value) > _ROWS:
            where = self.at(key)
            raise EvidenceError(where, f"{where} {_shown(value)}: write a list, up to {_ROWS}.")
        return value


def _block(block: _Object) -> AssignedBlock:
    return _placed(
        block,
        AssignedBlock,
        start=block.day("start"),
        days=block.whole("days"),
        notes=block.number("notes"),
        hold=block.whole("hold"),
        rest=block.whole("rest"),
        tempo=block.number("tempo"),
        top_target=block.number_or_none("top_target"),
        aim=block.word_or_none("aim", Aim),
        child=block.yes_or_no("child"),
        contrasts=block.yes_or_no("dynamic"),
        since=block.day_or_none("since"),
    )


def _check_in(row: _Object) -> CheckIn:
    return _placed(
        row,
        CheckIn,
        day=row.day("day"),
        filed=row.day("filed"),
        ratings=row.ratings(),
        effort=row.number_or_none("effort"),
        minutes=row.number_or_none("minutes"),
        completed=row.number_or_none("completed"),
        discomfort=row.word_or_none("discomfort", Discomfort),
        high=row.number_or_none("high"),
        trouble=row.trouble(),
        received=row.day_or_none("received"),
        planned=row.number_or_none("planned"),
    )


def _lesson(row: _Object) -> Lesson:
    return _placed(
        row, Lesson, day=row.day("day"), ratings=row.ratings(), filed=row.day_or_none("filed")
    )


def _open_thing(row: _Object) -> OpenThing:
    kind = row.word_or_none("kind", OpenKind)
    if kind is None:
        row.required("kind")
    return _placed(row, OpenThing, kind=kind, begins=row.day("from"), ends=row.day_or_none("to"))


Made = TypeVar("Made")


def _placed(row: _Object, fact: type[Made], /, **fields: Any) -> Made:
    """Build a fact; an error names the row it stands in."""
    try:
        return fact(**fields)
    except EvidenceError as error:
        raise EvidenceError(row.at(error.field), f"{row.where} {error}") from None


def _number(value: object, where: str) -> float:
    if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= _LARGEST:
        return value
    raise EvidenceError(where, f"{where} {_shown(value)}: write a number.")


def _whole(value: object, where: str) -> int:
    number = _number(value, where)
    if number != int(number):
        raise EvidenceError(where, f"{where} {_shown(value)}: write a whole number.")
    return int(number)


def _word(value: object, words: type[Word], where: str) -> Word:
    for word in words:
        if word.value == value:
            return word
    raise EvidenceError(where, f"{where} {_shown(value)}: choose {', '.join(words)}.")


def _shown(value: object) -> str:
    """Show what was given, shortly and in plain characters."""
    if isinstance(value, dict | list):
        return "{...}" if isinstance(value, dict) else "[...]"
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) > 10**_SHOWN:
        return "with so many digits"
    text = json.dumps(value)
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}..."


def _no_such_number(text: str) -> NoReturn:
    raise EvidenceError("line", f"not JSON: {text} is no number.")
