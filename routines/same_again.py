"""What students played last, to be played once more."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db.models import Prefetch, prefetch_related_objects

from routines.engine import instruments, section
from routines.engine.plan import BlockPlan, Month
from routines.models import Block, BlockVersion
from routines.queries import first_free_day, last_over, running, setup_of, version_on
from studio.models import Student


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
    versions = BlockVersion.objects.order_by("from_day", "pk")
    rows_of = Prefetch("versions", queryset=versions, to_attr="version_rows")
    prefetch_related_objects(list(found.values()), rows_of)
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
