"""Which practice day it is, against a reckoning of its own, in every zone there is.

The outside source is the IANA time zone database, read with zoneinfo. The reckoning here adds the
offset of the zone to the moment in UTC and compares the time of day with the day's end; the rule
under test moves the clock of the zone back. Every change of clocks of 2026 is found by halving.
"""

import functools
import json
from datetime import UTC, date, datetime, time, timedelta
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.access import practice_day
from tests import tree

SECOND = timedelta(seconds=1)
FOUR = time(4)
# What no clock on a wall shows: the source files themselves, and a zone without a place.
ZONES = sorted(available_timezones() - {"localtime", "posixrules", "Factory"})
YEARS = (datetime(2020, 1, 1, tzinfo=UTC), datetime(2035, 12, 31, tzinfo=UTC))
SPAN = int((YEARS[1] - YEARS[0]).total_seconds())


def reckoned(moment: datetime, zone: str, ends: time) -> date:
    offset = moment.astimezone(ZoneInfo(zone)).utcoffset()
    assert offset is not None
    wall = (moment + offset).replace(tzinfo=None)
    return wall.date() if wall.time() >= ends else wall.date() - timedelta(days=1)


def ruled(moment: datetime, zone: str, ends: time = FOUR) -> date:
    studio: Any = SimpleNamespace(time_zone=zone, day_ends_at=ends)
    return practice_day(studio, moment)


def offset_of(zone: str, moment: datetime) -> timedelta | None:
    return moment.astimezone(ZoneInfo(zone)).utcoffset()


@functools.cache
def changes_of_2026() -> list[tuple[str, datetime]]:
    """Find the first second after each change of clocks, as (zone, moment)."""
    found = []
    first = datetime(2026, 1, 1, tzinfo=UTC)
    for zone in ZONES:
        for number in range(365):
            before, after = first + timedelta(days=number), first + timedelta(days=number + 1)
            if offset_of(zone, before) != offset_of(zone, after):
                found.append((zone, _halved(zone, before, after)))
    return found


def _halved(zone: str, before: datetime, after: datetime) -> datetime:
    while after - before > SECOND:
        middle = before + timedelta(seconds=(after - before).total_seconds() // 2)
        if offset_of(zone, middle) == offset_of(zone, before):
            before = middle
        else:
            after = middle
    return after


def wrong(cases: list[tuple[str, datetime, time]]) -> list[tuple[str, datetime, time]]:
    return [
        (zone, moment, ends)
        for zone, moment, ends in cases
        if ruled(moment, zone, ends) != reckoned(moment, zone, ends)
    ]


@pytest.mark.battery
def test_five_thousand_moments_in_all_zones_are_reckoned_alike(figures):
    # A step that shares no factor with the span visits it evenly, the same on every run.
    cases = [
        (ZONES[number % len(ZONES)], YEARS[0] + timedelta(seconds=number * 98_561 % SPAN), ends)
        for number in range(1700)
        for ends in (time(0), FOUR, time(5, 30))
    ]

    assert wrong(cases) == []
    assert len(cases) >= 5000
    figures.append(f"day rule: {len(cases)} moments in {len(ZONES)} zones, 0 differ")


@pytest.mark.battery
def test_every_change_of_clocks_of_2026_is_reckoned_alike_to_the_second(figures):
    changes = changes_of_2026()
    cases = [
        (zone, moment + number * SECOND, ends)
        for zone, moment in changes
        for number in (-1, 0, 1)
        for ends in (time(0), FOUR, time(1, 30), time(2, 30))
    ]

    assert wrong(cases) == []
    assert len(changes) > 200
    figures.append(f"day rule: {len(changes)} changes of clocks in 2026, 0 differ")


def test_at_a_day_end_of_four_no_change_of_2026_makes_a_day_twice_or_leaves_one_out():
    for zone, moment in changes_of_2026():
        before, after = ruled(moment - SECOND, zone), ruled(moment, zone)

        assert timedelta(0) <= after - before <= timedelta(days=1), (zone, moment)


def test_the_file_that_the_phone_is_checked_by_is_reckoned_and_ruled_alike():
    cases = json.loads((tree.TOP / "tests/data/practice_days.json").read_text())["cases"]

    for said, zone, ends, day in cases:
        moment = datetime.fromisoformat(said)
        assert reckoned(moment, zone, time.fromisoformat(ends)).isoformat() == day
        assert ruled(moment, zone, time.fromisoformat(ends)).isoformat() == day
    assert len(cases) == 1000


@pytest.mark.battery
@given(
    seconds=st.integers(min_value=0, max_value=SPAN),
    zone=st.sampled_from(ZONES),
    minutes=st.integers(min_value=0, max_value=360),
)
def test_any_moment_anywhere_is_reckoned_alike(seconds, zone, minutes):
    moment = YEARS[0] + timedelta(seconds=seconds)
    ends = time(minutes // 60, minutes % 60)

    assert ruled(moment, zone, ends) == reckoned(moment, zone, ends)


@pytest.mark.parametrize(
    ("said", "day"),
    [
        ("2026-03-03T03:59:59", date(2026, 3, 2)),
        ("2026-03-03T04:00:00", date(2026, 3, 3)),
        ("2026-03-04T00:30:00", date(2026, 3, 3)),
        ("2027-01-01T00:30:00", date(2026, 12, 31)),
        ("2028-03-01T03:00:00", date(2028, 2, 29)),
    ],
)
def test_a_day_goes_on_until_four_in_the_morning(said, day):
    moment = datetime.fromisoformat(said).replace(tzinfo=ZoneInfo("Europe/Oslo"))

    assert ruled(moment.astimezone(UTC), "Europe/Oslo") == day
