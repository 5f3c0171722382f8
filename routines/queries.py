"""What is read about blocks."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import pairwise, takewhile

from django.db.models import Prefetch, QuerySet, prefetch_related_objects

from routines.engine import instruments, section
from routines.engine.instruments import Clef, Setup
from routines.engine.pauses import Pause
from routines.engine.plan import BlockPlan, Month
from routines.engine.variants import changed
from routines.models import Block, BlockVersion, Template
from studio.models import Interruption, Student
from studio.queries import pausing


def with_blocks(students: QuerySet[Student]) -> QuerySet[Student]:
    """Read each student's blocks along, newest first, each with its `version_rows`."""
    return students.prefetch_related(Prefetch("block_set", queryset=_blocks()))


def blocks_of(student: Student) -> list[Block]:
    """List a student's blocks, the newest first, leaving out those replaced before they began."""
    found = blocks_of_each(versions_of([student.pk])).get(student.pk, [])
    for block in found:
        block.student = student
    return [block for block in found if came_about(block)]


def versions_of(students: Iterable[int]) -> QuerySet[BlockVersion]:
    """Ask for all versions of these students' blocks, with the blocks."""
    rows: QuerySet[BlockVersion] = BlockVersion.objects.filter(block__student_id__in=students)
    return rows.select_related("block")


def blocks_of_each(versions: QuerySet[BlockVersion]) -> dict[int, list[Block]]:
    """Read blocks with their `version_rows` in one query, by student, the newest first.

    Those replaced before they began are among them.
    """
    found: dict[int, dict[int, Block]] = {}
    for version in versions.order_by("-block__first_day", "-block_id", "from_day", "pk"):
        blocks = found.setdefault(version.block.student_id, {})
        version.block = blocks.setdefault(version.block_id, version.block)
        version.block.__dict__.setdefault("version_rows", []).append(version)
    return {number: list(blocks.values()) for number, blocks in found.items()}


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


def latest_blocks(students: Iterable[Student], day: date) -> dict[int, Block]:
    """Read the block that each student has on a day, else the one that ended last, by student.

    In two queries; whoever has had none is left out.
    """
    rows: dict[int, list[Block]] = {}
    wanted = [student.pk for student in students]
    for block in Block.objects.filter(student_id__in=wanted, first_day__lte=day):
        rows.setdefault(block.student_id, []).append(block)
    chosen = {pk: running(blocks, day) or last_over(blocks, day) for pk, blocks in rows.items()}
    found = {pk: block for pk, block in chosen.items() if block is not None}
    versions = Prefetch("versions", queryset=_versions(), to_attr="version_rows")
    prefetch_related_objects(list(found.values()), versions)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """What a student played last, to be played once more: the block, the plan, the next month."""

    student: Student
    block: Block
    plan: BlockPlan
    month: Month


def same_again(students: Sequence[Student], day: date) -> list[Again]:
    """Say what each student's last block comes to once more, from the first day that is free.

    The plan is carried over to what the student plays now. Whoever has had no block is left out.
    """
    blocks = latest_blocks(students, day)
    found = []
    for student in students:
        block = blocks.get(student.pk)
        if block is None:
            continue
        player = instruments.by_id(student.instrument)
        asked = version_on(block, block.last_day).plan
        month = Month(
            first_day=max(day, block.last_day + timedelta(days=1)),
            length_days=block.length_days,
            weekdays_off=frozenset(block.weekdays_off),
        )
        begins = first_free_day(student, month)
        found.append(
            Again(
                student=student,
                block=block,
                plan=section.carry(asked, player, setup_of(student, student.instrument)),
                month=replace(month, first_day=begins),
            )
        )
    return found


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
    before = sorted(
        (row for row in blocks if row.first_day < block.first_day and came_about(row)),
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
