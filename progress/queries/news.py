"""What students told and what teachers heard, as rows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Q, QuerySet

from progress.models import CheckIn, LessonRating, NotToday
from progress.queries.day_of_each import DayOfEach
from studio.models import Discomfort, Interruption, Student
from studio.words import GrantState

# Whose days lie within so many days before are read together.
LATELY_DAYS = 63


@dataclass(slots=True)
class News:
    """The rows of one student, each kind in its order."""

    check_ins: list[CheckIn] = field(default_factory=list)
    not_todays: list[NotToday] = field(default_factory=list)
    lessons: list[LessonRating] = field(default_factory=list)
    told: list[Discomfort] = field(default_factory=list)
    interruptions: list[Interruption] = field(default_factory=list)


def news_by_student(
    since: Mapping[int, date], day: date, *, hurts_since: date, lessons: bool = True
) -> dict[int, News]:
    """Read what each student told and what was heard from a day on, and all that is open.

    Of what hurt and of what keeps from the plan something older may be among it.
    """
    found: dict[int, News] = {number: News() for number in since}
    asked = news_of(since, day, hurts_since=hurts_since)
    if not lessons:
        del asked["lessons"]
    for name, rows in asked.items():
        for row in rows:
            getattr(found[row.student_id], name).append(row)
    return found


def news_of(since: Mapping[int, date], day: date, *, hurts_since: date) -> dict[str, QuerySet[Any]]:
    """Ask for what each student told from a day on, by the fields of `News`.

    Whose days lie about equally far before `day` are looked for together, from the earliest of
    these on: so whoever has not played for a year makes nobody else's year be looked through.
    """
    told, recent = Q(student_id__in=list(since)), Q(pk__in=[])
    for first, ids in _of_like_age(since, day).items():
        recent |= Q(student_id__in=ids, day__gte=first)
    earliest = min(since.values(), default=day)
    # By the earliest day an index finds the rows, by each student's own there are no more of them.
    recent &= Q(day__gte=earliest) & Q(day__gte=DayOfEach(since, "student_id"))
    still_open = Q(closed_at__isnull=True) | Q(day__gte=hurts_since)
    not_over = Q(last_day__isnull=True) | Q(last_day__gte=earliest)
    return {
        "check_ins": standing_check_ins().filter(recent),
        "not_todays": standing_not_todays().filter(recent),
        "lessons": LessonRating.objects.filter(recent).order_by("day", "pk"),
        "told": Discomfort.objects.filter(told & still_open).order_by("-told_at", "-pk"),
        "interruptions": Interruption.objects.filter(told & not_over).order_by("first_day", "pk"),
    }


def in_order(kinds: Mapping[str, list[Any]]) -> News:
    """Put rows of one student that came in any order into the one that they are asked for in."""
    return News(
        check_ins=sorted(kinds["check_ins"], key=lambda row: (row.day, row.done_at, row.pk)),
        not_todays=kinds["not_todays"],
        lessons=sorted(kinds["lessons"], key=lambda row: (row.day, row.pk)),
        told=sorted(kinds["told"], key=lambda row: (row.told_at, row.pk), reverse=True),
        interruptions=sorted(kinds["interruptions"], key=lambda row: (row.first_day, row.pk)),
    )


def _of_like_age(since: Mapping[int, date], day: date) -> dict[date, list[int]]:
    """Part students by how long before a day theirs lies, by the first day of each part.

    The last weeks are one part; before that each is twice as long as the one after it.
    """
    parts: dict[int, list[int]] = {}
    for number, first in since.items():
        age = (day - first).days
        parts.setdefault(0 if age < LATELY_DAYS else age.bit_length(), []).append(number)
    return {min(since[number] for number in ids): ids for ids in parts.values()}


def standing_check_ins() -> QuerySet[CheckIn]:
    """All check-ins but those set aside: of refused phones, and filed for a wrong day."""
    rows: QuerySet[CheckIn] = (
        CheckIn.objects.filter(set_aside__isnull=True)
        .exclude(grant__state=GrantState.REFUSED)
        .select_related("version")
    )
    return rows.order_by("day", "done_at", "pk")


def standing_not_todays() -> QuerySet[NotToday]:
    """All that was told of days without a session, but by phones that were refused."""
    rows: QuerySet[NotToday] = NotToday.objects.exclude(grant__state=GrantState.REFUSED)
    return rows


def told_today(student: Student, days: Sequence[date]) -> bool:
    """Whether something hurt was told on one of these days, is open, and where is not said yet."""
    told = Discomfort.objects.filter(student=student, day__in=days, closed_at__isnull=True)
    return told.filter(place="", how_much="").exists()
