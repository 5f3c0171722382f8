"""A student's blocks as iCalendar (RFC 5545): the planned days, and the day each month ends.

Conventions: all-day events in the practice days of the studio. A version of a block is one
repeating event on the weekdays that are for playing; days of a confirmed pause are taken out.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta

from django.utils.translation import gettext_lazy as _
from icalendar import Calendar, Event

from routines.engine.pauses import Pause
from routines.models import Block, BlockVersion
from studio.models import Student

PRODUCER = "-//Filar//Blocks//EN"
DAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
A_DAY = timedelta(days=1)


def write(
    student: Student, blocks: Iterable[Block], pauses: Sequence[Pause], *, moment: datetime
) -> bytes:
    """Write every block with its `version_rows`; `moment` is when the file is made."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCER)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", _("Long tones: %(name)s") % {"name": student.name})
    for block in sorted(blocks, key=lambda row: row.first_day):
        for event in (*_planned(block, pauses), _end(block)):
            event.add("dtstamp", moment)
            event.add("transp", "TRANSPARENT")
            calendar.add_component(event)
    written: bytes = calendar.to_ical()
    return written


def _planned(block: Block, pauses: Sequence[Pause]) -> Iterator[Event]:
    versions: Sequence[BlockVersion] = block.version_rows  # type: ignore[attr-defined]
    ends = [version.from_day - A_DAY for version in versions[1:]] + [block.last_day]
    for version, last in zip(versions, ends, strict=True):
        days = [
            day
            for day in _days(max(version.from_day, block.first_day), min(last, block.last_day))
            if block.month.is_due(day)
        ]
        left_out = [day for day in days if any(day in pause for pause in pauses)]
        if len(left_out) < len(days):
            yield _repeating(block, version, days, left_out)


def _repeating(
    block: Block, version: BlockVersion, days: Sequence[date], left_out: Sequence[date]
) -> Event:
    event = Event()
    event.add("uid", f"{block.public_id}-{version.from_day:%Y%m%d}@filar")
    event.add(
        "summary",
        _("Long tones: Hold %(hold)s · Rest %(rest)s")
        % {"hold": version.hold, "rest": version.rest},
    )
    event.add("dtstart", days[0])
    event.add("dtend", days[0] + A_DAY)
    weekdays = sorted({day.weekday() for day in days})
    event.add(
        "rrule", {"freq": "weekly", "byday": [DAYS[day] for day in weekdays], "until": days[-1]}
    )
    for day in left_out:
        event.add("exdate", day, parameters={"VALUE": "DATE"})
    return event


def _end(block: Block) -> Event:
    event = Event()
    event.add("uid", f"{block.public_id}-end@filar")
    event.add("summary", _("Long tones: the month ends"))
    event.add("dtstart", block.last_day)
    event.add("dtend", block.last_day + A_DAY)
    return event


def _days(first: date, last: date) -> Iterator[date]:
    for number in range((last - first).days + 1):
        yield first + timedelta(days=number)
