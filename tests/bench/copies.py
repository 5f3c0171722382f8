"""Copies of a studio beside it, written by the database itself: hundreds of thousands of rows."""

from typing import Any

from django.core.management.color import no_style
from django.db import connection
from django.db.models import Field, Max, Model


def copy_studio(studio: Any, times: int) -> None:
    """Copy a studio with its students and their practice so many times.

    Every number of the copies lies a step, or several, above that of the original; random public
    ids are made anew.
    """
    from progress.models import CheckIn, LessonRating  # noqa: PLC0415 - needs the set-up
    from routines.models import Block, BlockVersion  # noqa: PLC0415
    from studio.models import Student, Studio  # noqa: PLC0415

    ways: dict[type[Model], str] = {
        Studio: "pk",
        Student: "studio",
        Block: "student__studio",
        BlockVersion: "block__student__studio",
        CheckIn: "student__studio",
        LessonRating: "student__studio",
    }
    step = max(model._base_manager.aggregate(most=Max("pk"))["most"] or 0 for model in ways)
    with connection.cursor() as cursor:
        for number in range(1, times + 1):
            for model, way in ways.items():
                rows = model._base_manager.filter(**{way: studio.pk}).values("pk")
                chosen, values = rows.query.sql_with_params()
                fields = model._meta.concrete_fields
                names = ", ".join(f'"{field.column}"' for field in fields)
                read = ", ".join(_read(field, ways, number * step) for field in fields)
                table = model._meta.db_table
                cursor.execute(
                    f"INSERT INTO {table} ({names}) SELECT {read} FROM {table}"  # noqa: S608
                    f" WHERE id IN ({chosen})",
                    values,
                )
        for statement in connection.ops.sequence_reset_sql(no_style(), list(ways)):
            cursor.execute(statement)


def _read(field: Field[Any, Any], ways: dict[type[Model], str], shift: int) -> str:
    """Say what a copy has in a column."""
    if field.name == "public_id":
        anew = "md5(random()::text)" if connection.vendor == "postgresql" else _ON_SQLITE
        return f"substr({anew}, 1, 16)"
    target = field.related_model if field.is_relation else None
    if field.primary_key or target in ways:
        return f'"{field.column}" + {shift}'
    return f'"{field.column}"'


_ON_SQLITE = "lower(hex(randomblob(8)))"
