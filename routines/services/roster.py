"""Adding a list of students, all of them or none, and taking it back."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db import transaction

from routines.engine.roster_rows import Row
from studio.models import Student, Studio, User
from studio.services.people import add_student, check_room

UNDO_TIME = timedelta(minutes=10)
HOW_TOLD = "on the list that was added"


def add_students(studio: Studio, rows: Iterable[Row], *, by: User) -> list[Student]:
    """Add every row as a student of `by` in one transaction; a child unless somebody says not."""
    rows = list(rows)
    with transaction.atomic():
        check_room(studio, more=len(rows))
        return [
            add_student(
                studio,
                teacher=by,
                name=row.name,
                instrument=row.instrument,
                lesson_day=row.lesson_day,
                group=row.group,
                parent_email=row.parent_email,
                consent_on=row.consent_on,
                consent_how=HOW_TOLD if row.consent_on else "",
            )
            for row in rows
        ]


def take_back_students(
    studio: Studio, public_ids: Sequence[str], *, added: datetime, moment: datetime
) -> list[Student]:
    """Delete the students of a list within ten minutes, but none who has a block or a phone.

    Those who stay come back, so that the page can name them; after ten minutes all of them stay.
    """
    listed = Student.objects.filter(studio=studio, public_id__in=public_ids)
    if moment - added >= UNDO_TIME:
        return list(listed)
    with transaction.atomic():
        untouched = listed.filter(block__isnull=True, grant__isnull=True, offer__isnull=True)
        untouched.delete()
        return list(listed.order_by("name"))
