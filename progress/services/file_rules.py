"""What a row of a studio's file must be beyond its columns: words that are known, rows that fit.

The database's own constraints hold besides; these are the rules that pages take for granted.
"""

import re
from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Model

from progress.engine import check_in as told
from progress.engine.choices import Choice
from progress.models import CheckIn, Decision, LessonRating, NotToday, SetAside
from progress.queries.file_values import BadValueError
from routines.engine import instruments, notes
from routines.engine.instruments import Clef
from routines.engine.section import Pitch
from routines.engine.variants import Aim, Variant
from routines.models import Block, BlockVersion, Template
from studio.models import (
    AuditLine,
    Discomfort,
    Grant,
    Interruption,
    Membership,
    Student,
    Studio,
    User,
)
from studio.words import (
    AuditKind,
    Caution,
    Grade,
    GrantKind,
    GrantState,
    HowMuch,
    InterruptionKind,
    Place,
    Role,
)

_NAME = re.compile(r"[\w-]{1,16}", re.ASCII)
_INSTRUMENTS = frozenset(instruments.ids())
_LOOKS = frozenset({"light", "dark"})


def _words(kind: type[StrEnum]) -> frozenset[str]:
    return frozenset(member.value for member in kind)


# The words a column may hold; one that may be empty may be so here too.
WORDS: Mapping[type[Model], Mapping[str, frozenset[str]]] = {
    Studio: {"note_naming": _words(notes.Naming), "caution": _words(Caution)},
    User: {"look": _LOOKS},
    Membership: {"role": _words(Role)},
    Student: {
        "instrument": _INSTRUMENTS,
        "clef": _words(Clef),
        "grade": _words(Grade),
        "note_naming": _words(notes.Naming),
    },
    Interruption: {"kind": _words(InterruptionKind)},
    Discomfort: {"place": _words(Place), "how_much": _words(HowMuch)},
    Grant: {"kind": _words(GrantKind), "state": _words(GrantState)},
    Template: {"instrument": _INSTRUMENTS, "pitch": _words(Pitch), "aim": _words(Aim)},
    Block: {"instrument": _INSTRUMENTS, "variant": _words(Variant), "aim": _words(Aim)},
    CheckIn: {
        "source": _words(told.Source),
        "discomfort": _words(told.Discomfort),
        "place": _words(Place),
        "stopped_because": _words(told.Stopped),
    },
    NotToday: {"reason": _words(told.NoSession)},
    Decision: {"choice": _words(Choice)},
    AuditLine: {"kind": _words(AuditKind)},
}


def check(row: Model) -> None:
    """Refuse a row whose words nobody knows or that does not fit the rows it names.

    Raises BadValueError, or the engine's own ValueError, with what is wrong.
    """
    for column, words in WORDS.get(type(row), {}).items():
        given = getattr(row, column)
        if given and given not in words:
            message = f"{column} {ascii(given)[:40]}: choose one of {', '.join(sorted(words))}"
            raise BadValueError(message)
    name = getattr(row, "public_id", None)
    if name is not None and not _NAME.fullmatch(name):
        message = f"id {ascii(name)[:40]}: use up to 16 letters and digits"
        raise BadValueError(message)
    if type(row) in _FITTING:
        _FITTING[type(row)](row)


def _studio(row: Any) -> None:
    try:
        ZoneInfo(row.time_zone)
    except (ValueError, OSError, LookupError):
        message = f"time_zone {ascii(row.time_zone)[:40]}: use a name such as Europe/Oslo"
        raise BadValueError(message) from None


def _days_off(row: Any) -> None:
    if not _is_list_of(row.weekdays_off, int):
        message = "weekdays_off: use a list of 0 (Monday) to 6 (Sunday)"
        raise BadValueError(message)


def _block(row: Any) -> None:
    _days_off(row)
    _ = row.last_day, row.month.last_day  # the engine refuses what it cannot lay out


def _template(row: Any) -> None:
    _days_off(row)
    _ = row.plan


def _version(row: Any) -> None:
    _ = row.plan


def _check_in(row: Any) -> None:
    _same_student(row, row.block, row.grant)
    registers = _words(told.Register)
    if row.trouble is not None and not (
        _is_list_of(row.trouble, str) and set(row.trouble) <= registers
    ):
        message = f"trouble: use a list of {', '.join(sorted(registers))}"
        raise BadValueError(message)


def _set_aside(row: Any) -> None:
    if row.moved_to is not None and row.moved_to.student_id != row.check_in.student_id:
        message = "moved_to is a check-in of another student"
        raise BadValueError(message)


def _decision(row: Any) -> None:
    _same_student(row, row.block, row.next_block)
    chance = row.seen.get("probability") if isinstance(row.seen, dict) else "?"
    is_number = isinstance(chance, int | float) and not isinstance(chance, bool)
    if not _is_list_of(row.variables, str) or not (chance is None or is_number):
        message = "variables or seen: not what a decision holds"
        raise BadValueError(message)


def _same_student(row: Any, *named: Any) -> None:
    if any(each is not None and each.student_id != row.student_id for each in named):
        message = "names a row of another student"
        raise BadValueError(message)


def _is_list_of(given: Any, kind: type) -> bool:
    return isinstance(given, list) and all(type(each) is kind for each in given)


_FITTING: Mapping[type[Model], Callable[[Any], None]] = {
    Studio: _studio,
    Template: _template,
    Block: _block,
    BlockVersion: _version,
    CheckIn: _check_in,
    SetAside: _set_aside,
    NotToday: lambda row: _same_student(row, row.grant),
    LessonRating: lambda row: _same_student(row, row.block),
    Decision: _decision,
}
