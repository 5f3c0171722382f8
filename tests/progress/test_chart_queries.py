"""What the charts are drawn from: the version of each day and check-in, and the means of blocks."""

from dataclasses import replace
from datetime import date, timedelta

import pandas as pd
import pytest
from django_scopes import scope, scopes_disabled

from progress.engine.readiness import assess_as_of
from progress.models import RATINGS, CheckIn, LessonRating
from progress.queries.charts import block_means, charted
from progress.queries.evidence import evidence_of
from progress.queries.months import student_month
from routines.queries import blocks_of
from studio.words import GrantState
from tests import makers

TODAY = date(2026, 11, 25)  # a Wednesday
FIRST = TODAY - timedelta(days=16)  # a Monday
DAY = timedelta(days=1)
# The trumpet's walk G4 down to F#3, again G4 up to G5: 27 notes; held 8 at 60, 216 s; 12, 324 s.
EIGHT, TWELVE = 216.0, 324.0


@pytest.fixture
def studio(db):
    studio = makers.a_studio()
    with scope(studio=studio):
        yield studio


@pytest.fixture
def nor(studio):
    return makers.a_student(studio)


@pytest.fixture
def closed(nor):
    """A plan with a top note, so that a session has one length."""
    return makers.a_plan(nor, top_note=79)


@pytest.fixture
def block(nor, closed):
    """A block that began 16 days ago and asks for holds of 12 counts from its eighth day on."""
    block = makers.a_block(nor, first_day=FIRST, plan=closed)
    makers.a_version(block, plan=replace(closed, hold=12), from_day=FIRST + 7 * DAY)
    return block


def drawn(student, day, block=None):
    found = charted(student, day, block)
    assert found is not None
    return found


def check_ins_of(found):
    assert found.evidence is not None
    return found.evidence.check_ins


def a_lesson(block, day, *ratings):
    with scopes_disabled():
        return LessonRating.objects.create(
            student=block.student, block=block, day=day, filed_on=day,
            **dict(zip(RATINGS, ratings, strict=True)),
        )  # fmt: skip


def test_a_days_asking_is_that_of_its_version_and_sundays_are_off(nor, block):
    asked = drawn(nor, TODAY).asked

    assert len(asked) == 18
    assert FIRST + 6 * DAY not in asked
    assert asked[FIRST + 5 * DAY] == EIGHT
    assert asked[FIRST + 7 * DAY] == TWELVE


def test_a_week_that_runs_is_asked_for_as_a_whole_and_later_ones_are_not(nor, block):
    assert max(drawn(nor, TODAY).asked) == FIRST + 19 * DAY


def test_days_of_a_confirmed_pause_are_not_asked_for(nor, block):
    makers.an_interruption(
        nor, first_day=FIRST + DAY, last_day=FIRST + 3 * DAY, confirmed_at=block.made_at
    )

    asked = drawn(nor, TODAY).asked

    assert [day for day in asked if day < FIRST + 7 * DAY] == [
        FIRST,
        FIRST + 4 * DAY,
        FIRST + 5 * DAY,
    ]


def test_a_check_in_keeps_the_version_it_was_played_under(nor, block, closed):
    day = FIRST + 2 * DAY
    makers.a_check_in(nor, block=block, day=day)
    # Written after the practice: the day's asking changes, what was played does not.
    makers.a_version(block, plan=replace(closed, hold=10), from_day=day)

    found = drawn(nor, TODAY)

    assert [row.planned for row in check_ins_of(found)] == [EIGHT]
    assert found.asked[day] == 270.0


def test_a_new_version_is_a_change_with_its_date_and_what_changed(nor, block):
    (change,) = drawn(nor, TODAY).changes

    assert (change.day, change.hold, change.variables) == (FIRST + 7 * DAY, 12, ("hold",))


def test_a_version_that_changes_nothing_or_is_still_to_come_is_no_change(nor, closed):
    block = makers.a_block(nor, first_day=FIRST, plan=closed)
    makers.a_version(block, plan=closed, from_day=FIRST + 3 * DAY)
    makers.a_version(block, plan=replace(closed, rest=4), from_day=TODAY + DAY)

    assert drawn(nor, TODAY).changes == ()


