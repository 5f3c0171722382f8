"""What a paper chart shows, and which of its days are still to be entered."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import QuerySet

from progress.engine.check_in import Discomfort, Effort, Rating, Source
from progress.engine.paper import PaperDay, key_of, write
from progress.models import CheckIn
from progress.queries.months import ratings_of
from progress.queries.news import standing_check_ins
from routines.models import Block

MOST_COLUMNS = 16
UNDO_TIME = timedelta(minutes=10)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartDay:
    """One column of the chart: whether it is for playing, and the dynamic where days differ."""

    day: date
    is_due: bool
    dynamic: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EnteredDay:
    """One row of the grid; `line` is what is known already, "" where nothing is."""

    day: date
    is_due: bool
    line: str
    by_teacher: bool


def chart_days(block: Block, dynamic_of: Callable[[int], str]) -> list[list[ChartDay]]:
    """Part the days of a block into bands of about equal length, none too wide for a hand."""
    days = [
        ChartDay(
            day=day,
            is_due=block.month.is_due(day),
            dynamic=dynamic_of(block.month.turn_of(day)),
        )
        for day in _days(block.first_day, block.last_day)
    ]
    bands = -(-len(days) // MOST_COLUMNS)
    width = -(-len(days) // bands)
    return [days[start : start + width] for start in range(0, len(days), width)]


def days_to_enter(block: Block, today: date) -> list[EnteredDay]:
    """List the days of a block until today, each with the check-in that stands, if any."""
    rows = standing_check_ins().filter(student=block.student, day__gte=block.first_day)
    known = {row.day: row for row in rows}
    return [
        EnteredDay(
            day=day,
            is_due=block.month.is_due(day),
            line=line_of(known[day]) if day in known else "",
            by_teacher=day in known and known[day].grant_id is None,
        )
        for day in _days(block.first_day, min(block.last_day, today))
    ]


def days_to_take_back(block: Block, entry: UUID, moment: datetime) -> QuerySet[CheckIn]:
    """Find what an entry added, as long as it can be taken back."""
    keys = [key_of(entry, day) for day in _days(block.first_day, block.last_day)]
    rows: QuerySet[CheckIn] = CheckIn.objects.filter(
        student=block.student,
        key__in=keys,
        source=Source.TEACHER,
        received_at__gt=moment - UNDO_TIME,
        set_aside__isnull=True,
    )
    return rows


def line_of(row: CheckIn) -> str:
    """Write a check-in as a line of the grid."""
    first, second, third, fourth = (None if one is None else Rating(one) for one in ratings_of(row))
    return write(
        PaperDay(
            ratings=(first, second, third, fourth),
            effort=None if row.effort is None else Effort(row.effort),
            discomfort=Discomfort(row.discomfort or Discomfort.NONE),
        )
    )


def _days(first: date, last: date) -> Iterator[date]:
    for number in range((last - first).days + 1):
        yield first + timedelta(days=number)
