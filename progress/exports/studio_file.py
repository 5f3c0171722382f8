"""A studio, or everything about one student, as one JSON document. See docs/formats.md.

It is written row by row, a row a line, so that a large studio is never held whole.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from django.db import connection, transaction
from django.db.models import Model, QuerySet
from django_scopes import scope

from progress.queries.file_parts import PARTS, Column, Part, columns
from progress.queries.file_values import to_json
from studio.models import AuditLine, Grant, Membership, Student, Studio, User
from studio.words import GrantState

STUDIO_FORMAT, STUDENT_FORMAT, VERSION = "filar-studio", "filar-student", 1
ROWS_AT_ONCE = 500
ABOUT = (
    "Personal data of children: names, how practice went, and what hurt. Keep it as you would keep "
    "a register, hand it to nobody who has no right to it, and delete it when it is not needed."
)
PEOPLE_BY = {STUDIO_FORMAT: "email", STUDENT_FORMAT: "name"}


def write_studio(studio: Studio, *, moment: datetime) -> Iterator[str]:
    """Write a studio whole, piece by piece, as it stands at one moment."""
    with _one_moment(), scope(studio=studio):
        yield from _document(STUDIO_FORMAT, moment, studio=studio)


def write_student(student: Student, *, moment: datetime) -> Iterator[str]:
    """Write everything about one student, piece by piece; teachers stand in it by name alone."""
    with _one_moment(), scope(studio=student.studio):
        yield from _document(STUDENT_FORMAT, moment, studio=student.studio, student=student)


@contextmanager
def _one_moment() -> Iterator[None]:
    """Open a transaction in which nothing changes between the first row and the last."""
    outermost = not connection.in_atomic_block
    with transaction.atomic():
        if outermost and connection.vendor == "postgresql":  # SQLite does this by itself
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        yield


def _document(
    name: str, moment: datetime, *, studio: Studio, student: Student | None = None
) -> Iterator[str]:
    head = {"format": name, "version": VERSION, "exported_at": to_json(moment), "about": ABOUT}
    yield "{" + ",\n".join(f"{_json(key)}: {_json(value)}" for key, value in head.items())
    for part in PARTS:
        if student is not None and not part.student and part.model is not AuditLine:
            continue
        listed = tuple(columns(part))
        yield f",\n{_json(part.name)}: ["
        between = "\n"
        for row in _rows(part, studio, student, listed, PEOPLE_BY[name]):
            yield f"{between}{_json(_as_object(part, listed, row))}"
            between = ",\n"
        yield "\n]"
    yield "\n}\n"


def _rows(
    part: Part,
    studio: Studio,
    student: Student | None,
    listed: tuple[Column, ...],
    people_by: str,
) -> Iterator[tuple[Any, ...]]:
    found: QuerySet[Model] = part.model._default_manager.order_by("pk")  # noqa: SLF001
    if part.model is Studio:
        found = found.filter(pk=studio.pk)
    elif part.model is User:
        found = found.filter(pk__in=_people())
    elif student is not None and part.model is AuditLine:
        found = found.filter(about=student.public_id)
    elif student is not None:
        found = found.filter(**{part.student: student.pk})
    paths = [
        f"{column.field.name}__{people_by}" if column.to is User else column.path
        for column in listed
    ]
    yield from found.values_list(*paths).iterator(chunk_size=ROWS_AT_ONCE)


def _people() -> set[int]:
    """Find everybody who teaches or taught here, and whoever a row of the studio names."""
    found: set[int | None] = set(Membership.objects.values_list("user", flat=True))
    for part in PARTS:
        for column in columns(part):
            if column.to is User:
                rows = part.model._default_manager.order_by()  # noqa: SLF001
                found |= set(rows.values_list(column.field.name, flat=True).distinct())
    return {number for number in found if number is not None}


def _as_object(part: Part, listed: tuple[Column, ...], row: tuple[Any, ...]) -> dict[str, Any]:
    shown = {column.name: to_json(value) for column, value in zip(listed, row, strict=True)}
    if part.model is Grant and shown["state"] != GrantState.REFUSED:
        # A phone does not go along; that it was refused is what sets its check-ins aside.
        shown["state"] = GrantState.ENDED.value
    return shown


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
