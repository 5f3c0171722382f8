"""Which days a student may check in for, and what a page kept on a phone must know of them."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Any, TypeVar

from django.db.models import QuerySet
from django.utils import timezone

from progress.models import CheckIn, NotToday
from progress.queries.news import standing_check_ins
from routines.models import Block
from routines.queries import running
from studio.models import Grant, Student
from studio.words import GrantState

ONE_DAY = timedelta(days=1)
Told = TypeVar("Told", CheckIn, NotToday)


def first_to_fill(student: Student, told_on: date) -> date:
    """Say which day is the oldest that a student may check in for, when told on a day."""
    return told_on - timedelta(days=student.studio.back_fill_days)


def days_to_fill(
    student: Student, today: date, blocks: Sequence[Block], *, newest: date | None = None
) -> list[date]:
    """List the days a student may check in for, the newest first: today and some days back.

    After midnight the new calendar day is offered as well, as `newest`.
    """
    since = first_to_fill(student, today)
    return _running_days(blocks, newest or today, since)


def days_to_accept(
    student: Student, blocks: Sequence[Block], *, newest: date, told_on: date
) -> list[date]:
    """List the days that a check-in may be for when it arrives, the newest first.

    One that waited on the phone is measured from the day it was told on, not from its arrival.
    """
    since = first_to_fill(student, told_on)
    return _running_days(blocks, newest, since)


def could_be_changed(student: Student, today: date) -> QuerySet[CheckIn]:
    """Ask for the check-ins of the days that a student may still fill in or change."""
    since = first_to_fill(student, today)
    return standing_check_ins().filter(student=student, day__gte=since)


def shown_on(grant: Grant, rows: Iterable[Told]) -> list[Told]:
    """Leave out what a phone may not see: one that nobody has confirmed sees its own alone."""
    own_alone = grant.state == GrantState.PROVISIONAL
    return [row for row in rows if not own_alone or row.grant_id == grant.pk]


def phone_days(
    student: Student, today: date, blocks: Iterable[Block], check_ins: Iterable[CheckIn]
) -> dict[str, Any]:
    """Write what a page needs to find its own day on the phone, also when it is opened later.

    `blocks` are first and last days, `filed` is the time of day of each check-in that could be
    changed, as the studio's clocks show it.
    """
    studio = student.studio
    since = first_to_fill(student, today)
    filed = sorted(
        (row for row in check_ins if row.day >= since), key=lambda row: (row.done_at, row.pk)
    )
    return {
        "today": today.isoformat(),
        "zone": studio.time_zone,
        "ends": f"{studio.day_ends_at:%H:%M}",
        "back": studio.back_fill_days,
        "blocks": [
            [block.first_day.isoformat(), block.last_day.isoformat()]
            for block in blocks
            if block.last_day >= since
        ],
        "filed": {row.day.isoformat(): f"{timezone.localtime(row.done_at):%H:%M}" for row in filed},
    }


def _running_days(blocks: Sequence[Block], newest: date, since: date) -> list[date]:
    days = [newest - number * ONE_DAY for number in range((newest - since).days + 1)]
    return [day for day in days if running(blocks, day) is not None]
