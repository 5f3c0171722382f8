"""What is read about blocks."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import dropwhile, pairwise, takewhile

from django.db.models import F, Prefetch, Q, QuerySet, Subquery

from routines.engine.instruments import Clef, Setup
from routines.engine.pauses import Pause
from routines.engine.plan import BlockPlan, Month
from routines.engine.variants import changed
from routines.models import Block, BlockVersion, Template
from routines.reach import DAYS_OF_A_BLOCK, may_reach, versions_begun, versions_reaching
from studio.models import Interruption, Student
from studio.queries import pausing


def with_blocks(students: QuerySet[Student]) -> QuerySet[Student]:
    """Read each student's blocks along, newest first, each with its `version_rows`."""
    return students.prefetch_related(Prefetch("block_set", queryset=_blocks()))


def blocks_of(student: Student, *, since: date | None = None) -> list[Block]:
    """List a student's blocks, the newest first, leaving out those replaced before they began.

    Those whose last day lies before `since` are left out as well.
    """
    versions = versions_of([student.pk]) if since is None else versions_reaching(student, since)
    found = blocks_of_each(versions).get(student.pk, [])
    for block in found:
        block.student = student
    return [
        block for block in found if came_about(block) and (since is None or block.last_day >= since)
    ]


def versions_of(students: Iterable[int]) -> QuerySet[BlockVersion]:
    """Ask for all versions of these students' blocks, each with its block, in any order."""
    rows: QuerySet[BlockVersion] = BlockVersion.objects.filter(block__student_id__in=students)
    return rows.select_related("block")


def versions_about(student: Student, since: date) -> QuerySet[BlockVersion]:
    """Ask for the versions of what is played from a day on, and of what was played last before.

    Some that ended before the day may be among them.
    """
    # Of this student by number, not by row: a database finds it once, not for each block.
    begun = Block.objects.filter(student=student, first_day__lte=since)
    came = begun.filter(Q(ended_on__isnull=True) | Q(ended_on__gte=F("first_day")))
    last = Subquery(came.order_by("-first_day").values("first_day")[:1])
    return versions_of([student.pk]).filter(may_reach(since) | Q(block__first_day=last))


def blocks_of_each(versions: Iterable[BlockVersion]) -> dict[int, list[Block]]:
    """Put versions that were read with their blocks under these, by student, the newest first.

    Those replaced before they began are among them.
    """
    found: dict[int, list[BlockVersion]] = {}
    # The few of a student are sorted here: to write an order down costs more than to follow it.
    for version in sorted(versions, key=_newest_block_first):
        found.setdefault(version.block.student_id, []).append(version)
    return {number: with_versions(rows) for number, rows in found.items()}


def _newest_block_first(version: BlockVersion) -> tuple[int, int, date]:
    block = version.block
    return -block.first_day.toordinal(), -block.pk, version.from_day


def with_versions(versions: Iterable[BlockVersion]) -> list[Block]:
    """List the blocks of versions that were read with these, each with its `version_rows`."""
    blocks: dict[int, Block] = {}
    for version in versions:
        version.block = blocks.setdefault(version.block_id, version.block)
        version.block.__dict__.setdefault("version_rows", []).append(version)
    return list(blocks.values())


def running(blocks: Iterable[Block], day: date) -> Block | None:
    """Choose the block of a day from a student's blocks, or None."""
    for block in sorted(blocks, key=lambda row: row.first_day, reverse=True):
        if block.first_day <= day <= block.last_day:
            return block
    return None


def next_to_come(blocks: Iterable[Block], day: date) -> Block | None:
    """Choose the first block that begins after a day, or None."""
    coming = [block for block in blocks if block.first_day > day and came_about(block)]
    return min(coming, key=lambda row: row.first_day, default=None)


def last_over(blocks: Iterable[Block], day: date) -> Block | None:
    """Choose the block that ended last before a day, or None."""
    over = [block for block in blocks if block.last_day < day and came_about(block)]
    return max(over, key=lambda row: row.last_day, default=None)


def templates() -> QuerySet[Template]:
    """List the studio's templates, by their names."""
    rows: QuerySet[Template] = Template.objects.filter(removed_at__isnull=True)
    return rows.order_by("name", "pk")


def templates_removed_since(moment: datetime) -> QuerySet[Template]:
    """List the templates that were removed lately, the last one first."""
    rows: QuerySet[Template] = Template.objects.filter(removed_at__gte=moment)
    return rows.order_by("-removed_at", "pk")


def times_in_a_row(blocks: Iterable[Block], block: Block) -> int:
    """Count how often in a row a block's plan has been a month's, this month included.

    An earlier month counts if it ended with the same plan; how the instrument is built is no
    difference.
    """
    return 1 + sum(1 for _ in takewhile(_asks_the_same(block), _months_before(blocks, block)))


def row_broken_by(blocks: Iterable[Block], block: Block) -> Block | None:
    """Find the month before those in a row, which asked something else; None where none did."""
    others = dropwhile(_asks_the_same(block), _months_before(blocks, block))
    return next(others, None)


