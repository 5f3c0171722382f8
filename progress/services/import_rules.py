"""What may stand in a file that a studio is made from: the words of each column, and what they say.

Columns hold words that their forms and engines know; a file is not made by our forms, so every
column is checked here against the same lists.
"""

import re
from collections.abc import Callable, Collection, Mapping
from datetime import date, datetime
from math import isfinite
from types import MappingProxyType
from typing import Any
from zoneinfo import available_timezones

from django.db.models import Model

from progress.engine.check_in import Discomfort as Hurt
from progress.engine.check_in import NoSession, Register, Source, Stopped
from progress.engine.choices import Choice
from progress.models import CheckIn, Decision, LessonRating, NotToday, Report
from routines.engine import instruments
from routines.engine.instruments import Clef
from routines.engine.notes import Naming
from routines.engine.section import Pitch
from routines.engine.variants import Aim, Variant
from routines.engine.walk import WayBack
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

EARLIEST, LATEST = date(1990, 1, 1), date(2199, 12, 31)
HIGHEST_MIDI = 127
PUBLIC_ID = re.compile(r"[0-9a-f]{16}")
# NUL, and half a pair of UTF-16: no database and no UTF-8 file holds them.
NO_LETTERS = re.compile("[\x00\ud800-\udfff]")
DEEPEST = 6
LOOKS = ("", "light", "dark")

WORDS: Mapping[tuple[type[Model], str], Collection[str]] = MappingProxyType(
    {
        (Studio, "time_zone"): available_timezones(),
        (Studio, "note_naming"): list(Naming),
        (Studio, "caution"): list(Caution),
        (User, "look"): LOOKS,
        (Membership, "role"): list(Role),
        (Student, "instrument"): instruments.ids(),
        (Student, "clef"): list(Clef),
        (Student, "grade"): list(Grade),
        (Student, "note_naming"): list(Naming),
        (Interruption, "kind"): list(InterruptionKind),
        (Discomfort, "place"): list(Place),
        (Discomfort, "how_much"): list(HowMuch),
        (Grant, "kind"): list(GrantKind),
        (Grant, "state"): [GrantState.PROVISIONAL, GrantState.ENDED, GrantState.REFUSED],
        (Block, "instrument"): instruments.ids(),
        (Block, "variant"): list(Variant),
        (Block, "aim"): list(Aim),
        (BlockVersion, "back"): list(WayBack),
        (BlockVersion, "clef"): list(Clef),
        (Template, "instrument"): instruments.ids(),
        (Template, "pitch"): list(Pitch),
        (Template, "back"): list(WayBack),
        (Template, "aim"): list(Aim),
        (CheckIn, "source"): list(Source),
        (CheckIn, "discomfort"): list(Hurt),
        (CheckIn, "place"): list(Place),
        (CheckIn, "stopped_because"): list(Stopped),
        (NotToday, "reason"): list(NoSession),
        (Decision, "choice"): list(Choice),
        (AuditLine, "kind"): list(AuditKind),
    }
)
FREE_WORDS = frozenset(
    {
        (Studio, "name"), (User, "email"), (User, "name"),
        (Student, "name"), (Student, "group"), (Student, "parent_email"), (Student, "consent_how"),
        (Interruption, "note"), (Grant, "label"), (Block, "message"), (Block, "batch"),
        (Block, "ended_by_batch"), (BlockVersion, "dynamics"), (Template, "name"),
        (Template, "dynamics"), (CheckIn, "zone"), (CheckIn, "words"), (Decision, "reason"),
        (LessonRating, "note"), (Report, "words"), (AuditLine, "about"), (AuditLine, "to"),
    }
)  # fmt: skip


def _is_weekdays(value: Any) -> bool:
    whole = isinstance(value, list) and all(type(day) is int for day in value)
    return whole and set(value) < set(range(7)) and len(set(value)) == len(value)


def _is_trouble(value: Any) -> bool:
    return value is None or (isinstance(value, list) and set(map(str, value)) <= set(Register))


def _is_seen(value: Any) -> bool:
    """Whether this can be what stood on a page: plain values, and a chance that is one."""
    if not isinstance(value, dict) or not _is_plain(value, depth=DEEPEST):
        return False
    chance: Any = value.get("probability")
    if chance is None:
        return not value.get("is_readable")
    return type(chance) in {int, float} and 0 <= chance <= 1


def _is_plain(value: Any, *, depth: int) -> bool:
    if isinstance(value, dict):
        inside = [*value, *value.values()]
    elif isinstance(value, list):
        inside = value
    elif isinstance(value, str):
        return not NO_LETTERS.search(value)
    else:
        return not isinstance(value, float) or isfinite(value)
    return depth > 0 and all(_is_plain(each, depth=depth - 1) for each in inside)


def _is_list_of_words(value: Any) -> bool:
    return (
        isinstance(value, list)
        and all(isinstance(word, str) for word in value)
        and _is_plain(value, depth=1)
    )


SHAPES: Mapping[tuple[type[Model], str], tuple[Callable[[Any], bool], str]] = MappingProxyType(
    {
        (Block, "weekdays_off"): (_is_weekdays, "list up to six of 0 (Monday) to 6"),
        (Template, "weekdays_off"): (_is_weekdays, "list up to six of 0 (Monday) to 6"),
        (CheckIn, "trouble"): (_is_trouble, "list low, middle or high, or give null"),
        (Decision, "variables"): (_is_list_of_words, "give a list of words"),
        (Decision, "seen"): (_is_seen, "give an object with a probability of 0 to 1"),
    }
)


def fault(model: type[Model], name: str, value: Any, *, may_be_blank: bool) -> str | None:
    """Say what is wrong with one value of a row, or None; types were looked at before."""
    if (model, name) in SHAPES:
        is_right, wanted = SHAPES[model, name]
        return None if is_right(value) else wanted
    if value is None or (value == "" and may_be_blank):
        return None
    if (model, name) in WORDS:
        return _of_words(value, WORDS[model, name])
    return _of_text(name, value) if isinstance(value, str) else _of_figures(name, value)


def _of_words(value: str, allowed: Collection[str]) -> str | None:
    few = 12
    if value in allowed:
        return None
    return f"choose {', '.join(sorted(allowed))}" if len(allowed) <= few else "it is not known here"


def _of_text(name: str, value: str) -> str | None:
    if name == "public_id" and not PUBLIC_ID.fullmatch(value):
        return "give 16 hexadecimal digits"
    return "leave out NUL and halves of a letter" if NO_LETTERS.search(value) else None


def _of_figures(name: str, value: Any) -> str | None:
    if isinstance(value, date):
        day = value.date() if isinstance(value, datetime) else value
        return None if EARLIEST <= day <= LATEST else f"give a day from {EARLIEST} to {LATEST}"
    is_too_high = name == "high_note" and value > HIGHEST_MIDI
    return f"give a MIDI number up to {HIGHEST_MIDI}" if is_too_high else None
