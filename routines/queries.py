"""What is read about blocks."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise, takewhile

from django.db.models import Prefetch, QuerySet

from routines.engine.instruments import Clef, Setup
from routines.engine.pauses import Pause
from routines.engine.plan import BlockPlan
from routines.engine.variants import changed
from routines.models import Block, BlockVersion
from studio.models import Interruption, Student
from studio.queries import pausing


def with_blocks(students: QuerySet[Student]) -> QuerySet[Student]:
    """Read each student's blocks along, newest first, each with its `version_rows`."""
    return students.prefetch_related(Prefetch("block_set", queryset=_blocks()))


def blocks_of(student: Student) -> list[Block]:
    """List a student's blocks, the newest first, leaving out those replaced before they began."""
    return [block for block in _blocks().filter(student=student) if _came_about(block)]


def running(blocks: Iterable[Block], day: date) -> Block | None:
    """Choose the block of a day from a student's blocks, or None."""
    for block in sorted(blocks, key=lambda row: row.first_day, reverse=True):
        if block.first_day <= day <= block.last_day:
            return block
    return None


def next_to_come(blocks: Iterable[Block], day: date) -> Block | None:
    """Choose the first block that begins after a day, or None."""
    coming = [block for block in blocks if block.first_day > day and _came_about(block)]
    return min(coming, key=lambda row: row.first_day, default=None)


def last_over(blocks: Iterable[Block], day: date) -> Block | None:
    """Choose the block that ended last before a day, or None."""
    over = [block for block in blocks if block.last_day < day and _came_about(block)]
    return max(over, key=lambda row: row.last_day, default=None)


def times_in_a_row(blocks: Iterable[Block], block: Block) -> int:
    """Count how often in a row a block's plan has been a month's, this month included.

    An earlier month counts if it ended with the same plan; how the instrument is built is no
    difference.
    """
    before = sorted(
        (row for row in blocks if row.first_day < block.first_day and _came_about(row)),
        key=lambda row: row.first_day,
        reverse=True,
    )
    asked = version_on(block, block.last_day).plan
    alike = takewhile(lambda row: not _other(version_on(row, row.last_day).plan, asked), before)
    return 1 + sum(1 for _ in alike)


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
        if block.last_day >= first_day and _came_about(block)
    ]


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


def _came_about(block: Block) -> bool:
    return block.last_day >= block.first_day


def _blocks() -> QuerySet[Block]:
    versions = BlockVersion.objects.order_by("from_day", "pk")
    blocks: QuerySet[Block] = Block.objects.order_by("-first_day", "-pk").prefetch_related(
        Prefetch("versions", queryset=versions, to_attr="version_rows")
    )
    return blocks