def _months_before(blocks: Iterable[Block], block: Block) -> list[Block]:
    """List the blocks that came about before another, the newest first."""
    before = (row for row in blocks if row.first_day < block.first_day and came_about(row))
    return sorted(before, key=lambda row: row.first_day, reverse=True)


def _asks_the_same(block: Block) -> Callable[[Block], bool]:
    asked = version_on(block, block.last_day).plan
    return lambda row: not _other(version_on(row, row.last_day).plan, asked)


def _other(one: BlockPlan, another: BlockPlan) -> bool:
    return bool(set(changed(one, another)) - {"setup"})


def version_on(block: Block, day: date) -> BlockVersion:
    """Choose the version that a day is played under: the last one made for it or before."""
    versions: Sequence[BlockVersion] = getattr(block, "version_rows", None) or list(
        block.versions.order_by("from_day")
    )
    begun = [version for version in versions if version.from_day <= day]
    chosen = begun[-1] if begun else versions[0]
    chosen.block = block
    return chosen


def played_on(student: Student, day: date) -> BlockVersion | None:
    """Find the version that a student plays a day under, or None where no block has that day."""
    block = running(blocks_of(student, since=day), day)
    return version_on(block, day) if block else None


def is_still_played(version: BlockVersion, day: date) -> bool:
    """Whether a version that was read before, with its block, is what a day is played under.

    It asks for less than reading it again. "No" may be said of one that is.
    """
    block = version.block
    last = max(versions_begun(block, day), default=None)
    unchanged = (version.from_day, version.pk, *(getattr(block, name) for name in DAYS_OF_A_BLOCK))
    return last == unchanged and block.first_day <= day <= block.last_day


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """A later version of a block, and the fields of the plan that it changed."""

    version: BlockVersion
    changed: tuple[str, ...]


def edits(block: Block) -> list[Edit]:
    """List what was changed within a block, the first day first."""
    versions: Sequence[BlockVersion] = getattr(block, "version_rows", None) or list(
        block.versions.select_related("block").order_by("from_day")
    )
    return [
        Edit(version=after, changed=changed(before.plan, after.plan))
        for before, after in pairwise(versions)
    ]


def assigned_together(batch: str) -> list[Block]:
    """List the blocks that were handed out in one go, by the students' names."""
    rows = _blocks().filter(batch=batch).select_related("student")
    return list(rows.order_by("student__name", "pk"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """A student whose days are taken already, and by which block."""

    student: Student
    block: Block


def clashes(students: Iterable[Student], *, first_day: date, last_day: date) -> list[Clash]:
    """List the blocks that a new one from `first_day` to `last_day` would overlap."""
    wanted = {student.pk: student for student in students}
    rows = Block.objects.filter(student_id__in=wanted, first_day__lte=last_day)
    return [
        Clash(student=wanted[block.student_id], block=block)
        for block in rows.order_by("student__name", "first_day")
        if block.last_day >= first_day and came_about(block)
    ]


def first_free_day(student: Student, month: Month) -> date:
    """Find the first day on or after the month's from which its whole length is free."""
    length = timedelta(days=month.length_days - 1)
    first_day = month.first_day
    while taken := clashes([student], first_day=first_day, last_day=first_day + length):
        first_day = max(clash.block.last_day for clash in taken) + timedelta(days=1)
    return first_day


def as_pauses(interruptions: Iterable[Interruption]) -> list[Pause]:
    """Put interruptions into the engine's words: those that stop a block's days from counting."""
    return [Pause(first_day=row.first_day, last_day=row.last_day) for row in pausing(interruptions)]


def pauses_of(student: Student) -> list[Pause]:
    """Read a student's pauses, the earliest first."""
    rows = Interruption.objects.filter(student=student)
    return as_pauses(rows.order_by("first_day", "pk"))


def days_to_change(block: Block, today: date) -> tuple[date, date] | None:
    """Say from which days on a block can still be changed, first and last; None once it is over."""
    earliest = max(today, block.first_day)
    return (earliest, block.last_day) if earliest <= block.last_day else None


def setup_of(student: Student, instrument: str) -> Setup:
    """Read how the student's instrument is built; another instrument has the usual set-up."""
    if student.instrument != instrument:
        return Setup()
    return Setup(
        clef=Clef(student.clef) if student.clef else None,
        four_valves=student.four_valves,
        compensating=student.compensating,
        f_attachment=student.f_attachment,
    )


def came_about(block: Block) -> bool:
    """Whether a block has a day at all: one that was replaced before it began has none."""
    return block.last_day >= block.first_day


def _versions() -> QuerySet[BlockVersion]:
    rows: QuerySet[BlockVersion] = BlockVersion.objects.order_by("from_day", "pk")
    return rows


def _blocks() -> QuerySet[Block]:
    blocks: QuerySet[Block] = Block.objects.order_by("-first_day", "-pk").prefetch_related(
        Prefetch("versions", queryset=_versions(), to_attr="version_rows")
    )
    return blocks
