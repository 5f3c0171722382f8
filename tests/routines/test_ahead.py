"""The sessions of the days to come, for a phone that will be without signal on them."""

from datetime import date, timedelta

import pytest
from django_scopes import scopes_disabled

from routines.ahead import DAYS_AHEAD, days_ahead, sessions_ahead
from routines.engine.dynamics import parse
from routines.queries import blocks_of, version_on
from routines.sheet import session
from tests import makers

DAY = timedelta(days=1)
MONDAY = date(2026, 3, 2)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def nor():
    return makers.a_student(makers.a_studio())


def ahead(student, day: date = MONDAY):
    blocks = blocks_of(student)
    return sessions_ahead(student, blocks, version_on(blocks[-1], day), day)


def test_one_level_needs_no_second_session(nor):
    makers.a_block(nor, first_day=MONDAY)

    written = ahead(nor)

    assert written["sessions"] == []
    assert list(written["days"].values()) == [None] * (DAYS_AHEAD + 1)


def test_loud_and_soft_by_day_lead_to_the_session_that_the_day_itself_would_have(nor):
    plan = makers.a_plan(nor, dynamics=parse("by-day:f,p"))
    block = makers.a_block(nor, first_day=MONDAY, plan=plan)
    version = version_on(block, MONDAY)

    written = ahead(nor)

    assert len(written["sessions"]) == 1
    for said, place in written["days"].items():
        day = date.fromisoformat(said)
        base = session(nor, version, MONDAY)
        played = base if place is None else written["sessions"][place]
        assert {**base, **played, "day": said} == session(nor, version, day)


def test_a_new_version_and_the_next_block_are_not_promised(nor):
    block = makers.a_block(nor, first_day=MONDAY, length_days=8)
    makers.a_version(block, plan=makers.a_plan(nor, hold=12), from_day=MONDAY + 5 * DAY)
    makers.a_block(nor, first_day=MONDAY + 8 * DAY)
    blocks = blocks_of(nor)

    days = days_ahead(blocks, version_on(blocks[-1], MONDAY), MONDAY)

    assert days == [MONDAY + number * DAY for number in range(5)]
