"""Planned days and month ends as iCalendar (RFC 5545), read by vobject and dateutil.

Both are programs of other people; the file itself is written with icalendar.
"""

from datetime import date, timedelta

import pytest
import vobject
from django.utils import timezone
from django_scopes import scopes_disabled

from routines.engine import instruments
from routines.exports import calendar
from routines.queries import blocks_of, pauses_of
from routines.services.pauses import add_interruption
from studio.words import InterruptionKind
from tests import makers

pytestmark = pytest.mark.django_db
MONDAY = date(2026, 3, 2)


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def nor():
    return makers.a_student(makers.studio_of(makers.a_teacher()))


def events_of(student):
    written = calendar.write(student, blocks_of(student), pauses_of(student), moment=timezone.now())
    return list(vobject.readOne(written.decode()).vevent_list)


def planned(student) -> list[tuple[date, str]]:
    """Every day that a calendar shows, by the rules of dateutil."""
    found = []
    for event in events_of(student):
        if event.getrruleset() is not None:
            found += [(day.date(), event.summary.value) for day in event.getrruleset()]
    return sorted(found)


def test_the_planned_days_are_the_due_days(nor):
    block = makers.a_block(nor, first_day=MONDAY, weekdays_off=[2, 6])

    assert [day for day, _ in planned(nor)] == list(block.month.due_days())


def test_a_change_from_a_day_on_says_what_is_asked_then(nor):
    block = makers.a_block(nor, first_day=MONDAY)
    changed = MONDAY + timedelta(days=10)
    makers.a_version(block, plan=makers.a_plan(nor, hold=10), from_day=changed)

    for day, said in planned(nor):
        hold = 10 if day >= changed else 8
        assert said == f"Long tones: Hold {hold} · Rest 8"
    assert [day for day, _ in planned(nor)] == list(block.month.due_days())


def test_days_away_are_taken_out_and_the_end_moves(nor):
    makers.a_block(nor, first_day=MONDAY)
    away = [MONDAY + timedelta(days=number) for number in range(7, 12)]
    add_interruption(
        nor,
        kind=InterruptionKind.AWAY,
        first_day=away[0],
        last_day=away[-1],
        note="",
        moment=timezone.now(),
    )

    (end,) = [event for event in events_of(nor) if "ends" in event.summary.value]
    assert end.dtstart.value == MONDAY + timedelta(days=27 + 5)
    days = [day for day, _ in planned(nor)]
    assert not set(days) & set(away)
    assert max(days) <= end.dtstart.value


def test_without_a_block_the_calendar_is_empty_and_valid(nor):
    written = calendar.write(nor, [], [], moment=timezone.now())

    assert b"END:VCALENDAR" in written
    assert b"VEVENT" not in written


def test_every_event_has_a_name_of_its_own_that_stays(nor):
    makers.a_block(nor, first_day=MONDAY)
    makers.a_block(nor, first_day=MONDAY + timedelta(days=28))

    first, again = (
        [event.uid.value for event in events_of(nor)],
        [event.uid.value for event in events_of(nor)],
    )
    assert first == again
    assert len(set(first)) == len(first) == 4


@pytest.mark.parametrize("player", instruments.INSTRUMENTS, ids=lambda player: player.id)
def test_every_instrument_has_its_days(player):
    student = makers.a_student(
        makers.studio_of(makers.a_teacher()), name='Łukasz; "Zoë", \\n', instrument=player.id
    )
    block = makers.a_block(student, first_day=MONDAY)

    assert len(planned(student)) == len(block.month.due_days()) == 24
