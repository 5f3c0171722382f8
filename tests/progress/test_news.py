"""What each student told is read from a day of its own on."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django_scopes import scope, scopes_disabled

from progress.queries.news import news_by_student, news_of
from tests import makers

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TODAY = date(2026, 11, 20)


@pytest.fixture
def studio():
    """Five students who practised daily for two years."""
    studio = makers.a_studio()
    for number in range(5):
        student = makers.a_student(studio, name=f"Nor {number}")
        block = makers.a_block(student, first_day=TODAY - 700 * DAY)
        with scopes_disabled():
            for back in range(0, 700, 7):
                makers.a_check_in(student, block=block, day=TODAY - back * DAY)
    return studio


def test_nobody_s_long_ago_makes_everybody_s_be_read(studio):
    with scope(studio=studio):
        students = list(studio.student_set.order_by("pk").values_list("pk", flat=True))
        ages = dict(zip(students, (10, 20, 45, 90, 690), strict=True))
        since = {number: TODAY - age * DAY for number, age in ages.items()}

        read = news_of(since, TODAY, hurts_since=TODAY)["check_ins"].count()
        found = news_by_student(since, TODAY, hurts_since=TODAY)

    for number, age in ages.items():
        days = {row.day for row in found[number].check_ins}
        wanted = {TODAY - back * DAY for back in range(0, age + 1, 7)}
        assert wanted <= days
    # Each in a part of its own; the count is that of every seventh day.
    assert read == 2 + 3 + 7 + 13 + 99


@pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite says how it looks for rows")
def test_nobody_s_days_are_looked_through_from_the_first_on(studio):
    with scope(studio=studio), connection.cursor() as cursor:
        cursor.execute("ANALYZE")
        students = list(studio.student_set.order_by("pk").values_list("pk", flat=True))
        ages = dict(zip(students, (10, 20, 45, 90, 190), strict=True))
        since = {number: TODAY - age * DAY for number, age in ages.items()}

        steps = news_of(since, TODAY, hurts_since=TODAY)["check_ins"].explain()

    found = [step for step in steps.splitlines() if "SEARCH progress_checkin" in step]
    assert found
    assert [step for step in found if "day>?" not in step] == []


@pytest.mark.parametrize("ahead", [1, 40])
def test_who_has_yet_to_begin_is_read_too(studio, ahead):
    with scope(studio=studio):
        first, *others = studio.student_set.order_by("pk")
        since = {first.pk: TODAY + ahead * DAY} | {row.pk: TODAY - 3 * DAY for row in others}

        found = news_by_student(since, TODAY, hurts_since=TODAY)

    assert set(found) == set(since)
    assert all(found[row.pk].check_ins for row in others)


def test_without_students_nothing_is_asked_for(studio):
    with scope(studio=studio):
        assert news_by_student({}, TODAY, hurts_since=TODAY) == {}
        assert not news_of({}, TODAY, hurts_since=TODAY)["check_ins"].exists()
