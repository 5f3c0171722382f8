"""Writes about what comes next: a teacher's decision at a month's end, and taking it back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext_lazy

from progress.engine.choices import Choice
from progress.models import Decision
from routines.engine.plan import BlockPlan, Month
from routines.engine.variants import Aim
from routines.models import Block
from routines.services.assign import UNDO_TIME, Order, assign, undo_assign
from routines.services.pauses import follow_pauses
from studio.models import Student, User

CHOICE_WORDS = {
    Choice.MOVE_ON: gettext_lazy("Move on"),
    Choice.REPEAT: pgettext_lazy("what next", "Repeat"),
    Choice.CHANGE: gettext_lazy("Change something"),
    Choice.LATER: gettext_lazy("Decide later"),
}


class DecisionError(ValueError):
    """A decision that cannot be written or taken back; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a teacher decides, and what stood on the page. `plan` is None for "later" alone."""

    choice: Choice
    by: User
    moment: datetime
    today: date
    key: UUID
    seen: Mapping[str, Any]
    plan: BlockPlan | None = None
    variables: Sequence[str] = ()
    reason: str = ""
    shown_to_student: bool = False


def decide(block: Block, verdict: Verdict) -> Decision:
    """Write a decision and make the next block, both or neither.

    The same key is the same decision, however often it comes. Where another screen was first, or
    a block is there already, DecisionError says so and nothing is written.
    """
    with transaction.atomic():
        # Two screens for one student wait for each other here.
        student = Student.objects.select_for_update().get(pk=block.student_id)
        if again := Decision.objects.filter(student=student, key=verdict.key).first():
            return _the_same(again, verdict)
        block = Block.objects.get(pk=block.pk)
        _refuse_second(block, verdict)
        next_block = None if verdict.plan is None else _next_block(student, block, verdict)
        decision: Decision = Decision.objects.create(
            student=student,
            block=block,
            by=verdict.by,
            decided_at=verdict.moment,
            choice=verdict.choice,
            variables=list(verdict.variables),
            reason=verdict.reason,
            shown_to_student=verdict.shown_to_student,
            seen=dict(verdict.seen),
            next_block=next_block,
            key=verdict.key,
        )
    return decision


def _the_same(first: Decision, verdict: Verdict) -> Decision:
    """Give a decision back that was sent twice; another one under its key is refused."""
    said = (verdict.choice, list(verdict.variables), verdict.reason, verdict.shown_to_student)
    kept = (first.choice, first.variables, first.reason, first.shown_to_student)
    if first.undone_at is None and said == kept:
        return first
    message = _(
        "This page was used already, so nothing was changed now: it is loaded anew, press again."
    )
    raise DecisionError(message)


def undo_decision(decision: Decision, *, moment: datetime) -> Decision:
    """Take a decision back within ten minutes, and the block it made; twice is once.

    After ten minutes, or once the student has played the next block, DecisionError says so.
    """
    with transaction.atomic():
        Student.objects.select_for_update().get(pk=decision.student_id)
        taken_back: Decision = Decision.objects.select_related("next_block", "student").get(
            pk=decision.pk
        )
        if taken_back.undone_at is not None:
            return taken_back
        if moment - taken_back.decided_at >= UNDO_TIME:
            message = _(
                "That was over ten minutes ago, so it stands: change the next block instead."
            )
            raise DecisionError(message)
        if taken_back.next_block is not None:
            _take_back_block(taken_back.next_block, moment)
            # What was kept short by the next block has its room again.
            follow_pauses(taken_back.student)
        taken_back.refresh_from_db()
        taken_back.undone_at = moment
        taken_back.save(update_fields=["undone_at"])
    return taken_back


def first_day_after(block: Block, today: date) -> date:
    """Say when the next block begins: the day after this one ends, or today if that is past."""
    return max(block.last_day + timedelta(days=1), today)


def _refuse_second(block: Block, verdict: Verdict) -> None:
    """Let one decision stand for a block; one whose block was taken back elsewhere is over."""
    decided = (
        Decision.objects.filter(block=block, undone_at__isnull=True)
        .exclude(choice=Choice.LATER)
        .select_related("by")
    )
    for other in decided:
        if other.next_block_id is not None:
            raise DecisionError(_decided_already(other, verdict.by))
        other.undone_at = verdict.moment
        other.save(update_fields=["undone_at"])


def _decided_already(first: Decision, reader: User) -> str:
    """Say who was first: the reader on another screen, or a colleague by name."""
    said = {
        "moment": f"{timezone.localtime(first.decided_at):%H:%M}",
        "choice": CHOICE_WORDS[Choice(first.choice)],
        "name": str(first.by),
    }
    if first.by_id == reader.pk:
        return (
            _(
                "You decided this on another screen at %(moment)s: %(choice)s. "
                "Nothing was changed now."
            )
            % said
        )
    if first.by_id is None:
        return (
            _(
                "A teacher who has left decided this at %(moment)s: %(choice)s. "
                "Nothing was changed now."
            )
            % said
        )
    return _("%(name)s decided this at %(moment)s: %(choice)s. Nothing was changed now.") % said


def _next_block(student: Student, block: Block, verdict: Verdict) -> Block:
    assert verdict.plan is not None  # noqa: S101 - only asked for with a plan
    order = Order(
        plans=[(student, verdict.plan)],
        month=Month(
            first_day=first_day_after(block, verdict.today),
            length_days=block.length_days,
            weekdays_off=frozenset(block.weekdays_off),
        ),
        by=verdict.by,
        moment=verdict.moment,
        aim=Aim(block.aim) if block.aim else None,
    )
    assigned = assign(order)
    if not assigned.blocks:
        message = _(
            "%(name)s has a block on these days already, so none was made: look at the "
            "student’s page, and change that block instead."
        ) % {"name": student.name}
        raise DecisionError(message)
    return assigned.blocks[0]


def _take_back_block(block: Block, moment: datetime) -> None:
    undone = undo_assign(block.batch, moment=moment)
    if undone.kept:
        message = _(
            "%(name)s has played the next block already, so it stands: change that block instead."
        ) % {"name": block.student.name}
        raise DecisionError(message)
