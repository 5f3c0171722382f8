"""What is read to put a check-in on the day it was meant for."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.db.models import Q

from progress.models import CheckIn, SetAside
from progress.queries.news import standing_check_ins
from routines.queries import blocks_of, running
from studio.models import Student

# As far as a student may fill in days afterwards by default.
DAYS_AROUND = 7


def set_aside_of(check_in: CheckIn) -> SetAside | None:
    """Find how a check-in was moved or taken out, asked from either of its two rows."""
    found: SetAside | None = (
        SetAside.objects.filter(Q(check_in=check_in) | Q(moved_to=check_in))
        .select_related("check_in__student", "moved_to", "by")
        .first()
    )
    return found


def set_asides(student: Student) -> Sequence[SetAside]:
    """List what was moved or taken out for a student, the latest day first."""
    rows = SetAside.objects.filter(check_in__student=student)
    return list(rows.select_related("check_in", "moved_to", "by").order_by("-check_in__day", "pk"))


def days_to_move(check_in: CheckIn, today: date) -> list[date]:
    """List the days a check-in can be moved to: near its own, played already, and still free.

    A day needs a block on the same instrument, for which the notes were told.
    """
    around = range(-DAYS_AROUND, DAYS_AROUND + 1)
    near = [check_in.day + timedelta(days=number) for number in around]
    blocks = blocks_of(check_in.student)
    taken = set(
        standing_check_ins()
        .filter(student=check_in.student, day__in=near)
        .values_list("day", flat=True)
    )
    return [
        day
        for day in near
        if day <= today
        and day not in taken
        and day != check_in.day
        and (block := running(blocks, day)) is not None
        and block.instrument == check_in.block.instrument
    ]
