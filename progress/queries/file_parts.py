"""What a studio's file holds: which rows, in which order, and what stays behind and why.

A part's columns are those of its model, so that a new column travels without being named here;
what must not travel is named with its reason. `docs/formats.md` lists what comes of it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from django.db import models
from django.db.models import Field, ForeignKey

from progress.models import CheckIn, Decision, LessonRating, NotToday, SetAside
from routines.models import Block, BlockVersion, Template
from studio.models import (
    AuditLine,
    Discomfort,
    Grant,
    Interruption,
    Invitation,
    Membership,
    Offer,
    Student,
    Studio,
    User,
)

ID = "id"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One list of rows in the file.

    `student` is the way from a row to its student, empty where a row is nobody's. `key` is the
    column other rows name this one by. `left_out` says of each column that stays behind, why.
    """

    name: str
    model: type[models.Model]
    student: str = ""
    key: str = "public_id"
    left_out: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a part: its name in the file, its field, the way to its value in a query.

    `to` is the model of the row that it names, None for a plain value.
    """

    name: str
    field: "Field[Any, Any]"
    path: str
    to: type[models.Model] | None


_OPENS_A_PHONE = "opens a phone; a phone is set up anew where the file is brought in"
_OF_THE_PLACE = "holds for the site the phone was set up on"

# A row names only rows above it.
PARTS = (
    Part(name="studio", model=Studio),
    Part(
        name="people",
        model=User,
        key="email",
        left_out={
            "password": "opens an account; a new one is set where the file is brought in",
            "last_login": "says when somebody worked, and nobody needs it",
            "is_active": "is for the site to say",
        },
    ),
    Part(name="memberships", model=Membership),
    Part(name="students", model=Student, student="pk"),
    Part(name="interruptions", model=Interruption, student="student"),
    Part(name="discomforts", model=Discomfort, student="student"),
    Part(
        name="phones",
        model=Grant,
        student="student",
        left_out={
            "offer": "names a link that stays behind",
            "secret_hash": _OPENS_A_PHONE,
            "next_secret_hash": _OPENS_A_PHONE,
            "secret_is_new": _OPENS_A_PHONE,
            "ended_at": _OF_THE_PLACE,
            "last_day": _OF_THE_PLACE,
            "expires_at": _OF_THE_PLACE,
        },
    ),
    Part(name="templates", model=Template),
    Part(name="blocks", model=Block, student="student"),
    Part(name="versions", model=BlockVersion, student="block__student", key="from_day"),
    Part(name="check_ins", model=CheckIn, student="student"),
    Part(name="set_aside", model=SetAside, student="check_in__student"),
    Part(name="not_today", model=NotToday, student="student"),
    Part(name="lesson_ratings", model=LessonRating, student="student"),
    Part(name="decisions", model=Decision, student="student"),
    Part(name="record", model=AuditLine),
)
BY_MODEL = {part.model: part for part in PARTS}

LEFT_OUT: Mapping[type[models.Model], str] = {
    Invitation: "a link that makes somebody a teacher; a new one is made where it is needed",
    Offer: "a link that sets up a phone",
}


@cache
def columns(part: Part) -> tuple[Column, ...]:
    """List the columns of a part in the order of the file."""
    found = []
    for each in part.model._meta.concrete_fields:  # noqa: SLF001 - Django's public description
        to = each.related_model if isinstance(each, ForeignKey) else None
        if each.primary_key or each.name in part.left_out or to is Studio:
            continue
        name = ID if each.name == "public_id" else each.name
        path = f"{each.name}__{BY_MODEL[to].key}" if to else each.name
        found.append(Column(name=name, field=each, path=path, to=to))
    return tuple(found)