def test_the_line_ends_where_the_page_says_it_stands(nor, block):
    for number in range(16):
        makers.a_check_in(nor, block=block, day=FIRST + number * DAY, sound=3 + number % 2)
    a_lesson(block, FIRST + 9 * DAY, 3, 4, 3, 4)

    found = drawn(nor, TODAY)

    evidence = evidence_of(student_month(nor, TODAY))
    assert evidence is not None
    page = assess_as_of(evidence, TODAY)
    assert found.trace[-1].criteria == page.criteria
    assert found.trace[-1].is_readable


def test_high_notes_carry_what_their_version_asked_for(nor, block, closed):
    makers.a_check_in(nor, block=block, day=FIRST, high_note=77)
    makers.a_version(block, plan=replace(closed, top_note=None), from_day=FIRST + 3 * DAY)
    makers.a_check_in(nor, block=block, day=FIRST + 4 * DAY, high_note=80)
    makers.a_check_in(nor, block=block, day=FIRST + 5 * DAY)

    highs = drawn(nor, TODAY).highs

    assert [(high.note, high.asked) for high in highs] == [(77, 79), (80, None)]


def test_an_older_block_is_drawn_to_its_own_last_day(nor, closed):
    old = makers.a_block(nor, first_day=FIRST - 28 * DAY, plan=closed)
    makers.a_block(nor, first_day=FIRST, plan=closed)
    makers.a_check_in(nor, block=old, day=old.first_day)

    found = drawn(nor, TODAY, old)

    assert found.last_day == old.last_day
    assert [row.day for row in check_ins_of(found)] == [old.first_day]


def test_without_a_block_or_before_its_first_day_there_is_nothing(nor, closed):
    assert charted(nor, TODAY) is None

    makers.a_block(nor, first_day=TODAY + DAY, plan=closed)
    found = drawn(nor, TODAY)

    assert (found.evidence, list(found.trace), found.asked) == (None, [], {})


def test_the_means_and_counts_of_blocks_are_those_of_pandas(nor, closed):
    for number in range(4):
        block = makers.a_block(nor, first_day=FIRST - 28 * number * DAY, plan=closed)
        for day in range(0, 15, 1 + number):
            makers.a_check_in(
                nor, block=block, day=block.first_day + day * DAY,
                attack=1 + (day + number) % 5, sound=None if day % 3 else 4,
            )  # fmt: skip
        a_lesson(block, block.first_day + 8 * DAY, 2 + number % 3, 3, 4, None)
    frame = pd.DataFrame(CheckIn.objects.values("block_id", *RATINGS)).astype(float)
    grouped = frame.groupby("block_id")[list(RATINGS)]

    means = block_means(nor, blocks_of(nor), TODAY)

    assert [row.block.first_day for row in means] == sorted(row.block.first_day for row in means)
    for row in means:
        mean, count = grouped.mean().loc[row.block.pk], grouped.count().loc[row.block.pk]
        assert [one.value for one in row.own] == pytest.approx(list(mean))
        assert [one.count for one in row.own] == list(count)
    assert [row.heard[0].value for row in means] == [2, 4, 3, 2]
    assert [row.heard[3].count for row in means] == [0, 0, 0, 0]


def test_a_revised_day_counts_once_and_a_refused_phone_not_at_all(nor, block):
    refused = makers.a_grant(nor, state=GrantState.REFUSED).grant
    makers.a_check_in(nor, block=block, day=FIRST, attack=1)
    latest = makers.a_check_in(nor, block=block, day=FIRST, attack=5)
    makers.a_check_in(nor, block=block, day=FIRST + DAY, attack=1, grant=refused)

    (row,) = block_means(nor, blocks_of(nor), TODAY)

    assert latest.pk
    assert (row.check_ins, row.own[0].value, row.own[0].count) == (1, 5, 1)


def test_a_block_that_has_not_begun_is_not_among_them(nor, block, closed):
    makers.a_block(nor, first_day=TODAY + 30 * DAY, plan=closed)

    assert [row.block for row in block_means(nor, blocks_of(nor), TODAY)] == [block]
