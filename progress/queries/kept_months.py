"""Months that nothing has happened to since they were looked at last.

What is known of a student's month is kept in the memory of the server process, next to every row
it was made from. At the next look the rows are read again, as they lie in the database, and
compared: one that differs, is new or is gone makes the month anew. So it does not matter who
wrote, in which process or on which host, nor how. Where the database can say that nobody has
written at all since, they are not read. The day is compared as well; the code and the
figures of the assessment are those of the process itself.
"""

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from threading import Lock
from typing import Any

from django.db.models import QuerySet

from progress.models import CheckIn, LessonRating, NotToday
from progress.queries.kept_plans import KeptPlan, KeptPlans
from progress.queries.months import Plan, StudentMonth, hurts_read_since, month_of
from progress.queries.news import in_order, news_of
from progress.queries.read_rows import RawRow, ReadRows
from progress.queries.written_rows import ModelReader, columns_of, texts
from studio.models import Discomfort, Interruption, Student

MOST_KEPT = 500
# At one moment two studios' days lie two apart at most: their clocks 26 hours, and a practice day
# ends some hours after midnight. A month of a day before those is looked at no more.
OF_USE = timedelta(days=2)
KINDS: dict[str, Any] = {
    "check_ins": CheckIn,
    "not_todays": NotToday,
    "lessons": LessonRating,
    "told": Discomfort,
    "interruptions": Interruption,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A student's rows of the last look, and what came of them.

    `row` holds the student with the studio; `told` are the texts of the blocks that are shown and
    of all that was told. `seen` names what the database showed when the row was read or, by its
    file, just before, where it can be told; the others were read afterwards.
    """

    row: RawRow
    plan: KeptPlan
    told: tuple[str | None, ...]
    month: StudentMonth
    seen: str | None = None


class Store:
    """The months this process keeps, those looked at last; requests in threads share it."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._lock = Lock()
        self._kept: OrderedDict[tuple[str, int], Kept] = OrderedDict()

    def known(self, database: str, day: date) -> dict[int, Kept]:
        """Find whose months of a day are kept, by the numbers of students in the database.

        Months of days that are over everywhere are dropped: nobody's rows stay for that alone.
        """
        with self._lock:
            over = [name for name, one in self._kept.items() if one.month.day < day - OF_USE]
            for name in over:
                del self._kept[name]
            kept = list(self._kept.items())
        return {
            number: one for (name, number), one in kept if name == database and one.month.day == day
        }

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
    known = STORE.known(students.db, day)
    rows = ReadRows(students.select_related("studio"))
    if all(one in known and _is_all_as_it_was(known[one], rows.seen, rows[one]) for one in rows):
        for one in rows:
            STORE.keep((students.db, one), known[one])
        return [known[one].month for one in rows]
    known_plans = {number: one.plan for number, one in known.items()}
    plans = KeptPlans(list(rows), known_plans, students.db, day)
    told = _told({number: plans.of(number).plan for number in rows}, day)
    make = Make(plans, students.db, day)
    months = []
    for number in rows:
        kept, row, plan = known.get(number), rows[number], plans.of(number)
        found = (plans.shown.get(number), *(kind.get(number) for kind in told))
        if kept is None or kept.plan is not plan or (kept.row, kept.told) != (row, found):
            month = make.month(rows.made(number), found)
            kept = Kept(seen=rows.seen, row=row, plan=plan, told=found, month=month)
        elif kept.seen != rows.seen:
            kept = replace(kept, seen=rows.seen)
        STORE.keep((students.db, number), kept)
        months.append(kept.month)
    return months


def _is_all_as_it_was(kept: Kept, seen: str | None, row: RawRow) -> bool:
    """Whether a look sees just what the one before saw, so that nothing else need be read."""
    return seen is not None and (kept.seen, kept.row) == (seen, row)


def _told(plans: Mapping[int, Plan], day: date) -> list[dict[int, str]]:
    """Read all that was told, of each kind in a text of each student."""
    since = {number: plan.read_since(day) for number, plan in plans.items()}
    news = news_of(since, day, hurts_since=hurts_read_since(since.values(), day))
    return [texts(news[name].select_related(None), columns_of(KINDS[name])) for name in KINDS]


class Make:
    """Makes months of a day of what was read in texts."""

    def __init__(self, plans: KeptPlans, database: str, day: date) -> None:
        self._plans, self._day = plans, day
        self._news = {name: ModelReader(model, database) for name, model in KINDS.items()}

    def month(self, student: Student, told: tuple[str | None, ...]) -> StudentMonth:
        """Make the month of a student, of what a `Kept` holds as told."""
        shown, *news = told
        plan = self._plans.whole(student.pk, shown)
        kinds = {name: self._news[name].made(text) for name, text in zip(KINDS, news, strict=True)}
        versions = {row.pk: row for row in getattr(plan.block, "version_rows", ())}
        for check_in in kinds["check_ins"]:
            if check_in.version_id in versions:
                check_in.version = versions[check_in.version_id]
        return month_of(student, day=self._day, plan=plan, news=in_order(kinds))
