"""Writes about lessons."""

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from progress.models import LessonRating
from routines.queries import played_on
from studio.models import Student, User


class LessonError(ValueError):
    """A lesson rating that has no block to belong to; the message says what to do."""


def rate_lesson(
    student: Student, *, by: User, day: date, filed_on: date, note: str, **ratings: int | None
) -> LessonRating:
    """Keep what the teacher heard at a lesson; said again that day, the newer stands row by row.

    Without a block on that day there is nothing to rate, and LessonError says so.
    """
    version = played_on(student, day)
    if version is None:
        message = _("%(name)s has no block on %(day)s: choose another day.") % {
            "name": student.name,
            "day": date_format(day, "l d F"),
        }
        raise LessonError(message)
    row, _made = LessonRating.objects.update_or_create(
        student=student,
        day=day,
        defaults={
            "block": version.block,
            "by": by,
            "filed_on": filed_on,
            # What was not said now stays as it was heard before.
            **({"note": note} if note else {}),
            **{name: given for name, given in ratings.items() if given is not None},
        },
    )
    heard: LessonRating = row
    return heard
