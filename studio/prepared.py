"""Questions to the database whose statement is written once, and asked with other values each time.

What a phone asks with every request is answered by the database in less time than Django takes to
write it down. So it is written at the first asking, with places for the values, and kept for as
long as the process lives. What comes back, and what is made of it, is Django's own.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from copy import copy
from functools import partial
from threading import local
from types import SimpleNamespace
from typing import Any, Generic, TypeVar

from django.db import connections, transaction
from django.db.models import BigIntegerField, Field, QuerySet, Value
from django.db.models.sql import UpdateQuery
from django.db.models.sql.constants import ROW_COUNT
from django.db.transaction import TransactionManagementError
from django_scopes import get_scope, scope

from studio.models import Studio

# What one row becomes: an instance of a model, or a tuple.
Row = TypeVar("Row")
Ask = Callable[..., QuerySet[Any, Any]]
Fields = dict[str, "Field[Any, Any]"]


class _Place(Value):
    """A place in a question; it stands among the parameters until the value is there."""

    def __init__(self, name: str, field: Field[Any, Any]) -> None:
        super().__init__(name, output_field=field)

    def as_sql(self, compiler: Any, connection: Any) -> Any:  # noqa: ARG002 - what Django gives
        """Be one parameter of the statement."""
        return "%s", [self]

    def filled(self, values: dict[str, Any], connection: Any) -> Any:
        """Give the value as the field of this place writes it."""
        return self.output_field.get_db_prep_value(values[self.value], connection=connection)


_STUDIO = _Place("studio of the scope", BigIntegerField())


class _Question(ABC):
    """What both kinds share: `ask` gives the query set for values, or for places for them.

    Each field says how its value is written for the database, as it does for a column. The values
    must not change which question it is: none is None or a list, and a number is one that fits its
    column. A studio's scope is part of the question, its studio one more value.
    """

    def __init__(self, ask: Ask, fields: Fields) -> None:
        self._ask = ask
        self._places = {name: _Place(name, field) for name, field in fields.items()}
        self._statements: dict[bool, _Statement] = {}

    @abstractmethod
    def _written(self) -> _Statement:
        """Write the statement down, in the scope that is open."""

    def _statement(self, values: dict[str, Any]) -> _Statement | None:
        """Find the statement for the scope that is open, and put its studio with the values.

        None where no scope is open, or an unusual one: then Django writes it, or refuses to.
        """
        if values.keys() != self._places.keys() or None in values.values():
            given = ", ".join(f"{name}={value!r}" for name, value in values.items())
            message = f"{given} was given: give each of {', '.join(self._places)}, and no None."
            raise ValueError(message)
        opened = get_scope()
        studio, is_scoped = opened.get("studio"), bool(opened.get("_enabled", True))
        if is_scoped:
            if not isinstance(studio, Studio) or studio.pk is None:
                return None
            values[_STUDIO.value] = studio.pk
        if (found := self._statements.get(is_scoped)) is None:
            if is_scoped:
                with scope(studio=_STUDIO):
                    found = self._written()
            else:
                found = self._written()
            self._statements[is_scoped] = found
        return found


class Prepared(_Question, Generic[Row]):
    """A question for rows, each with those that `select_related` reads along, and no others."""

    def __init__(self, ask: Callable[..., QuerySet[Any, Row]], **fields: Field[Any, Any]) -> None:
        super().__init__(ask, fields)

    def rows(self, **values: Any) -> list[Row]:
        """Ask it, and give what came back; a value that is missing or None is a ValueError."""
        statement = self._statement(values)
        return list(self._ask(**values)) if statement is None else statement.rows(values)

    def _written(self) -> _Statement:
        asked = self._ask(**self._places)
        return _Statement(asked, asked.query.get_compiler(using=asked.db))


class PreparedUpdate(_Question):
    """An update: `ask` finds the rows by the other values, and `columns` of them are written."""

    def __init__(self, ask: Ask, *, columns: Sequence[str], **fields: Field[Any, Any]) -> None:
        super().__init__(ask, fields)
        self._columns = columns

    def write(self, **values: Any) -> int:
        """Write the values, and say into how many rows; one missing or None is a ValueError."""
        statement = self._statement(values)
        if statement is not None:
            return statement.write(values)
        found, changes = self._parts(values)
        return int(found.update(**changes))

    def _written(self) -> _Statement:
        found, changes = self._parts(self._places)
        query: Any = found.query.chain(UpdateQuery)
        query.add_update_values(changes)
        return _Statement(found, query.get_compiler(using=found.db))

    def _parts(self, values: dict[str, Any]) -> tuple[QuerySet[Any, Any], dict[str, Any]]:
        changes = {name: values[name] for name in self._columns}
        return self._ask(**{name: values[name] for name in values.keys() - changes}), changes


class _Statement:
    """A question as the database reads it."""

    def __init__(self, asked: QuerySet[Any, Any], compiler: Any) -> None:
        self._asked: Any = asked
        self._compiler = compiler
        self._sql, self._parameters = compiler.as_sql()
        # The next to ask has a connection of its own, and this one may close meanwhile.
        compiler.connection = None
        self._known = local()

    def rows(self, values: dict[str, Any]) -> list[Any]:
        """Let Django ask it and make what it makes of the rows.

        Its iterables take no more than this of a query set, and ask its query for what asks.
        """
        compiler, query = self._filled(values), copy(self._asked.query)
        # Django looks for this where it writes the statement. A lock that ends at once is none.
        connection = compiler.connection
        is_locking = query.select_for_update and connection.features.has_select_for_update
        if is_locking and connection.get_autocommit():
            message = "This locks rows until the transaction ends: open one with atomic()."
            raise TransactionManagementError(message)
        query.get_compiler = lambda *_, **__: compiler
        asked = SimpleNamespace(
            model=self._asked.model,
            db=self._asked.db,
            query=query,
            _fields=self._asked._fields,
            _known_related_objects={},
        )
        return list(self._asked._iterable_class(asked))  # noqa: SLF001 - it knows what rows become

    def write(self, values: dict[str, Any]) -> int:
        """Let Django write it; where that fails, an open transaction can only be undone."""
        with transaction.mark_for_rollback_on_error(using=self._asked.db):
            return int(self._filled(values).execute_sql(ROW_COUNT))

    def _filled(self, values: dict[str, Any]) -> Any:
        """Make what asks it once, with the values in their places and this thread's connection."""
        compiler = copy(self._compiler)
        compiler.connection = connection = connections[self._asked.db]
        parameters = tuple(
            each.filled(values, connection) if isinstance(each, _Place) else each
            for each in self._parameters
        )
        compiler.as_sql = lambda: (self._sql, parameters)
        compiler.get_converters = partial(self._converters, compiler.get_converters, connection)
        return compiler

    def _converters(self, find: Callable[[Any], Any], connection: Any, columns: Any) -> Any:
        """Find how what comes back is read, once in each thread, whose connection is part of it."""
        if getattr(self._known, "connection", None) is not connection:
            self._known.connection, self._known.converters = connection, find(columns)
        return self._known.converters
