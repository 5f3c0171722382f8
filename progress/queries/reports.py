"""What a report tells: recorded facts of the blocks in a stretch of days, and nothing else.

Of a day that was filed twice the later answers count. Notes of ten are the middle of the answer
given: 0 to 3 counts as 1.5, all ten as 10.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean

from django.db.models import QuerySet

from progress.engine.check_in import Criterion, Rating
from progress.engine.high_notes import HighNote
from progress.models import RATINGS, CheckIn, LessonRating, Report
from progress.queries.months import StudentMonth, student_month
from progress.queries.news import standing_check_ins
from routines.models import Block
from routines.queries import blocks_of
from studio.models import Student

MONDAY = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """One calendar week: days filed, and of ten notes how many, None where nobody answered."""

    first_day: date
    days: int
    of_ten: tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is recorded of a student from one day to another, both in it."""

    student: Student
    first_day: date
    last_day: date
    months: Sequence[StudentMonth]
    days: int
    minutes: int
    weeks: Sequence[Week]
    first_high: HighNote | None
    best_high: HighNote | None
    lessons: Sequence[LessonRating]
    report: Report | None


def facts_of(student: Student, first_day: date, last_day: date, *, today: date) -> Facts:
    """Gather a student's facts; a block counts where any of its days lies in the stretch."""
    months = [
        student_month(student, today, block=block)
        for block in sorted(blocks_of(student), key=lambda row: row.first_day)
        if _overlaps(block, first_day, min(last_day, today))
    ]
    rows = _latest(student, first_day, last_day)
    high = [HighNote(day=row.day, note=row.high_note) for row in rows if row.high_note is not None]
    lessons = LessonRating.objects.filter(student=student, day__range=(first_day, last_day))
    return Facts(
        student=student,
        first_day=first_day,
        last_day=last_day,
        months=months,
        days=len(rows),
        minutes=round(sum(row.seconds or 0 for row in rows) / 60),
        weeks=_weeks(rows),
        first_high=high[0] if high else None,
        best_high=max(high, key=lambda one: one.note) if high else None,
        lessons=list(lessons.order_by("day", "pk")),
        report=reports(first_day, last_day).filter(student=student).first(),
    )


def reports(first_day: date, last_day: date) -> QuerySet[Report]:
    """Find what was written about just these days."""
    rows: QuerySet[Report] = Report.objects.filter(first_day=first_day, last_day=last_day)
    return rows.select_related("by")


def days_to_report(student: Student, today: date) -> tuple[date, date] | None:
    """Choose the days of the block that runs or ended last; None before the first one."""
    begun = [block for block in blocks_of(student) if block.first_day <= today]
    last = max(begun, key=lambda block: block.first_day, default=None)
    return (last.first_day, last.last_day) if last else None


def _latest(student: Student, first_day: date, last_day: date) -> list[CheckIn]:
    rows = standing_check_ins().filter(student=student, day__range=(first_day, last_day))
    return list({row.day: row for row in rows}.values())


def _weeks(rows: Iterable[CheckIn]) -> list[Week]:
    by_week: dict[date, list[CheckIn]] = defaultdict(list)
    for row in rows:
        by_week[row.day - timedelta(days=row.day.weekday() - MONDAY)].append(row)
    return [
        Week(
            first_day=monday,
            days=len(filed),
            of_ten=tuple(_of_ten(getattr(row, name) for row in filed) for name in RATINGS),
        )
        for monday, filed in sorted(by_week.items())
    ]


def _of_ten(answers: Iterable[int | None]) -> float | None:
    given = [fmean(Rating(answer).of_ten) for answer in answers if answer is not None]
    return fmean(given) if given else None


def _overlaps(block: Block, first_day: date, last_day: date) -> bool:
    return block.first_day <= last_day and first_day <= block.last_day


def rises(facts: Facts) -> list[Criterion]:
    """Name what stood higher in the last week than in the first, by one note of ten or more."""
    if len(facts.weeks) < 2:
        return []
    first, last = facts.weeks[0].of_ten, facts.weeks[-1].of_ten
    return [
        criterion
        for criterion, before, after in zip(Criterion, first, last, strict=True)
        if before is not None and after is not None and after - before >= 1
    ]
