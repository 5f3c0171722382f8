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
from progress.queries.months import StudentMonth, block_to_show, month_of
from progress.queries.news import News, news_of
from progress.queries.read_rows import ReadRows
from routines.models import Block, BlockVersion
from studio.models import Student

MOST_KEPT = 500


@dataclass(slots=True)
class Kept:
    """A student's rows of the last look, and what came of them.

    `plan` holds the day, the student with the studio, and the blocks with their versions; `news`
    is all that was told. `since` is the first day of the block that is shown.
    """

    plan: tuple[Any, ...]
    since: date | None
    news: tuple[Any, ...] | None = None
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


class Plans:
    """The students asked for and their blocks, as they lie in the database."""

    def __init__(self, students: QuerySet[Student]) -> None:
        """Read them, in three queries; `students` must bring its studio along."""
        self.students = ReadRows(students.select_related("studio"), by="id")
        self.ids: list[int] = list(self.students)
        blocks = Block.objects.filter(student_id__in=self.ids).order_by("-first_day", "-pk")
        versions = BlockVersion.objects.filter(block__student_id__in=self.ids)
        self.blocks = ReadRows(blocks, by="student_id")
        self.versions = ReadRows(versions.order_by("from_day", "pk"), by="block_id")

    def rows_of(self, number: int) -> tuple[Any, ...]:
        """Give all that is read about a student, to be compared."""
        blocks = self.blocks.of(number)
        # The number of a block is its first column.
        return (
            self.students.of(number)[0],
            *((block, *self.versions.of(block[0])) for block in blocks),
        )

    def blocks_of(self, number: int) -> list[Block]:
        """Make a student's blocks, each with its `version_rows`."""
        made = self.blocks.made(self.blocks.of(number))
        for block in made:
            block.version_rows = self.versions.made(self.versions.of(block.pk))  # type: ignore[attr-defined]
        return made


def kept_months(students: QuerySet[Student], day: date) -> list[StudentMonth]:
    """Read every student's block and news like `studio_months`, and make anew what has changed.

    The months are shared between requests: they are for reading, never for a service to write.
    """
    plans = Plans(students)
    found = [_kept(plans, number, day, students.db) for number in plans.ids]
    since = min((kept.since for kept in found if kept.since), default=day)
    hurts_since = min(since, day - timedelta(days=USUAL.pain_days))
    asked = news_of(plans.ids, since, hurts_since=hurts_since)
    news = {name: ReadRows(rows, by="student_id") for name, rows in asked.items()}
    months = []
    for number, kept in zip(plans.ids, found, strict=True):
        told = tuple(rows.of(number) for rows in news.values())
        month = kept.month if kept.news == told else None
        if month is None:
            month = _made(plans, number, day, news)
        STORE.keep(
            (students.db, number), Kept(plan=kept.plan, since=kept.since, news=told, month=month)
        )
        months.append(month)
    return months


def _kept(plans: Plans, number: int, day: date, database: str) -> Kept:
    """Find what is kept of a student as long as the plan is the same, else begin anew."""
    plan = (day, *plans.rows_of(number))
    kept = STORE.find((database, number))
    if kept is not None and kept.plan == plan:
        return kept
    shown = block_to_show(plans.blocks_of(number), day)
    return Kept(plan=plan, since=shown.first_day if shown else None)


def _made(plans: Plans, number: int, day: date, news: dict[str, ReadRows[Any]]) -> StudentMonth:
    """Make a month of the rows about it."""
    (student,) = plans.students.made(plans.students.of(number))
    blocks = plans.blocks_of(number)
    return month_of(
        student,
        day=day,
        block=block_to_show(blocks, day),
        blocks=blocks,
        news=News(**{name: rows.made(rows.of(number)) for name, rows in news.items()}),
    )
