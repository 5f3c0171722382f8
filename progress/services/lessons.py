"""Writes about lessons."""

from datetime import date

from progress.models import LessonRating
from routines.queries import blocks_of, running
from studio.models import Student, User


class LessonError(ValueError):
    """A lesson rating that has no block to belong to; the message says what to do."""


def rate_lesson(
    student: Student, *, by: User, day: date, filed_on: date, note: str, **ratings: int | None
) -> LessonRating:
    """Keep what the teacher heard at a lesson; rated again the same day, the newer stands.

    Without a block on that day there is nothing to rate, and LessonError says so.
    """
    block = running(blocks_of(student), day)
    if block is None:
        message = f"{student.name} has no block on {day:%A %d %B}: choose another day."
        raise LessonError(message)
    row, _ = LessonRating.objects.update_or_create(
        student=student,
        day=day,
        defaults={"block": block, "by": by, "filed_on": filed_on, "note": note, **ratings},
    )
    heard: LessonRating = row
    return heard
