"""The rows of a query just as the database gave them: cheap to read, and cheap to compare.

Most of what a query costs in Python is the making of its objects. Where they may not be needed,
because the rows are the same as last time, they are made afterwards or not at all. This follows
Django's own `ModelIterable`, split in two.
"""

from collections.abc import Iterator
from typing import Any, Generic, TypeVar

from django.db import connections
from django.db.models import Func, Model, QuerySet, TextField
from django.db.models.query import get_related_populators

Kind = TypeVar("Kind", bound=Model)
RawRow = tuple[Any, ...]


class WhatIsSeen(Func):
    """What PostgreSQL shows a query, named: which transactions had ended, since its last start.

    Two queries with the same snapshot see the same rows, whatever was written in between: nothing
    was (https://www.postgresql.org/docs/15/functions-info.html, "pg_current_snapshot").
    """

    output_field = TextField()
    template = "pg_current_snapshot()::text || ' ' || pg_postmaster_start_time()::text"


def can_name_what_is_seen(database: str) -> bool:
    """Whether a query can ask for the name of what it sees, as PostgreSQL's can.

    Within a transaction its own writes are in none.
    """
    connection = connections[database]
    return connection.vendor == "postgresql" and not connection.in_atomic_block


def named_beforehand(database: str) -> str | None:
    """Name what the next query sees where its connection can tell, as SQLite's by the file."""
    connection: Any = connections[database]
    return connection.what_is_seen() if hasattr(connection, "what_is_seen") else None


class ReadRows(Generic[Kind]):
    """The rows of a query by their primary keys, in the query's order.

    Objects reached with `select_related` are made along, prefetched ones are not.
    """

    def __init__(self, queryset: QuerySet[Kind]) -> None:
        """Read the rows, in one query.

        `seen` names what the database showed this query; None where it cannot be told.
        """
        can_tell = can_name_what_is_seen(queryset.db)
        # What is written between this and the query makes another name: so the rows may be newer
        # than what they are kept under, and never older.
        self.seen = named_beforehand(queryset.db)
        asked: Any = queryset.annotate(what_is_seen=WhatIsSeen()) if can_tell else queryset
        self._model = queryset.model
        self._database = queryset.db
        self._compiler = asked.query.get_compiler(queryset.db)
        key = self._model._meta.pk  # noqa: SLF001 - Django's own way
        place = self._model._meta.concrete_fields.index(key)  # noqa: SLF001
        found = [tuple(row) for chunk in self._compiler.execute_sql() for row in chunk]
        if can_tell and found:
            at = self._compiler.annotation_col_map["what_is_seen"]
            self.seen = found[0][at]
            # It is no part of the rows, which are compared.
            found = [(*row[:at], None, *row[at + 1 :]) for row in found]
        self._rows: dict[Any, RawRow] = {row[place]: row for row in found}
        # What a query cannot find has no columns either.
        chosen = [] if self._compiler.select is None else self._compiler.select
        self._converters = self._compiler.get_converters([column[0] for column in chosen])

    def __iter__(self) -> Iterator[Any]:
        """Go through the keys."""
        return iter(self._rows)

    def __getitem__(self, key: Any) -> RawRow:
        """Give the row of a key, as the database gave it."""
        return self._rows[key]

    def made(self, key: Any) -> Kind:
        """Make the model's object of a row."""
        compiler, database = self._compiler, self._database
        places = compiler.klass_info["select_fields"]
        first, last = places[0], places[-1] + 1
        names = [column[0].target.attname for column in compiler.select[first:last]]
        (row,) = compiler.apply_converters([self._rows[key]], self._converters)
        one: Kind = self._model.from_db(database, names, row[first:last])
        # The stubs are of a later Django, which asks for one more.
        for populator in get_related_populators(compiler.klass_info, compiler.select, database):  # type: ignore[call-arg]
            populator.populate(row, one)
        return one
