"""The rows of a query just as the database gave them: cheap to read, and cheap to compare.

Most of what a query costs in Python is the making of its objects. Where they may not be needed,
because the rows are the same as last time, they are made afterwards or not at all. This follows
Django's own `ModelIterable`, split in two.
"""

from collections.abc import Iterator
from typing import Any, Generic, TypeVar

from django.db.models import Model, QuerySet
from django.db.models.query import get_related_populators

Kind = TypeVar("Kind", bound=Model)
RawRow = tuple[Any, ...]


class ReadRows(Generic[Kind]):
    """The rows of a query by their primary keys, in the query's order.

    Objects reached with `select_related` are made along, prefetched ones are not.
    """

    def __init__(self, queryset: QuerySet[Kind]) -> None:
        """Read the rows, in one query."""
        self._model = queryset.model
        self._database = queryset.db
        self._compiler = queryset.query.get_compiler(queryset.db)
        key = self._model._meta.pk  # noqa: SLF001 - Django's own way
        place = self._model._meta.concrete_fields.index(key)  # noqa: SLF001
        self._rows: dict[Any, RawRow] = {
            row[place]: tuple(row) for chunk in self._compiler.execute_sql() for row in chunk
        }
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
