"""Changing what a block asks from a day on."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import RestrictedError
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from routines.engine.plan import BlockPlan
from routines.engine.variants import named
from routines.models import Block, BlockVersion
from routines.queries import days_to_change, version_on
from routines.services.versions import OWN_COUNTS, write_version
from studio.access import practice_day
from studio.models import User
from studio.services.locks import lock_students
from studio.words import day_in_words

A_DAY = timedelta(days=1)


class ChangeError(ValueError):
    """A change that cannot be made; ``field`` is the field to change, empty for the whole."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


def change_block(
    block: Block, plan: BlockPlan, *, from_day: date, by: User, moment: datetime
) -> BlockVersion:
    """Ask something else of a block from today or a later day on; days before keep what they had.

    Whatever was planned from that day on is replaced, unless somebody has checked in under it:
    then, and for a day or a plan that cannot be, ChangeError says why and what to do.
    """
    today = practice_day(block.student.studio, moment)
    try:
        with transaction.atomic():
            # Two screens for one student wait for each other here.
            lock_students([block.student_id])
            there = _still_there(block)
            _refuse_day(there, from_day, today)
            _refuse_plan(there, plan, from_day)
            _clear(there, from_day, today)
            if not BlockVersion.objects.filter(block=there).exists():
                there.variant = named(plan) or OWN_COUNTS
                there.save(update_fields=["variant"])
            return write_version(there, plan, from_day=from_day, by=by, moment=moment)
    except IntegrityError as error:
        # A check-in that arrived in the same moment holds a version that was to be replaced.
        message = _("A check-in came in just now, so nothing was changed: send it once more.")
        raise ChangeError("", message) from error


def _still_there(block: Block) -> Block:
    """Read a block anew under the lock; it may have been taken back meanwhile."""
    row: Block | None = Block.objects.filter(pk=block.pk).select_related("student").first()
    if row is None:
        message = _("This block was taken back meanwhile: look at the student’s page.")
        raise ChangeError("", message)
    return row


def _refuse_day(block: Block, from_day: date, today: date) -> None:
    allowed = days_to_change(block, today)
    if allowed is None:
        raise ChangeError("", over(block))
    first, last = allowed
    if from_day < today:
        message = _(
            "%(from_day)s is past, and past days keep what they had: choose a day from "
            "%(first)s to %(last)s."
        ) % {
            "from_day": _given(from_day, today),
            "first": day_in_words(first),
            "last": day_in_words(last),
        }
        raise ChangeError("from_day", message)
    if not first <= from_day <= last:
        message = _(
            "%(from_day)s is not in this block: choose a day from %(first)s to %(last)s."
        ) % {
            "from_day": _given(from_day, today),
            "first": day_in_words(first),
            "last": day_in_words(last),
        }
        raise ChangeError("from_day", message)


def _given(day: date, today: date) -> str:
    """Say a day as it was given, with its year where that may be what is wrong."""
    return day_in_words(day) if day.year == today.year else date_format(day, "l j F Y")


def over(block: Block) -> str:
    """Say of a block that has ended that it cannot be changed, and what to do."""
    if block.last_day < block.first_day:
        return _("This block was replaced before it began: change the one that replaced it.")
    return _("This block ended on %(last_day)s: assign the next one instead.") % {
        "last_day": day_in_words(block.last_day)
    }


def _refuse_plan(block: Block, plan: BlockPlan, from_day: date) -> None:
    if plan.instrument != block.instrument:
        message = _("This block is for another instrument: assign a new block instead.")
        raise ChangeError("instrument", message)
    later = BlockVersion.objects.filter(block=block, from_day__gt=from_day).select_related("block")
    asked = [version_on(block, from_day), *later]
    if all(version.plan == plan for version in asked):
        message = _("This is what %(name)s is asked already: change something, or go back.") % {
            "name": block.student.name
        }
        raise ChangeError("", message)


def _clear(block: Block, from_day: date, today: date) -> None:
    """Delete what was planned from a day on; what is played already stays, and is said."""
    try:
        BlockVersion.objects.filter(block=block, from_day__gte=from_day).delete()
    except RestrictedError as error:
        # Only check-ins restrict; what they are is no business of this app.
        held: Iterable[Any] = error.restricted_objects
        played: date = max(row.day for row in held)
        free = played + A_DAY
        said = {
            "name": block.student.name,
            "day": day_in_words(played),
            "begin": day_in_words(free),
        }
        message = _held(is_today=played == today, is_last=free > block.last_day)
        raise ChangeError("from_day", message % said) from error


def _held(*, is_today: bool, is_last: bool) -> str:
    if is_last and is_today:
        return _(
            "%(name)s has checked in for today already, the block’s last day: assign the next "
            "block instead."
        )
    if is_last:
        return _(
            "%(name)s has checked in for %(day)s already, the block’s last day: assign the next "
            "block instead."
        )
    if is_today:
        return _("%(name)s has checked in for today already: let it begin tomorrow, %(begin)s.")
    return _("%(name)s has checked in for %(day)s already: let it begin %(begin)s.")
