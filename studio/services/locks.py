"""Who writes a student's blocks, links and phones: one at a time."""

from collections.abc import Sequence

from django.db import connection

from studio.models import Student


def lock_students(students: Sequence[int]) -> None:
    """Hold these students' rows until the transaction ends, always in the same order.

    A database that holds no single rows, as SQLite, lets one transaction write at a time anyway.
    """
    if connection.features.has_select_for_update:
        rows = Student.objects.select_for_update().filter(pk__in=students).order_by("pk")
        list(rows.values_list("pk", flat=True))
