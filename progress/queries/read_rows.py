"""The rows of a query just as the database gave them: cheap to read, and cheap to compare.

Most of what a query costs in Python is the making of its objects. Where they may not be needed,
because the rows are the same as last time, they are made afterwards or not at all. This follows
Django's own `ModelIterable`, split in two.
"""

from collections.abc import Iterator, Sequence
from typing import Any, Generic, TypeVar

from django.db.models import Aggregate, Model, QuerySet, TextField
from django.db.models.query import get_related_populators

Kind = TypeVar("Kind", bound=Model)
RawRow = tuple[Any, ...]


class Written(Aggregate):
    """Columns of all rows of a group in one text, so that groups can be compared cheaply.

    Two texts that are equal say the same of the same rows: texts within are quoted. The rows may
    come in any order, so two that differ may still say the same.
    """

    output_field = TextField()
    allow_distinct = False

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """Write each row as a JSON array."""
        template = "GROUP_CONCAT(JSON_ARRAY(%(expressions)s))"
        return self.as_sql(compiler, connection, template=template, **context)

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """Write each row as PostgreSQL writes a row."""
        template = "STRING_AGG(ROW(%(expressions)s)::text, ',')"
        return self.as_sql(compiler, connection, template=template, **context)


class ReadRows(Generic[Kind]):
    """The rows of a query, sorted by one of the model's own columns.

    Annotations and prefetched rows of the query are not read; objects reached with
    `select_related` are.
    """

    def __init__(self, queryset: QuerySet[Kind], *, by: str) -> None:
        """Read the rows, in one query; `by` names the column, as "student_id"."""
        self._model = queryset.model
        self._database = queryset.db
        self._compiler = queryset.query.get_compiler(queryset.db)
        place = [field.attname for field in self._model._meta.concrete_fields].index(by)  # noqa: SLF001 - Django's own way
        self._by: dict[Any, list[RawRow]] = {}
        for chunk in self._compiler.execute_sql():
            for row in chunk:
                self._by.setdefault(row[place], []).append(tuple(row))
        # What a query cannot find has no columns either.
        chosen = [] if self._compiler.select is None else self._compiler.select
        self._converters = self._compiler.get_converters([column[0] for column in chosen])

    def __iter__(self) -> Iterator[Any]:
        """Go through the values of the column, in the query's order."""
        return iter(self._by)

    def of(self, value: Any) -> Sequence[RawRow]:
        """Give the rows of one value of the column, in the query's order."""
        return self._by.get(value, ())

    def made(self, rows: Sequence[RawRow]) -> list[Kind]:
        """Make the model's objects of some of these rows."""
        if not rows:
            return []
        compiler, database = self._compiler, self._database
        places = compiler.klass_info["select_fields"]
        first, last = places[0], places[-1] + 1
        names = [column[0].target.attname for column in compiler.select[first:last]]
        # The stubs are of a later Django, which asks for one more.
        related = get_related_populators(compiler.klass_info, compiler.select, database)  # type: ignore[call-arg]
        found = []
        for row in compiler.apply_converters(rows, self._converters):
            one = self._model.from_db(database, names, row[first:last])
            for populator in related:
                populator.populate(row, one)
            found.append(one)
        return found
