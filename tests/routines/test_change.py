"""Changing a block in the middle: a dated version, past days as they were, whole or not at all."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError
from django_scopes import scope

from routines.models import Block, BlockVersion
from routines.queries import edits, version_on
from routines.services import change
from routines.services.change import ChangeError, change_block
from routines.templatetags.music import edit_words
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
TODAY = date(2026, 11, 25)
DAY = timedelta(days=1)
FIRST = TODAY - 9 * DAY


@pytest.fixture
def teacher(db):
    teacher = makers.a_teacher()
    with scope(studio=makers.studio_of(teacher)):
        yield teacher


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher))


@pytest.fixture
def block(nor):
    return makers.a_block(nor, first_day=FIRST)


@pytest.fixture
def do(teacher, nor):
    def change_it(block, from_day=TODAY, *, moment=NOW, **asked) -> BlockVersion:
        plan = makers.a_plan(nor, **(asked or {"hold": 10}))
        return change_block(block, plan, from_day=from_day, by=teacher, moment=moment)

    return change_it


def holds(block) -> list[tuple[date, int]]:
    rows = BlockVersion.objects.filter(block=block).order_by("from_day")
    return [(row.from_day, row.hold) for row in rows]


def test_a_change_holds_from_its_day_on_and_days_before_keep_theirs(do, block, teacher):
    version = do(block, hold=10, rest=6, tempo=72)

    asked = [version_on(block, day).hold for day in (FIRST, TODAY - DAY, TODAY, block.last_day)]
    assert asked == [8, 8, 10, 10]
    assert (version.plan.rest, version.tempo) == (6, 72)
    assert (version.made_by, version.made_at) == (teacher, NOW)


def test_a_check_in_of_yesterday_keeps_the_version_it_was_played_under(do, block, nor):
    kept = makers.a_check_in(nor, block=block, day=TODAY - DAY)

    do(block)

    kept.refresh_from_db()
    assert kept.version.hold == 8


def test_a_second_change_of_the_same_day_replaces_the_first(do, block):
    do(block, hold=10)

    do(block, hold=12)

    assert holds(block) == [(FIRST, 8), (TODAY, 12)]


def test_a_change_replaces_what_was_planned_for_its_day_or_later_and_nothing_before(do, block):
    do(block, TODAY + DAY, hold=9)
    do(block, TODAY + 5 * DAY, hold=10)
    do(block, TODAY + 8 * DAY, hold=11)

    do(block, TODAY + 5 * DAY, hold=12)

    assert holds(block) == [(FIRST, 8), (TODAY + DAY, 9), (TODAY + 5 * DAY, 12)]


def test_what_was_checked_in_under_today_is_never_touched(do, block, nor):
    do(block, hold=10)
    makers.a_check_in(nor, block=block, day=TODAY)

    with pytest.raises(ChangeError) as error:
        do(block, hold=12)

    assert str(error.value) == (
        "Nor has checked in for today already: let it begin tomorrow, Thursday 26 November."
    )
    assert error.value.field == "from_day"
    assert holds(block) == [(FIRST, 8), (TODAY, 10)]


def test_what_it_says_to_do_is_then_done(do, block, nor):
    do(block, hold=10)
    makers.a_check_in(nor, block=block, day=TODAY)

    do(block, TODAY + DAY, hold=12)

    assert holds(block) == [(FIRST, 8), (TODAY, 10), (TODAY + DAY, 12)]


def test_on_the_last_day_there_is_no_tomorrow_to_begin(do, nor):
    block = makers.a_block(nor, first_day=TODAY - 27 * DAY)
    do(block, hold=10)
    makers.a_check_in(nor, block=block, day=TODAY)

    with pytest.raises(ChangeError, match="the block’s last day: assign the next block instead"):
        do(block, hold=12)


@pytest.mark.parametrize(
    ("from_day", "words"),
    [
        (TODAY - DAY, "Tuesday 24 November is past, and past days keep what they had: choose a day "
                      "from Wednesday 25 November to Sunday 13 December."),
        (date(2026, 12, 14), "Monday 14 December is not in this block: choose a day from Wednesday "
                             "25 November to Sunday 13 December."),
        (date.max, "Friday 31 December 9999 is not in this block: choose a day from Wednesday "
                   "25 November to Sunday 13 December."),
    ],
)  # fmt: skip
def test_a_day_that_cannot_be_is_said_with_those_that_can(do, block, from_day, words):
    with pytest.raises(ChangeError) as error:
        do(block, from_day)

    assert (error.value.field, str(error.value)) == ("from_day", words)
    assert holds(block) == [(FIRST, 8)]


def test_the_last_day_of_a_block_and_those_a_pause_added_can_be_changed(do, nor):
    block = makers.a_block(nor, first_day=FIRST, extra_days=3)

    do(block, FIRST + 30 * DAY)

    assert holds(block)[-1] == (FIRST + 30 * DAY, 10)


def test_a_block_that_is_over_is_not_changed(do, nor):
    block = makers.a_block(nor, first_day=TODAY - 28 * DAY)

    with pytest.raises(ChangeError) as error:
        do(block)

    assert str(error.value) == (
        "This block ended on Tuesday 24 November: assign the next one instead."
    )


def test_a_block_that_was_replaced_before_it_began_is_not_changed(do, nor):
    block = makers.a_block(nor, first_day=TODAY + 5 * DAY, ended_on=TODAY)

    with pytest.raises(ChangeError, match="replaced before it began"):
        do(block, TODAY + 5 * DAY)


def test_a_block_taken_back_meanwhile_is_said_to_be(do, block):
    there = Block.objects.select_related("student__studio").get()
    block.delete()

    with pytest.raises(ChangeError, match="taken back meanwhile"):
        do(there)


def test_a_block_before_its_first_day_takes_the_change_as_its_own(do, nor):
    block = makers.a_block(nor, first_day=TODAY + 5 * DAY)

    do(block, TODAY + 5 * DAY, hold=12)

    assert holds(block) == [(TODAY + 5 * DAY, 12)]
    assert Block.objects.get().variant == "endurance"


def test_a_change_in_the_middle_leaves_the_block_the_name_it_was_given_by(do, block):
    do(block, hold=12)

    assert Block.objects.get().variant == "baseline"


def test_no_change_at_all_is_said_and_writes_nothing(do, block):
    with pytest.raises(ChangeError, match="This is what Nor is asked already: change something"):
        do(block, hold=8)

    assert holds(block) == [(FIRST, 8)]


def test_going_back_on_what_was_planned_is_a_change(do, block):
    do(block, TODAY + 3 * DAY, hold=10)

    do(block, hold=8)

    assert [version_on(block, day).hold for day in (TODAY, TODAY + 3 * DAY)] == [8, 8]


def test_a_plan_for_another_instrument_is_refused(teacher, block):
    plan = makers.a_plan(makers.a_student(makers.studio_of(teacher), instrument="tuba_f"))

    with pytest.raises(ChangeError, match="another instrument"):
        change_block(block, plan, from_day=TODAY, by=teacher, moment=NOW)


@pytest.mark.parametrize(("hour", "today"), [(3, TODAY - DAY), (4, TODAY)])
def test_the_studios_day_ends_after_midnight(do, block, hour, today):
    do(block, today, moment=NOW.replace(hour=hour))

    assert holds(block)[-1][0] == today


def test_a_change_is_whole_or_not_at_all(do, block, monkeypatch):
    do(block, TODAY + 3 * DAY, hold=10)

    def fails(*_args, **_values):
        raise IntegrityError

    monkeypatch.setattr(change, "write_version", fails)
    with pytest.raises(ChangeError, match="send it once more"):
        do(block, hold=12)

    assert holds(block) == [(FIRST, 8), (TODAY + 3 * DAY, 10)]


def test_an_edit_says_what_is_other_than_before(do, block):
    do(block, TODAY, hold=10)
    do(block, TODAY + DAY, hold=10, tempo=72, low_note=60)

    assert [edit_words(edit) for edit in edits(block)] == [
        "Hold 10 · Rest 8", "Hold 10 · Rest 8, 72 a minute, other notes",
    ]  # fmt: skip
