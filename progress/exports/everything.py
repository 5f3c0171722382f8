"""A whole studio, or one student, as one JSON document (RFC 8259, UTF-8): all that is known.

Conventions: rows are objects, one a line, in the order they were made; a row names another by its
public id, a person by e-mail address, a version of a block by the block's public id and the day.
Days are YYYY-MM-DD, moments ISO 8601 in UTC. No password, no secret of a phone, no link that lets
anybody in. `docs/formats.md` describes every part.
"""

import json
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from django.db.models import Model, QuerySet
from django_scopes import scope

from progress.queries.tables import (
    EDITION,
    OF_STUDENT_ALONE,
    PEOPLE,
    STUDENT_FORMAT,
    STUDIO,
    STUDIO_FORMAT,
    TABLES,
    Table,
    as_json,
    name_of,
)
from studio.models import Grant, Student, Studio, User
from studio.words import GrantKind, GrantState

ROWS_AT_ONCE = 500


def studio_text(studio: Studio, moment: datetime) -> Iterator[str]:
    """Give the document of a studio piece by piece, so that a large one need not fit in memory."""
    with scope(studio=studio):
        parts = [(table, _rows(table)) for table in TABLES]
    return _document(STUDIO_FORMAT, studio, moment, parts)


def student_text(student: Student, moment: datetime) -> Iterator[str]:
    """Give the document of one student: every row about them and nobody else's."""
    studio = student.studio
    with scope(studio=studio):
        parts = [
            (table, _rows(table).filter(**{table.student: student.pk}))
            for table in (*TABLES, *OF_STUDENT_ALONE)
            if table.student
        ]
    return _document(STUDENT_FORMAT, studio, moment, parts)


def _rows(table: Table) -> QuerySet[Model]:
    also = [field.name for field in table.references]
    also += ["version__block"] if "version" in also else []
    rows: QuerySet[Model] = table.model.objects.select_related(*also)  # type: ignore[attr-defined]
    return rows.order_by("pk")


def _document(
    kind: str, studio: Studio, moment: datetime, parts: Sequence[tuple[Table, QuerySet[Model]]]
) -> Iterator[str]:
    head = {"format": kind, "edition": EDITION, "made_at": as_json(moment)}
    yield "{\n"
    for name, value in head.items():
        yield f"{json.dumps(name)}: {json.dumps(value)},\n"
    yield f'"studio": {_line(STUDIO, studio)},\n'
    yield from _part(PEOPLE, _people(parts), is_last=False)
    for number, (table, rows) in enumerate(parts, start=1):
        yield from _part(table, rows, is_last=number == len(parts))
    yield "}\n"


def _part(table: Table, rows: QuerySet[Any], *, is_last: bool) -> Iterator[str]:
    yield f"{json.dumps(table.name)}: ["
    before = "\n"
    for row in rows.iterator(ROWS_AT_ONCE):
        yield f"{before}{_line(table, row)}"
        before = ",\n"
    yield "]\n" if is_last else "],\n"


def _line(table: Table, row: Model) -> str:
    return json.dumps(
        {
            **{field.name: _value(row, field.name) for field in table.values},
            **{field.name: _named(getattr(row, field.name)) for field in table.references},
        },
        ensure_ascii=False,
    )


def _value(row: Model, name: str) -> Any:
    """Write a value; a phone does not go along, and its state says only what became of its rows."""
    if isinstance(row, Grant) and name == "state":
        return _state(row).value
    return as_json(getattr(row, name))


def _state(phone: Grant) -> GrantState:
    """Say that a phone is out; of one nobody has answered about, that it is still asked about."""
    is_asked = phone.state == GrantState.PROVISIONAL and phone.kind != GrantKind.PARENT
    if is_asked or phone.state == GrantState.REFUSED:
        return GrantState(phone.state)
    return GrantState.ENDED


def _named(row: Model | None) -> str | None:
    return None if row is None else name_of(row)


def _people(parts: Sequence[tuple[Table, QuerySet[Model]]]) -> QuerySet[User]:
    """Find the accounts that the rows name, and those alone."""
    numbers: set[int] = set()
    for table, rows in parts:
        for field in table.references:
            if field.related_model is User:
                numbers.update(rows.order_by().values_list(field.attname, flat=True).distinct())
    return User.objects.filter(pk__in=numbers - {None}).order_by("pk")
