"""Handing blocks out, and taking them back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from hashlib import sha256
from itertools import pairwise

from django.db import transaction
from django.db.models import RestrictedError

from routines.engine.plan import BlockPlan, Month
from routines.engine.variants import Aim, named
from routines.models import Block
from routines.queries import clashes, first_free_day
from routines.services.pauses import follow_pauses
from routines.services.versions import OWN_COUNTS, write_version
from studio.models import Student, User, new_public_id
from studio.services.locks import lock_students

UNDO_TIME = timedelta(minutes=10)


class IfRunning(StrEnum):
    """What happens where a student has a block on these days already."""

    AFTER = "after"
    REPLACE = "replace"
    SKIP = "skip"


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """What one student has instead of the rest of an order; None is as for all."""

    month: Month | None = None
    aim: Aim | None = None
    if_running: IfRunning | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What a teacher hands out: whose plan is which, for which month, and why.

    `own` says what is different for single students, by their number in the table.
    """

    plans: Sequence[tuple[Student, BlockPlan]]
    month: Month
    by: User
    moment: datetime
    batch: str = ""
    aim: Aim | None = None
    message: str = ""
    if_running: IfRunning = IfRunning.SKIP
    own: Mapping[int, Own] = field(default_factory=dict)

    def of(self, student: Student) -> "Order":
        """Return the order as it is for one student."""
        own = self.own.get(student.pk, Own())
        return replace(
            self,
            month=own.month or self.month,
            aim=own.aim or self.aim,
            if_running=own.if_running or self.if_running,
        )


@dataclass(slots=True, kw_only=True)
class Assigned:
    """What came of it: the blocks made, and the students who were left out."""

    batch: str
    blocks: list[Block] = field(default_factory=list)
    skipped: list[Student] = field(default_factory=list)


def assign(order: Order) -> Assigned:
    """Give each student a block, all or none; taken days are handled as the order says.

    Pauses that are known already move its end. The same order sent twice is one: the blocks of the
    first come back.
    """
    assigned = Assigned(batch=_batch_of(order))
    with transaction.atomic():
        # Two orders for one student wait for each other, so that their days cannot overlap.
        lock_students([student.pk for student, _ in order.plans])
        if there := list(Block.objects.filter(batch=assigned.batch)):
            return replace(assigned, blocks=there)
        for student, plan in order.plans:
            theirs = order.of(student)
            first_day = _free_day(student, theirs, assigned.batch)
            if first_day is None:
                assigned.skipped.append(student)
            else:
                block = _write_block(student, plan, theirs, first_day, assigned.batch)
                assigned.blocks.append(block)
                if follow_pauses(student):
                    block.refresh_from_db(fields=["extra_days"])
    return assigned


@dataclass(slots=True, kw_only=True)
class Undone:
    """Whose blocks were taken back, and whose stayed because they are in use."""

    taken_back: list[Student] = field(default_factory=list)
    kept: list[Student] = field(default_factory=list)


def undo_assign(batch: str, *, moment: datetime) -> Undone:
    """Take blocks back that were assigned together in the last ten minutes.

    What each of them replaced runs on. A student who has checked in already, or whose days a newer
    block has taken, keeps the block; so does everybody after ten minutes.
    """
    undone = Undone()
    with transaction.atomic():
        recent = Block.objects.filter(batch=batch, made_at__gte=moment - UNDO_TIME)
        lock_students(list(recent.values_list("student_id", flat=True)))
        for block in recent.select_related("student").order_by("student__name", "pk"):
            done = _take_back(block)
            (undone.taken_back if done else undone.kept).append(block.student)
    return undone


def _batch_of(order: Order) -> str:
    """Name an order after the form it stands on and all it says.

    Sent twice, it has one name. A form that is gone back to and changed is another order.
    """
    if not order.batch:
        return new_public_id()
    said = repr(
        (order.batch, order.message, [_said(student, plan, order) for student, plan in order.plans])
    )
    return sha256(said.encode()).hexdigest()[:16]


def _said(student: Student, plan: BlockPlan, order: Order) -> tuple[object, ...]:
    theirs = order.of(student)
    month = theirs.month
    days = (month.first_day, month.length_days, sorted(month.weekdays_off))
    return student.pk, plan, days, theirs.aim, theirs.if_running


def _take_back(block: Block) -> bool:
    """Delete one block and let what it replaced run on; False where that cannot be."""
    student = block.student
    replaced = list(Block.objects.filter(student=student, ended_by_batch=block.batch))
    for row in replaced:
        # The pauses find their room again below.
        row.ended_on, row.ended_by_batch, row.extra_days = None, "", 0
    others = Block.objects.filter(student=student).exclude(
        pk__in=[block.pk, *(row.pk for row in replaced)]
    )
    if _overlap([*replaced, *(row for row in others if row.last_day >= row.first_day)]):
        return False
    try:
        with transaction.atomic():
            block.delete()
            for row in replaced:
                row.save(update_fields=["ended_on", "ended_by_batch", "extra_days"])
            follow_pauses(student)
    except RestrictedError:
        return False
    return True


def _overlap(blocks: Sequence[Block]) -> bool:
    ordered = sorted(blocks, key=lambda row: row.first_day)
    return any(after.first_day <= before.last_day for before, after in pairwise(ordered))


def _free_day(student: Student, order: Order, batch: str) -> date | None:
    """Make room for a block and say its first day; None leaves the student out."""
    month = order.month
    taken = clashes([student], first_day=month.first_day, last_day=month.last_day)
    if not taken:
        return month.first_day
    if order.if_running is IfRunning.SKIP:
        return None
    if order.if_running is IfRunning.REPLACE:
        for clash in taken:
            clash.block.ended_on = month.first_day - timedelta(days=1)
            clash.block.ended_by_batch = batch
            clash.block.save(update_fields=["ended_on", "ended_by_batch"])
        return month.first_day
    return first_free_day(student, month)


def _write_block(
    student: Student, plan: BlockPlan, order: Order, first_day: date, batch: str
) -> Block:
    block: Block = Block.objects.create(
        student=student,
        instrument=plan.instrument,
        first_day=first_day,
        length_days=order.month.length_days,
        weekdays_off=sorted(order.month.weekdays_off),
        variant=named(plan) or OWN_COUNTS,
        aim=order.aim or "",
        message=order.message,
        batch=batch,
        made_by=order.by,
        made_at=order.moment,
    )
    write_version(block, plan, from_day=first_day, by=order.by, moment=order.moment)
    return block
