"""Interruptions together with what they do to a block: a confirmed pause moves its end."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import zip_longest

from django.db import transaction

from routines.engine.pauses import Pause, extra_days
from routines.models import Block
from routines.queries import as_pauses, blocks_of, pauses_of
from studio.models import Interruption, Student
from studio.services import wellbeing
from studio.services.locks import lock_students
from studio.words import InterruptionKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A block, the day it ended on before, and the next block where that leaves it no room."""

    block: Block
    ended: date
    stopped_by: Block | None = None

    @property
    def has_moved(self) -> bool:
        """Whether it ends on another day now."""
        return self.block.last_day != self.ended


def follow_pauses(student: Student) -> list[Moved]:
    """Put the end of each block where the student's confirmed pauses move it.

    A block that was replaced keeps its end; every other lasts to the day before the next block at
    most. Handed back are those that moved or had no room to, the earliest first.
    """
    with transaction.atomic():
        lock_students([student.pk])
        pauses = pauses_of(student)
        blocks = blocks_of(student)[::-1]
        followed = [
            _follow(block, after, pauses)
            for block, after in zip_longest(blocks, blocks[1:])
            if block.ended_on is None
        ]
    return [each for each in followed if each.has_moved or each.stopped_by is not None]


def add_interruption(
    student: Student,
    *,
    kind: InterruptionKind,
    first_day: date,
    last_day: date | None,
    note: str,
    moment: datetime,
) -> list[Moved]:
    """Write down what a teacher knows of, and say which blocks it moves."""
    with transaction.atomic():
        lock_students([student.pk])
        interruption = wellbeing.add_interruption(
            student, kind=kind, first_day=first_day, last_day=last_day, note=note, moment=moment
        )
        return _about(interruption, follow_pauses(student))


def confirm_interruption(interruption: Interruption, *, moment: datetime) -> list[Moved]:
    """Say that what the student told is so, and which blocks it moves."""
    with transaction.atomic():
        lock_students([interruption.student_id])
        wellbeing.confirm_interruption(interruption, moment=moment)
        return _about(interruption, follow_pauses(interruption.student))


def end_interruption(
    interruption: Interruption, *, last_day: date, moment: datetime
) -> list[Moved]:
    """Say that it is over with its last day, and which blocks that moves."""
    with transaction.atomic():
        lock_students([interruption.student_id])
        wellbeing.end_interruption(interruption, last_day=last_day, moment=moment)
        return _about(interruption, follow_pauses(interruption.student))


def call_off_interruption(interruption: Interruption) -> list[Moved]:
    """Take out one that has not begun, and say which blocks go back."""
    with transaction.atomic():
        lock_students([interruption.student_id])
        wellbeing.call_off_interruption(interruption)
        return [each for each in follow_pauses(interruption.student) if each.has_moved]


def _follow(block: Block, after: Block | None, pauses: Sequence[Pause]) -> Moved:
    """Write one block's extra days, if they are others than before."""
    ended, wanted = block.last_day, extra_days(block.month, pauses)
    found = wanted if after is None else extra_days(block.month, pauses, after.first_day)
    if found != block.extra_days:
        block.extra_days = found
        block.save(update_fields=["extra_days"])
    return Moved(block=block, ended=ended, stopped_by=after if found < wanted else None)


def _about(interruption: Interruption, followed: Sequence[Moved]) -> list[Moved]:
    """Leave out the blocks that lack room because of other pauses than this one."""
    return [each for each in followed if each.has_moved or _falls_into(interruption, each.block)]


def _falls_into(interruption: Interruption, block: Block) -> bool:
    return any(
        pause.last_day is not None
        and pause.first_day <= block.last_day
        and pause.last_day >= block.first_day
        for pause in as_pauses([interruption])
    )
