"""Months that nothing has happened to since they were looked at last.

What is known of a student's month is kept in the memory of the server process, next to every row
it was made from. At the next look the rows are read again, as they lie in the database, and
compared value by value: one that differs, is new or is gone makes the month anew. So it does not
matter who wrote, in which process or on which host, nor how. The day is compared as well; the
code and the figures of the assessment are those of the process itself.
"""

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from threading import Lock
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery

from progress.queries.months import Plan, StudentMonth, hurts_read_since, month_of, plan_of
from progress.queries.news import News, news_of
from progress.queries.read_rows import RawRow, ReadRows, Written
from routines.models import Block, BlockVersion
from routines.queries import blocks_of_each, with_their_blocks
from studio.models import Student

MOST_KEPT = 500
# What a plan is chosen by, of every block: its days, and what it has asked.
OF_A_PLAN = (
    *("pk", "instrument", "first_day", "length_days", "extra_days", "ended_on"),
    *(
        f"versions__{field.attname}"
        for field in BlockVersion._meta.concrete_fields  # noqa: SLF001 - Django's own way
        if field.name not in {"block", "made_by", "made_at"}
    ),
)


@dataclass(frozen=True, slots=True)
class Kept:
    """A student's rows of the last look, and what came of them.

    `rows` holds the day, the student with the studio, and what all blocks came to in one text;
    `shown` are the whole rows of the blocks that are shown; `news` is all that was told.
    """

    rows: RawRow
    student: Student
    plan: Plan
    shown: RawRow
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
    found = _plans(ReadRows(_with_blocks(students), by="id"), day, students.db)
    since = {number: kept.plan.read_since(day) for number, kept in found.items()}
    asked = news_of(since, day, hurts_since=hurts_read_since(since.values(), day))
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
        STORE.keep((students.db, number), replace(kept, news=told, month=month))
        months.append(month)
    return months


def _with_blocks(students: QuerySet[Student]) -> QuerySet[Student]:
    """Read along with each student, in one text, what a plan is chosen by."""
    blocks = Block.objects.filter(student=OuterRef("pk")).order_by().values("student")
    written = blocks.annotate(written=Written(*OF_A_PLAN)).values("written")
    return students.select_related("studio").annotate(blocks=Subquery(written))


def _plans(students: ReadRows[Student], day: date, database: str) -> dict[int, Kept]:
    """Find what is kept of each student as long as the blocks are the same, else begin anew.

    Which blocks are shown follows from the text of all; these few are read whole.
    """
    rows = {number: (day, *students.of(number)[0]) for number in students}
    kept = {number: STORE.find((database, number)) for number in rows}
    known = {number: one for number, one in kept.items() if one and one.rows == rows[number]}
    shown = _versions(block_id__in=[pk for one in known.values() for pk in _shown(one.plan)])
    found = {
        number: one for number, one in known.items() if one.shown == _of(_shown(one.plan), shown)
    }
    if changed := [number for number in rows if number not in found]:
        versions = _versions(block__student_id__in=changed)
        planned = blocks_of_each(versions.made([row for pk in versions for row in versions.of(pk)]))
        for number in changed:
            (student,) = students.made(students.of(number))
            plan = plan_of(planned.get(number, []), day)
            whole = _of(_shown(plan), versions)
            found[number] = Kept(rows=rows[number], student=student, plan=plan, shown=whole)
    return {number: found[number] for number in rows}


def _versions(**which: list[int]) -> ReadRows[BlockVersion]:
    return ReadRows(with_their_blocks(BlockVersion.objects.filter(**which)), by="block_id")


def _shown(plan: Plan) -> list[int]:
    return [block.pk for block in (plan.block, plan.follows) if block is not None]


def _of(blocks: Sequence[int], versions: ReadRows[BlockVersion]) -> RawRow:
    return tuple(versions.of(pk) for pk in blocks)


def _made(kept: Kept, day: date, told: dict[str, list[Any]]) -> StudentMonth:
    """Make a month of the rows about it."""
    block = kept.plan.block
    versions = {row.pk: row for row in getattr(block, "version_rows", ())}
    for row in told["check_ins"]:
        if row.version_id in versions:
            row.version = versions[row.version_id]
    return month_of(kept.student, day=day, plan=kept.plan, news=News(**told))
