"""Rows in one text for each student, and the rows out of it again.

Most of what a query costs in Python is the making of its rows and objects. Two texts that are
equal say the same of the same rows, so of what is the same as last time nothing is made at all.
The rows may stand in any order: two texts that differ may still say the same.
"""

import json
import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Generic, TypeVar

from django.db import connections
from django.db.models import (
    Aggregate,
    F,
    Field,
    FloatField,
    Func,
    JSONField,
    Model,
    Q,
    QuerySet,
    TextField,
)

Kind = TypeVar("Kind", bound=Model)
# A column as a query names it, and the field that it belongs to.
Column = tuple[str, "Field[Any, Any]"]

RECORD = re.compile(r'\(((?:"(?:[^"\\]|""|\\\\)*"|[^"()])*)\)')
IN_A_RECORD = re.compile(r'(?:^|,)(?:"((?:[^"\\]|""|\\\\)*)"|([^",]*))')


def columns_of(
    model: type[Model], *, through: str = "", only: Iterable[str] = (), but: Iterable[str] = ()
) -> list[Column]:
    """List the columns of a table, or some, reached through a relation such as "versions__"."""
    fields = model._meta.concrete_fields  # noqa: SLF001 - Django's own way
    chosen = {*only} or {field.name for field in fields}
    chosen -= {*but}
    return [(through + field.attname, field) for field in fields if field.name in chosen]


def texts(rows: QuerySet[Any], columns: Sequence[Column]) -> dict[int, str]:
    """Read these columns of rows that belong to students, in one text for each student."""
    of_each = rows.order_by().values_list("student")
    return dict(of_each.annotate(written=_Written(*_values_of(columns))))


def texts_in_two(
    rows: QuerySet[Any], columns: Sequence[Column], these: Q
) -> tuple[dict[int, str], dict[int, str]]:
    """Read the same in two texts for each student: these rows, and the others."""
    values = _values_of(columns)
    found = rows.order_by().values_list("student").annotate(
        these=_Written(*values, filter=these), others=_Written(*values, filter=~these)
    )  # fmt: skip
    first, second = {}, {}
    for number, some, others in found:
        first[number], second[number] = some, others
    return first, second


def _values_of(columns: Sequence[Column]) -> list[Any]:
    return [_Whole(name) if isinstance(field, FloatField) else F(name) for name, field in columns]


class _Written(Aggregate):
    """Columns of all rows of a group in one text; texts within are quoted."""

    output_field = TextField()
    allow_distinct = False

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """Write each row as a JSON array."""
        return self._as(
            "GROUP_CONCAT(JSON_ARRAY(%(expressions)s))", compiler, connection, **context
        )

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """Write each row as PostgreSQL writes a row."""
        return self._as(
            "STRING_AGG(ROW(%(expressions)s)::text, ',')", compiler, connection, **context
        )

    def _as(self, template: str, compiler: Any, connection: Any, **context: Any) -> Any:
        # A template that is handed on in the context cannot be filtered.
        written = self.copy()
        written.template = template
        return written.as_sql(compiler, connection, **context)


class _Whole(Func):
    """A number with all its digits; SQLite's JSON would leave the last ones out."""

    output_field = TextField()
    template = "%(expressions)s"

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """Write 17 digits, which tell any two numbers of 8 bytes apart (IEEE 754)."""
        digits = "PRINTF('%%%%!.17g', %(expressions)s)"
        # What is not there would be written as 0.
        template = f"CASE WHEN %(expressions)s IS NULL THEN NULL ELSE {digits} END"
        return self.as_sql(compiler, connection, template=template, **context)


class Reader:
    """Takes the values of some columns out of a text again, as Django would have read them."""

    def __init__(self, columns: Sequence[Column], database: str) -> None:
        connection = connections[database]
        self._is_json = connection.vendor != "postgresql"
        make = _from_json if self._is_json else _from_record
        self._converters = [make(field, connection) for _name, field in columns]

    def rows(self, text: str | None) -> list[tuple[Any, ...]]:
        """Read the rows; where there were none, the database wrote nothing."""
        if not text:
            return []
        found = json.loads(f"[{text}]") if self._is_json else _records(text)
        return [
            tuple(
                None if value is None else convert(value)
                for value, convert in zip(row, self._converters, strict=True)
            )
            for row in found
        ]


class ModelReader(Generic[Kind]):
    """Makes a model's objects of a text that holds all columns of their rows."""

    def __init__(self, model: type[Kind], database: str) -> None:
        columns = columns_of(model)
        self._model, self._database = model, database
        self._names = [field.attname for _name, field in columns]
        self._reader = Reader(columns, database)

    def made(self, text: str | None) -> list[Kind]:
        """Make the objects, in the text's order."""
        return [
            self._model.from_db(self._database, self._names, row) for row in self._reader.rows(text)
        ]


def _from_json(field: "Field[Any, Any]", connection: Any) -> Callable[[Any], Any]:
    if isinstance(field, FloatField):
        return float
    column = field.cached_col
    converters = [
        *connection.ops.get_db_converters(column),
        *column.get_db_converters(connection),
    ]

    def convert(value: Any) -> Any:
        for one in converters:
            value = one(value, column, connection)
        return value

    return convert


def _from_record(field: "Field[Any, Any]", _connection: Any) -> Callable[[Any], Any]:
    return json.loads if isinstance(field, JSONField) else field.to_python


def _records(text: str) -> list[list[str | None]]:
    """Take rows apart as PostgreSQL writes them: https://www.postgresql.org/docs/15/rowtypes.html

    Nothing between two commas is no value; within quotes a quote and a backslash stand twice.
    """
    return [
        [
            match[2] or None
            if match[1] is None
            else match[1].replace('""', '"').replace("\\\\", "\\")
            for match in IN_A_RECORD.finditer(record)
        ]
        for record in RECORD.findall(text)
    ]
