"""A day of each student's own, as a condition in the database."""

import json
from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db.models import DateField, F, Func, Value


class DayOfEach(Func):
    """The day that is named for the student of a row, or nothing.

    A condition that has as many terms as there are days costs more to write than to answer.
    """

    output_field = DateField()

    def __init__(self, days: Mapping[int, date], student: str) -> None:
        """Take the days by the students' numbers, and the name of the column with the number."""
        text = json.dumps({str(number): str(day) for number, day in days.items()})
        super().__init__(Value(text), F(student))

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """Read it by a path: https://www.sqlite.org/json1.html"""
        template, joiner = "JSON_EXTRACT(%(expressions)s)", ", '$.' || "
        return self.as_sql(compiler, connection, template=template, arg_joiner=joiner, **context)

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """Read it by its name: https://www.postgresql.org/docs/15/functions-json.html"""
        template, joiner = "(%(expressions)s::text)::date", "::jsonb ->> "
        return self.as_sql(compiler, connection, template=template, arg_joiner=joiner, **context)
