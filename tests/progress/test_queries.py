"""What is known of a month: the standing rows, the block to show, and who to look in on."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django_scopes import scope

from progress.engine.attention import Code
from progress.engine.check_in import NoSession
from progress.queries.days import days_to_fill
from progress.queries.kept_months import kept_months
from progress.queries.months import student_month, studio_months
from routines.queries import blocks_of
from studio.models import Student
from studio.services import people
from studio.words import GrantState
from tests import makers

TODAY = date(2026, 11, 25)
DAY = timedelta(days=1)
EVENING = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)


@pytest.fixture
def studio(db):
    studio = makers.a_studio()
    with scope(studio=studio):
        yield studio


@pytest.fixture
def nor(studio):
    return makers.a_student(studio)


def month_of(student):
    return student_month(student, TODAY)


def test_the_latest_answer_of_a_day_stands_and_the_others_are_kept_beside_it(nor):
    block = makers.a_block(nor, first_day=TODAY)
    rows = [
        makers.a_check_in(nor, block=block, day=TODAY, done_at=EVENING + n * timedelta(minutes=5))
        for n in range(3)
    ]

    month = month_of(nor)

    assert month.check_ins == {TODAY: rows[2]}
    assert month.revisions == {TODAY: [rows[1], rows[0]]}


def test_a_revision_that_arrives_late_does_not_replace_a_later_one(nor):
    block = makers.a_block(nor, first_day=TODAY)
    later = makers.a_check_in(nor, block=block, day=TODAY, done_at=EVENING)
    makers.a_check_in(
        nor, block=block, day=TODAY, done_at=EVENING - timedelta(hours=1),
        received_at=EVENING + timedelta(hours=9),
    )  # fmt: skip

    assert month_of(nor).check_ins == {TODAY: later}


def test_what_a_refused_phone_filed_is_set_aside(nor):
    block = makers.a_block(nor, first_day=TODAY - DAY)
    refused = makers.a_grant(nor, state=GrantState.REFUSED).grant
    makers.a_check_in(nor, block=block, day=TODAY, grant=refused)
    on_paper = makers.a_check_in(nor, block=block, day=TODAY - DAY, grant=None)

    assert month_of(nor).check_ins == {TODAY - DAY: on_paper}


@pytest.mark.parametrize(
    ("begins", "shown"), [((-40, 0), 0), ((-40, 5), -40), ((5,), 5), ((-80, -40), -40)]
)
def test_the_running_block_is_shown_else_the_one_before_else_the_next(nor, begins, shown):
    for days in begins:
        makers.a_block(nor, first_day=TODAY + days * DAY)

    block = month_of(nor).block

    assert block is not None
    assert block.first_day == TODAY + shown * DAY


def test_a_student_without_a_block_has_an_empty_month(nor):
    month = month_of(nor)

    assert (month.block, month.version, month.weeks, month.reasons) == (None, None, 0, ())
    assert (month.is_running, month.is_ending) == (False, False)


@pytest.mark.parametrize(("left", "ending"), [(-1, True), (0, True), (6, True), (7, False)])
def test_a_month_that_ends_within_the_week_or_has_ended_is_listed(nor, left, ending):
    makers.a_block(nor, first_day=TODAY + (left - 27) * DAY)

    assert month_of(nor).is_ending is ending


def test_a_month_with_another_to_follow_is_not_listed_as_ending(nor):
    makers.a_block(nor, first_day=TODAY - 25 * DAY)
    makers.a_block(nor, first_day=TODAY + 3 * DAY)

    assert month_of(nor).is_ending is False


@pytest.mark.parametrize(("began", "week"), [(0, 1), (6, 1), (7, 2), (27, 4), (60, 4)])
def test_weeks_are_counted_from_the_first_day(nor, began, week):
    makers.a_block(nor, first_day=TODAY - began * DAY)

    month = month_of(nor)

    assert (month.week, month.weeks) == (week, 4)


@pytest.mark.parametrize(("length", "weeks"), [(7, 1), (8, 2), (28, 4), (29, 5), (62, 9)])
def test_a_part_of_a_week_counts_as_one(nor, length, weeks):
    makers.a_block(nor, first_day=TODAY, length_days=length)

    assert month_of(nor).weeks == weeks


def test_seven_days_without_news_are_a_reason_to_look_in(nor):
    block = makers.a_block(nor, first_day=TODAY - 20 * DAY)
    makers.a_check_in(nor, block=block, day=TODAY - 7 * DAY)

    assert [(one.code, one.figure) for one in month_of(nor).reasons] == [(Code.QUIET, 7)]


def test_saying_why_there_was_no_session_is_news(nor):
    makers.a_block(nor, first_day=TODAY - 20 * DAY)
    makers.a_not_today(nor, day=TODAY - 2 * DAY, reason=NoSession.NO_TIME)

    assert month_of(nor).reasons == ()


def test_what_hurt_is_a_reason_until_a_teacher_closes_it(nor):
    makers.a_discomfort(nor, day=TODAY - 3 * DAY, closed_at=EVENING)
    before = month_of(nor).reasons
    makers.a_discomfort(nor, day=TODAY - DAY)

    after = month_of(nor).reasons

    assert (before, [(one.code, one.figure) for one in after]) == ((), [(Code.HURT, 1)])


@pytest.mark.parametrize("back", [0, 7, 14])
def test_a_student_may_fill_in_as_many_days_back_as_the_studio_allows(studio, nor, back):
    people.change_studio(studio, back_fill_days=back)
    makers.a_block(nor, first_day=TODAY - 20 * DAY)

    assert days_to_fill(nor, TODAY, blocks_of(nor)) == [
        TODAY - number * DAY for number in range(back + 1)
    ]


def test_only_days_of_a_block_can_be_filled_in(nor):
    makers.a_block(nor, first_day=TODAY - 2 * DAY)

    assert days_to_fill(nor, TODAY, blocks_of(nor)) == [TODAY, TODAY - DAY, TODAY - 2 * DAY]


def test_days_of_the_block_before_can_still_be_filled_in(nor):
    makers.a_block(nor, first_day=TODAY - 29 * DAY)

    assert days_to_fill(nor, TODAY, blocks_of(nor)) == [
        TODAY - number * DAY for number in range(2, 8)
    ]


def test_a_studios_months_are_those_of_its_students_one_by_one(studio, nor):
    sam = makers.a_student(studio, name="Sam")
    for student in (nor, sam):
        block = makers.a_block(student, first_day=TODAY - 9 * DAY)
        makers.a_check_in(student, block=block, day=TODAY - DAY)
    makers.a_discomfort(sam)

    together = studio_months(Student.objects.order_by("name"), TODAY)

    assert together == [month_of(nor), month_of(sam)]


@pytest.mark.parametrize("months_of", [studio_months, kept_months])
def test_a_pause_that_is_over_before_a_block_begins_is_known_while_it_lasts(nor, months_of):
    makers.a_block(nor, first_day=TODAY + 10 * DAY)
    away = makers.an_interruption(nor, first_day=TODAY - DAY, last_day=TODAY + 3 * DAY)

    (month,) = months_of(Student.objects.all(), TODAY)

    assert month.open_interruptions == [away]
