"""Who writes a student's blocks, links and phones: one at a time."""

from collections.abc import Sequence

from django.db import connection
from django.db.models import BigIntegerField, QuerySet

from studio.models import Student
from studio.prepared import Prepared


def lock_students(students: Sequence[int]) -> None:
    """Hold these students' rows until the transaction ends, always in the same order.

    A database that holds no single rows, as SQLite, lets one transaction write at a time anyway.
    """
    if not connection.features.has_select_for_update:
        return
    if len(students) == 1:
        _ONE.rows(student=students[0])
    else:
        list(_numbers(Student.objects.filter(pk__in=students)))


def _numbers(students: QuerySet[Student]) -> QuerySet[Student, int]:
    return students.select_for_update().order_by("pk").values_list("pk", flat=True)


_ONE = Prepared(
    lambda student: _numbers(Student.objects.filter(pk=student)), student=BigIntegerField()
)
