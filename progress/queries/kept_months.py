"""Months that nothing has happened to since they were looked at last.

What is known of a student's month is kept in the memory of the server process, next to every row
it was made from. At the next look the rows are read again, as they lie in the database, and
compared value by value: one that differs, is new or is gone makes the month anew. So it does not
matter who wrote, in which process or on which host, nor how. The day is compared as well; the
code and the figures of the assessment are those of the process itself.
"""

from collections import OrderedDict
from dataclasses import dataclass
from datetime import date, timedelta
from threading import Lock
from typing import Any

from django.db.models import QuerySet

from progress.engine.parameters import USUAL
from progress.queries.months import Plan, StudentMonth, month_of, plan_of
from progress.queries.news import News, news_of
from progress.queries.read_rows import RawRow, ReadRows, Written
from routines.models import Block, BlockVersion
from routines.queries import blocks_of_each, versions_of
from studio.models import Student

MOST_KEPT = 500
OF_A_PLAN = (
    *(field.attname for field in Block._meta.concrete_fields),  # noqa: SLF001 - Django's own way
    *(f"versions__{field.attname}" for field in BlockVersion._meta.concrete_fields),  # noqa: SLF001
)


@dataclass(slots=True)
class Kept:
    """A student's rows of the last look, and what came of them.

    `rows` holds the day, the student with the studio, and the blocks with their versions in one
    text; `news` is all that was told.
    """

    rows: RawRow
    student: Student
    plan: Plan
    news: RawRow | None = None
    month: StudentMonth | None = None


class Store:
    """The months this process keeps, those looked at last; requests in threads share it."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._lock = Lock()
        self._kept: OrderedDict[tuple[str, int], Kept] = OrderedDict()

    def find(self, name: tuple[str, int]) -> Kept | None:
        """Find what is kept of a student, named by the database and the number in it."""
        return self._kept.get(name)

    def keep(self, name: tuple[str, int], what: Kept) -> None:
        """Keep what is known of a student, and drop who was not looked at for longest."""
        with self._lock:
            self._kept[name] = what
            self._kept.move_to_end(name)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)

    def forget(self) -> None:
        """Drop all of it."""
        with self._lock:
            self._kept.clear()


STORE = Store(MOST_KEPT)


def kept_months(students: QuerySet[Student], day: date) -> list[StudentMonth]:
    """Read every student's block and news like `studio_months`, and make anew what has changed.

    The months are shared between requests: they are for reading, never for a service to write.
    """
    found = _plans(ReadRows(students.select_related("studio"), by="id"), day, students.db)
    since = min((kept.plan.since for kept in found.values() if kept.plan.since), default=day)
    hurts_since = min(since, day - timedelta(days=USUAL.pain_days))
    asked = news_of(list(found), since, hurts_since=hurts_since)
    # The versions are known from the plans.
    asked["check_ins"] = asked["check_ins"].select_related(None)
    news = {name: ReadRows(rows, by="student_id") for name, rows in asked.items()}
    months = []
    for number, kept in found.items():
        told = tuple(rows.of(number) for rows in news.values())
        month = kept.month if kept.news == told else None
        if month is None:
            month = _made(
                kept, day, {name: rows.made(rows.of(number)) for name, rows in news.items()}
            )
        # What another request reads at this moment is never changed under it.
        now = Kept(rows=kept.rows, student=kept.student, plan=kept.plan, news=told, month=month)
        STORE.keep((students.db, number), now)
        months.append(month)
    return months


def _plans(students: ReadRows[Student], day: date, database: str) -> dict[int, Kept]:
    """Find what is kept of each student as long as the blocks are the same, else begin anew."""
    numbers = list(students)
    blocks = Block.objects.filter(student_id__in=numbers).order_by().values_list("student_id")
    written: dict[int, str] = dict(blocks.annotate(written=Written(*OF_A_PLAN)))
    rows = {number: (day, students.of(number)[0], written.get(number, "")) for number in numbers}
    found = {
        number: kept
        for number in numbers
        if (kept := STORE.find((database, number))) and kept.rows == rows[number]
    }
    changed = [number for number in numbers if number not in found]
    planned = blocks_of_each(versions_of(changed)) if changed else {}
    for number in changed:
        (student,) = students.made(students.of(number))
        plan = plan_of(planned.get(number, ()), day)
        found[number] = Kept(rows=rows[number], student=student, plan=plan)
    return {number: found[number] for number in numbers}


def _made(kept: Kept, day: date, told: dict[str, list[Any]]) -> StudentMonth:
    """Make a month of the rows about it."""
    block = kept.plan.block
    versions = {row.pk: row for row in getattr(block, "version_rows", ())}
    for row in told["check_ins"]:
        if row.version_id in versions:
            row.version = versions[row.version_id]
    return month_of(kept.student, day=day, plan=kept.plan, news=News(**told))
