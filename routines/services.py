"""Writes about blocks."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import StrEnum

from django.db import transaction
from django.db.models import RestrictedError

from routines.engine.plan import BlockPlan, Month
from routines.engine.variants import Aim, Variant
from routines.models import Block, BlockVersion
from routines.queries import clashes
from studio.models import Student, User, new_public_id

UNDO_TIME = timedelta(minutes=10)


class IfRunning(StrEnum):
    """What happens where a student has a block on these days already."""

    AFTER = "after"
    REPLACE = "replace"
    SKIP = "skip"


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What a teacher hands out: whose plan is which, for which month, and why."""

    plans: Sequence[tuple[Student, BlockPlan]]
    month: Month
    by: User
    moment: datetime
    variant: Variant
    aim: Aim | None = None
    message: str = ""
    if_running: IfRunning = IfRunning.SKIP


@dataclass(slots=True, kw_only=True)
class Assigned:
    """What came of it: the blocks made, and the students who were left out."""

    batch: str
    blocks: list[Block] = field(default_factory=list)
    skipped: list[Student] = field(default_factory=list)


def assign(order: Order) -> Assigned:
    """Give each student a block, all or none; taken days are handled as the order says."""
    assigned = Assigned(batch=new_public_id())
    with transaction.atomic():
        for student, plan in order.plans:
            first_day = _free_day(student, order, assigned.batch)
            if first_day is None:
                assigned.skipped.append(student)
            else:
                block = _write_block(student, plan, order, first_day, assigned.batch)
                assigned.blocks.append(block)
    return assigned


def undo_assign(batch: str, *, moment: datetime) -> int:
    """Take blocks back that were assigned together in the last ten minutes and not yet played.

    Returns how many; a block with a check-in stays, and so does everything after ten minutes.
    """
    taken_back = 0
    with transaction.atomic():
        since = moment - UNDO_TIME
        for block in Block.objects.filter(batch=batch, made_at__gte=since):
            try:
                with transaction.atomic():
                    block.delete()
            except RestrictedError:
                continue
            taken_back += 1
        if taken_back and not Block.objects.filter(batch=batch).exists():
            Block.objects.filter(ended_by_batch=batch).update(ended_on=None, ended_by_batch="")
    return taken_back


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
    return _after_all(student, month)


def _after_all(student: Student, month: Month) -> date:
    """Find the first day on or after the month's from which its whole length is free."""
    length = timedelta(days=month.length_days - 1)
    first_day = month.first_day
    while taken := clashes([student], first_day=first_day, last_day=first_day + length):
        first_day = max(clash.block.last_day for clash in taken) + timedelta(days=1)
    return first_day


def _write_block(
    student: Student, plan: BlockPlan, order: Order, first_day: date, batch: str
) -> Block:
    block: Block = Block.objects.create(
        student=student,
        instrument=plan.instrument,
        first_day=first_day,
        length_days=order.month.length_days,
        weekdays_off=sorted(order.month.weekdays_off),
        variant=order.variant,
        aim=order.aim or "",
        message=order.message,
        batch=batch,
        made_by=order.by,
        made_at=order.moment,
    )
    _write_version(block, plan, from_day=first_day, by=order.by, moment=order.moment)
    return block


def _write_version(
    block: Block, plan: BlockPlan, *, from_day: date, by: User, moment: datetime
) -> BlockVersion:
    version: BlockVersion = BlockVersion.objects.create(
        block=block,
        from_day=from_day,
        start_note=plan.start_note,
        low_note=plan.low_note,
        top_note=plan.top_note,
        back=plan.back,
        hold=plan.hold,
        rest=plan.rest,
        tempo=plan.tempo,
        dynamics=str(plan.dynamics),
        clef=plan.setup.clef or "",
        four_valves=plan.setup.four_valves,
        compensating=plan.setup.compensating,
        f_attachment=plan.setup.f_attachment,
        made_by=by,
        made_at=moment,
    )
    return version
