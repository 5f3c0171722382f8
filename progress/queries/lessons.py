"""What is read about lessons."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean
from typing import Any

from django.db.models import QuerySet

from progress.models import RATINGS, CheckIn, LessonRating
from progress.queries.months import StudentMonth
from routines.queries import running, with_blocks
from studio.models import Student

OWN_ANSWERS_OF_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonPlace:
    """A student on the list of a lesson day, and what was heard of them that day, if anything."""

    student: Student
    heard: LessonRating | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoEars:
    """A lesson with the student's own answers of the week up to it, in the order of the four.

    `own` holds means of 1 to 5, None where nothing was answered that week.
    """

    lesson: LessonRating
    heard: tuple[int | None, ...]
    own: tuple[float | None, ...]

    @property
    def pairs(self) -> list[tuple[int | None, float | None]]:
        """The two side by side, for each of the four."""
        return list(zip(self.heard, self.own, strict=True))


def lesson_day(students: QuerySet[Student], *, weekday: int, day: date) -> list[LessonPlace]:
    """List a weekday's students who have a block on the day, with what was heard of them."""
    rows = [
        row
        for row in with_blocks(students.filter(lesson_day=weekday))
        if running(row.block_set.all(), day)
    ]
    heard = LessonRating.objects.filter(day=day, student_id__in=[row.pk for row in rows])
    by_student = {row.student_id: row for row in heard}
    return [LessonPlace(student=row, heard=by_student.get(row.pk)) for row in rows]


def heard_on(student: Student, day: date) -> dict[str, Any]:
    """Say what was heard of a student on a day under the names of the form; the day alone else."""
    row = LessonRating.objects.filter(student=student, day=day).first()
    heard = {name: getattr(row, name) for name in (*RATINGS, "note")} if row else {}
    return {"day": day, **heard}


def two_ears(month: StudentMonth) -> list[TwoEars]:
    """Put each lesson of the block beside the student's own answers of that week, newest first."""
    block = month.block
    if block is None:
        return []
    return [
        TwoEars(
            lesson=lesson,
            heard=tuple(getattr(lesson, name) for name in RATINGS),
            own=_own_answers(month, lesson.day),
        )
        for lesson in reversed(month.lessons)
        if block.first_day <= lesson.day <= block.last_day
    ]


def _own_answers(month: StudentMonth, day: date) -> tuple[float | None, ...]:
    since = day - timedelta(days=OWN_ANSWERS_OF_DAYS - 1)
    rows = [row for told, row in month.check_ins.items() if since <= told <= day]
    return tuple(_mean(rows, name) for name in RATINGS)


def _mean(rows: Sequence[CheckIn], name: str) -> float | None:
    answers = [answer for row in rows if (answer := getattr(row, name)) is not None]
    return fmean(answers) if answers else None
