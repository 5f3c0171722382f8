"""The days to come, for a phone that will open its page on one of them without signal."""

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

from routines.models import Block, BlockVersion
from routines.queries import running, version_on
from routines.sheet import session
from studio.models import Student

DAYS_AHEAD = 14


def days_ahead(blocks: Iterable[Block], version: BlockVersion, day: date) -> list[date]:
    """List the days from `day` on, two weeks at most, that are played under this very version."""
    block, listed = version.block, list(blocks)
    days = [day + timedelta(days=number) for number in range(DAYS_AHEAD + 1)]
    return [
        one
        for one in days
        if running(listed, one) == block and version_on(block, one).pk == version.pk
    ]


def sessions_ahead(
    student: Student, blocks: Iterable[Block], version: BlockVersion, day: date
) -> dict[str, Any]:
    """Write the sessions of the days to come, each different one once and without its day.

    `days` leads from a day to its place in `sessions`, or to None where the session of `today` is
    played again. Zone and end of the day let the phone find out by itself which day it is.
    """
    own = _without_day(student, version, day)
    others: list[dict[str, Any]] = []
    places: dict[str, int | None] = {}
    for one in days_ahead(blocks, version, day):
        played = _without_day(student, version, one)
        if played != own and played not in others:
            others.append(played)
        places[one.isoformat()] = None if played == own else others.index(played)
    return {
        "today": day.isoformat(),
        "zone": student.studio.time_zone,
        "ends": f"{student.studio.day_ends_at:%H:%M}",
        "days": places,
        "sessions": others,
    }


def _without_day(student: Student, version: BlockVersion, day: date) -> dict[str, Any]:
    written = session(student, version, day)
    return {name: value for name, value in written.items() if name != "day"}
