"""Which rows belong to a studio: what a copy of it holds, in the order it can be made anew in.

`TABLES` and `LEFT_OUT` together name every model that leads to a studio; a test holds that.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from types import MappingProxyType
from typing import Any
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Field, ForeignKey, Model, OneToOneField

from progress.models import (
    CheckIn,
    Decision,
    KeptMonth,
    LessonRating,
    NotToday,
    Recording,
    RecordingLeave,
    Report,
    SetAside,
)
from routines.models import Block, BlockVersion, Template
from studio.models import (
    AuditLine,
    Discomfort,
    ErasedStudent,
    Grant,
    Interruption,
    Invitation,
    Letter,
    Membership,
    Offer,
    Public,
    Student,
    Studio,
    Tries,
    User,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One kind of rows in a copy.

    `student` leads from a row to its student and is "" where a row belongs to the studio alone;
    `left_out` names the fields that never leave.
    """

    name: str
    model: type[Model]
    student: str = ""
    left_out: frozenset[str] = frozenset()

    @property
    def fields(self) -> list[Field[Any, Any]]:
        """The fields a copy holds: all but the row's number and what never leaves."""
        return [
            field
            for field in self.model._meta.concrete_fields  # noqa: SLF001 - Django's own way
            if not field.primary_key and field.name not in self.left_out
        ]

    @property
    def references(self) -> list[ForeignKey[Any, Any]]:
        """Those of the fields that name another row."""
        return [field for field in self.fields if isinstance(field, ForeignKey | OneToOneField)]

    @property
    def is_named(self) -> bool:
        """Whether another row may name one of these."""
        return self.model is BlockVersion or issubclass(self.model, Public)

    @property
    def values(self) -> list[Field[Any, Any]]:
        """Those of the fields that hold a value of their own."""
        named = set(self.references)
        return [field for field in self.fields if field not in named]


STUDIO_FORMAT = "filar studio"
STUDENT_FORMAT = "filar student"
EDITION = 1
OF_STUDIO = frozenset({"studio"})
STUDIO = Table(name="studio", model=Studio)
PEOPLE = Table(name="people", model=User, left_out=frozenset({"password", "last_login"}))
TABLES = (
    Table(name="memberships", model=Membership, left_out=OF_STUDIO),
    Table(name="students", model=Student, student="pk", left_out=OF_STUDIO),
    Table(name="interruptions", model=Interruption, student="student"),
    Table(name="discomforts", model=Discomfort, student="student"),
    Table(
        name="phones",
        model=Grant,
        student="student",
        left_out=frozenset(
            {"offer", "secret_hash", "next_secret_hash", "secret_is_new", "ended_at", "expires_at"}
        ),
    ),
    Table(name="blocks", model=Block, student="student"),
    Table(name="block_versions", model=BlockVersion, student="block__student"),
    Table(name="templates", model=Template, left_out=OF_STUDIO),
    Table(name="check_ins", model=CheckIn, student="student"),
    Table(name="set_aside", model=SetAside, student="check_in__student"),
    Table(name="not_today", model=NotToday, student="student"),
    Table(name="kept_months", model=KeptMonth, student="student"),
    Table(name="lesson_ratings", model=LessonRating, student="student"),
    Table(name="decisions", model=Decision, student="student"),
    Table(name="reports", model=Report, student="student"),
    Table(name="audit_lines", model=AuditLine, left_out=OF_STUDIO),
)
# What a student's own copy holds beside that: it is for reading and makes no studio anew.
OF_STUDENT_ALONE = (
    Table(name="recording_leave", model=RecordingLeave, student="student"),
    Table(
        name="recordings",
        model=Recording,
        student="student",
        left_out=frozenset({"file", "size", "sha256", "state", "taken_at", "tries"}),
    ),
    Table(
        name="letters",
        model=Letter,
        student="student",
        left_out=frozenset({"studio", "stop", "next_try_at", "tries"}),
    ),
)
LEFT_OUT: Mapping[type[Model], str] = MappingProxyType(
    {
        ErasedStudent: "hashes of who is gone from this database; they are no part of a studio",
        Letter: "goes along with a student alone; what is due is written anew where the studio is",
        Tries: "how often something was tried on this server; it names nobody",
        Invitation: "a link that lets somebody in; a new one is made where the studio is now",
        Offer: "a link that sets up a phone; a new one is made where the studio is now",
        Recording: "goes along with a student alone; the sound is downloaded one by one",
        RecordingLeave: "goes along with a student alone; it is asked anew where the studio is now",
    }
)


@contextmanager
def one_moment() -> Iterator[None]:
    """Let several queries see the rows of one moment, whatever is written meanwhile."""
    is_first = not connection.in_atomic_block
    with transaction.atomic():
        if is_first and connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


def name_of(row: Model) -> str:
    """Name a row in a copy, the same wherever it is: never by its number in this database."""
    if isinstance(row, User):
        return str(row.email)
    if isinstance(row, BlockVersion):
        return f"{row.block.public_id} {row.from_day.isoformat()}"
    return str(row.public_id)  # type: ignore[attr-defined]


def as_json(value: Any) -> Any:
    """Write one value of a row as JSON knows it."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    return str(value) if isinstance(value, UUID) else value
