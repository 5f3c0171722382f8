"""Writes what a student kept on paper, as the teacher types it in."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction

from progress.engine.check_in import Discomfort, Source
from progress.engine.paper import PaperDay, key_of
from progress.models import RATINGS, CheckIn
from progress.queries.news import standing_check_ins
from progress.queries.paper import days_to_take_back
from progress.services.check_ins import tell_if_it_hurt
from routines.models import Block
from routines.queries import version_on
from studio.models import Discomfort as Told
from studio.services.locks import lock_students
from studio.words import day_in_words

HOURS_INTO_DAY = timedelta(hours=14)


class PaperEntryError(ValueError):
    """An entry that cannot be kept; the message says which day and what to do."""


def enter_paper(
    block: Block,
    days: Mapping[date, PaperDay],
    *,
    key: UUID,
    day_by_day: bool,
    moment: datetime,
) -> int:
    """Keep the days of a paper chart, all or none, and say how many are new.

    `day_by_day`: the student wrote each day on that day, so it counts as filed then; else it was
    filed when it is entered, and what is late counts as practice only. The same key again changes
    nothing. A day that has a check-in already raises PaperEntryError.
    """
    keys = {day: key_of(key, day) for day in days}
    with transaction.atomic():
        lock_students([block.student_id])
        here = set(
            CheckIn.objects.filter(student=block.student, key__in=keys.values()).values_list(
                "key", flat=True
            )
        )
        new = {day: asked for day, asked in days.items() if keys[day] not in here}
        _refuse_taken(block, new)
        for day, asked in sorted(new.items()):
            filed = _evening(block, day) if day_by_day else moment
            _file(block, day, asked, key=keys[day], done_at=min(filed, moment), moment=moment)
    return len(new)


def undo_paper(block: Block, *, key: UUID, moment: datetime) -> int:
    """Take an entry back within ten minutes, with what hurt unless it was closed; say how many."""
    with transaction.atomic():
        lock_students([block.student_id])
        rows = days_to_take_back(block, key, moment)
        taken_back = list(rows.values_list("key", flat=True))
        told = Told.objects.filter(student=block.student, key__in=taken_back)
        told.filter(closed_at__isnull=True).delete()
        rows.delete()
    return len(taken_back)


def _file(
    block: Block, day: date, asked: PaperDay, *, key: UUID, done_at: datetime, moment: datetime
) -> None:
    row = CheckIn.objects.create(
        student=block.student,
        block=block,
        version=version_on(block, day),
        key=key,
        source=Source.TEACHER,
        day=day,
        done_at=done_at,
        received_at=moment,
        effort=asked.effort,
        discomfort=asked.discomfort,
        **dict(zip(RATINGS, asked.ratings, strict=True)),
    )
    if asked.discomfort is not Discomfort.NONE:
        tell_if_it_hurt(row)


def _refuse_taken(block: Block, days: Mapping[date, PaperDay]) -> None:
    taken = standing_check_ins().filter(student=block.student, day__in=days).first()
    if taken is not None:
        message = (
            f"{day_in_words(taken.day)} has a check-in by now: nothing was added. "
            "Look at that day again, and add the others."
        )
        raise PaperEntryError(message)


def _evening(block: Block, day: date) -> datetime:
    """Choose an hour inside a practice day, wherever the studio's day ends."""
    studio = block.student.studio
    return datetime.combine(day, studio.day_ends_at, ZoneInfo(studio.time_zone)) + HOURS_INTO_DAY
