"""What reaches a day: the versions of blocks that may be played from it on, or have begun by it.

Phones ask this with every check-in.
"""

from datetime import date, timedelta
from typing import Any

from django.db.models import BigIntegerField, DateField, Q, QuerySet

from routines.engine.plan import LENGTH_LIMITS
from routines.models import Block, BlockVersion
from studio.models import Student
from studio.prepared import Prepared

# Blocks that are longer than a month of the calendar, and those that pauses made longer, are few.
USUAL_LENGTH_DAYS = 31
USUAL_EXTRA_DAYS = 62
# The most its column holds on PostgreSQL; no pause is as long.
MOST_EXTRA_DAYS = 32_767
# What settles which days a block has.
DAYS_OF_A_BLOCK = ("first_day", "length_days", "extra_days", "ended_on")


def may_reach(since: date) -> Q:
    """Ask for versions of blocks that may have a day from this one on.

    A block's last day is worked out and stands in no column. So none is left out that has such a
    day, and some are found that have not.
    """
    return _may_reach(**_days(since))


def versions_reaching(student: Student, since: date) -> list[BlockVersion]:
    """List the versions of a student's blocks that `may_reach` finds, each with its block."""
    return _REACHING.rows(student=student.pk, **_days(since))


def versions_begun(block: Block, day: date) -> list[tuple[Any, ...]]:
    """List a block's versions made for a day or before: from which day, number, days of the block.

    What it says of the block are the columns of DAYS_OF_A_BLOCK, as they stand now.
    """
    return _BEGUN.rows(block=block.pk, day=day)


def _days(since: date) -> dict[str, date]:
    usual = _before(since, USUAL_LENGTH_DAYS)
    longest = _before(since, LENGTH_LIMITS[1] + USUAL_EXTRA_DAYS)
    return {"since": since, "usual": usual, "longest": longest, "ever": date.max}


def _before(day: date, days: int) -> date:
    """Give the day so many days before, or the first that can be written: any year may be typed."""
    return day - timedelta(days=min(days, (day - date.min).days))


def _may_reach(*, since: Any, usual: Any, longest: Any, ever: Any) -> Q:
    """Ask for blocks between two days, of which the later is the last there is.

    Of blocks from a day on, without another, PostgreSQL supposes many for whatever day is given,
    and so makes a plan of its own for each: that took four times as long as to find the rows.
    """
    lasts = Q(block__ended_on__isnull=True) | Q(block__ended_on__gte=since)
    long = Q(block__length_days__gt=USUAL_LENGTH_DAYS) | Q(block__extra_days__gt=0)
    return lasts & (
        Q(block__first_day__gt=usual, block__first_day__lte=ever)
        | Q(long, block__first_day__gt=longest, block__first_day__lte=ever)
        | Q(block__extra_days__gt=USUAL_EXTRA_DAYS, block__extra_days__lte=MOST_EXTRA_DAYS)
    )


def _reaching(*, student: Any, **days: Any) -> QuerySet[BlockVersion]:
    rows: QuerySet[BlockVersion] = BlockVersion.objects.filter(block__student=student)
    return rows.filter(_may_reach(**days)).select_related("block")


def _begun(*, block: Any, day: Any) -> QuerySet[BlockVersion, tuple[Any, ...]]:
    begun = BlockVersion.objects.filter(block_id=block, from_day__lte=day)
    return begun.values_list("from_day", "pk", *(f"block__{name}" for name in DAYS_OF_A_BLOCK))


_DAYS = {name: DateField() for name in ("since", "usual", "longest", "ever")}
_REACHING = Prepared(_reaching, student=BigIntegerField(), **_DAYS)
_BEGUN = Prepared(_begun, block=BigIntegerField(), day=DateField())
