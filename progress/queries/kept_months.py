"""Months that nothing has happened to since they were looked at last.

What is known of a student's month is kept in the memory of the server process, next to every row
it was made from. At the next look the rows are read again, as they lie in the database, and
compared: one that differs, is new or is gone makes the month anew. So it does not matter who
wrote, in which process or on which host, nor how. The day is compared as well; the code and the
figures of the assessment are those of the process itself.
"""

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from threading import Lock
from typing import Any

from django.db.models import QuerySet

from progress.models import CheckIn, LessonRating, NotToday
from progress.queries.months import Plan, StudentMonth, hurts_read_since, month_of, plan_of
from progress.queries.news import in_order, news_of
from progress.queries.read_rows import RawRow, ReadRows
from progress.queries.written_rows import (
    Column,
    ModelReader,
    Reader,
    columns_of,
    texts,
)
from routines.models import Block, BlockVersion
from routines.queries import with_versions
from studio.models import Discomfort, Interruption, Student

MOST_KEPT = 500
# At one moment two studios' days lie two apart at most: their clocks 26 hours, and a practice day
# ends some hours after midnight. A month of a day before those is looked at no more.
OF_USE = timedelta(days=2)
# What a plan is chosen by, of every block: its days, and what it has asked.
OF_A_BLOCK = columns_of(
    Block,
    only=("id", "instrument", "first_day", "length_days", "extra_days", "ended_on"),
)
# How the instrument is built is no other plan; of the blocks that are shown it is read.
SETUP = ("clef", "four_valves", "compensating", "f_attachment")
OF_A_VERSION = columns_of(
    BlockVersion, through="versions__", but=("block", "made_by", "made_at", *SETUP)
)
WHOLE_BLOCK = columns_of(Block)
WHOLE_VERSION = columns_of(BlockVersion, through="versions__")
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

    `row` holds the student with the studio, `blocks` what a plan is chosen by, in one text;
    `told` are the texts of the blocks that are shown and of all that was told.
    """

    row: RawRow
    blocks: str | None
    plan: Plan
    told: tuple[str | None, ...]
    month: StudentMonth


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
    blocks = texts(Block.objects.filter(student__in=list(rows)), [*OF_A_BLOCK, *OF_A_VERSION])
    make = Make(blocks, students.db, day)
    plans = {
        number: known[number].plan
        if number in known and known[number].blocks == blocks.get(number)
        else plan_of(make.blocks(number), day)
        for number in rows
    }
    told = _told(plans, day)
    months = []
    for number in rows:
        kept = known.get(number)
        now = (rows[number], blocks.get(number), tuple(kind.get(number) for kind in told))
        if kept is None or (kept.row, kept.blocks, kept.told) != now:
            row, of_blocks, found = now
            month = make.month(rows.made(number), plans[number], found)
            kept = Kept(row=row, blocks=of_blocks, plan=plans[number], told=found, month=month)
        STORE.keep((students.db, number), kept)
        months.append(kept.month)
    return months


def _told(plans: dict[int, Plan], day: date) -> list[dict[int, str]]:
    """Read, in a text of each student, the blocks that are shown and all that was told."""
    shown = [block.pk for plan in plans.values() for block in (plan.block, plan.follows) if block]
    since = {number: plan.read_since(day) for number, plan in plans.items()}
    news = news_of(since, day, hurts_since=hurts_read_since(since.values(), day))
    blocks = Block.objects.filter(first_day__gte=min(since.values(), default=day))
    return [
        # None of them begins before the earliest day, by which an index finds them.
        texts(blocks.filter(pk__in=shown), [*WHOLE_BLOCK, *WHOLE_VERSION]),
        # The versions are among those of the blocks.
        *(texts(news[name].select_related(None), columns_of(KINDS[name])) for name in KINDS),
    ]


class Make:
    """Makes months of a day of what was read in texts; `blocks` are those of all blocks."""

    def __init__(self, blocks: dict[int, str], database: str, day: date) -> None:
        self._texts, self._day = blocks, day
        self._made: dict[int, list[Block]] = {}
        self._blocks = Blocks(OF_A_BLOCK, OF_A_VERSION, database)
        self._whole = Blocks(WHOLE_BLOCK, WHOLE_VERSION, database)
        self._news = {name: ModelReader(model, database) for name, model in KINDS.items()}

    def blocks(self, number: int) -> list[Block]:
        """Give all blocks of a student, with what a plan is chosen by."""
        if number not in self._made:
            self._made[number] = self._blocks.made(self._texts.get(number))
        return self._made[number]

    def month(self, student: Student, plan: Plan, told: tuple[str | None, ...]) -> StudentMonth:
        """Make the month of a student; `plan` is what was read whole, `told` as a `Kept` holds it.

        A block that was taken out since the plan was made of it is not shown.
        """
        shown, *news = told
        # Those that are shown are whole; of those before them only the plan counts.
        whole = {block.pk: block for block in self._whole.made(shown)}
        gone = {block.pk for block in (plan.block, plan.follows) if block} - whole.keys()
        there = [block for block in self.blocks(student.pk) if block.pk not in gone]
        plan = plan_of([whole.get(block.pk, block) for block in there], self._day)
        kinds = {name: self._news[name].made(text) for name, text in zip(KINDS, news, strict=True)}
        versions = {row.pk: row for row in getattr(plan.block, "version_rows", ())}
        for check_in in kinds["check_ins"]:
            if check_in.version_id in versions:
                check_in.version = versions[check_in.version_id]
        return month_of(student, day=self._day, plan=plan, news=in_order(kinds))


class Blocks:
    """Makes blocks with their versions of a text that holds some of the columns of both."""

    def __init__(
        self, of_a_block: Sequence[Column], of_a_version: Sequence[Column], database: str
    ) -> None:
        self._database = database
        self._reader = Reader([*of_a_block, *of_a_version], database)
        self._block = [field.attname for _name, field in of_a_block]
        self._version = [field.attname for _name, field in of_a_version]
        fields = BlockVersion._meta.concrete_fields  # noqa: SLF001 - Django's own way
        self._usual = {
            field.attname: field.get_default()
            for field in fields
            if field.name in SETUP and field.attname not in self._version
        }

    def made(self, text: str | None) -> list[Block]:
        """Make the blocks, the newest first; what a text leaves out is not read."""
        versions = []
        for values in self._reader.rows(text):
            of_a_block, of_a_version = values[: len(self._block)], values[len(self._block) :]
            version = BlockVersion.from_db(self._database, self._version, of_a_version)
            version.__dict__.update(self._usual)
            if version.pk is not None:  # a block without one is not shown
                version.block = Block.from_db(self._database, self._block, of_a_block)
                versions.append(version)
        versions.sort(key=lambda row: (row.from_day, row.pk))
        versions.sort(key=lambda row: (row.block.first_day, row.block.pk), reverse=True)
        return with_versions(versions)
