"""Pauses and the ends of a student's blocks: written together, and never over the next block."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import DatabaseError
from django_scopes import scope

from routines.engine.plan import Month
from routines.models import Block
from routines.services import pauses
from routines.services.assign import IfRunning, Order, assign, undo_assign
from studio.models import Interruption
from studio.words import InterruptionKind
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
FIRST = date(2026, 11, 16)
LAST = date(2026, 12, 13)
DAY = timedelta(days=1)


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


def add(student, first: date, last: date | None, kind=InterruptionKind.ILL):
    return pauses.add_interruption(
        student, kind=kind, first_day=first, last_day=last, note="", moment=NOW
    )


def ends(block) -> date:
    return Block.objects.get(pk=block.pk).last_day


def assigned(teacher, student, first_day, **values) -> Block:
    order = Order(
        plans=[(student, makers.a_plan(student))],
        month=values.pop("month", Month(first_day=first_day)),
        by=teacher,
        moment=NOW,
        **values,
    )
    return assign(order).blocks[0]


@pytest.mark.parametrize(
    ("kind", "days"),
    [(InterruptionKind.AWAY, 5), (InterruptionKind.ILL, 5), (InterruptionKind.MOUTH, 0),
     (InterruptionKind.LIGHT, 0)],
)  # fmt: skip
def test_away_and_ill_move_the_end_by_their_days_and_nothing_else_does(nor, block, kind, days):
    moved = add(nor, FIRST + 3 * DAY, FIRST + 7 * DAY, kind)

    assert ends(block) == LAST + days * DAY
    assert [each.block for each in moved] == [block] * bool(days)


def test_a_pause_without_a_last_day_moves_nothing_until_it_is_over(nor, block):
    assert add(nor, FIRST + 3 * DAY, None) == []
    assert ends(block) == LAST

    moved = pauses.end_interruption(
        Interruption.objects.get(), last_day=FIRST + 5 * DAY, moment=NOW
    )

    assert [(each.ended, each.block.last_day) for each in moved] == [(LAST, LAST + 3 * DAY)]
    assert ends(block) == LAST + 3 * DAY


def test_what_a_student_told_moves_the_end_once_it_is_confirmed(nor, block):
    told = makers.an_interruption(nor, first_day=FIRST, last_day=FIRST + DAY)
    assert pauses.follow_pauses(nor) == []
    assert ends(block) == LAST

    pauses.confirm_interruption(told, moment=NOW)

    assert ends(block) == LAST + 2 * DAY


def test_what_is_confirmed_twice_keeps_the_moment_of_the_first_yes(nor, block):
    told = makers.an_interruption(nor, first_day=FIRST, last_day=FIRST + DAY)
    pauses.confirm_interruption(told, moment=NOW)

    assert pauses.confirm_interruption(told, moment=NOW + DAY) == []

    told.refresh_from_db()
    assert told.confirmed_at == NOW
    assert ends(block) == LAST + 2 * DAY


def test_ending_sooner_moves_the_end_back(nor, block):
    add(nor, FIRST, FIRST + 20 * DAY)

    moved = pauses.end_interruption(
        Interruption.objects.get(), last_day=FIRST + 8 * DAY, moment=NOW
    )

    assert ends(block) == LAST + 9 * DAY
    assert moved[0].ended == LAST + 21 * DAY


def test_calling_a_pause_off_moves_the_end_back_to_where_it_was(nor, block):
    add(nor, FIRST + 12 * DAY, FIRST + 16 * DAY)

    moved = pauses.call_off_interruption(Interruption.objects.get())

    assert (ends(block), moved[0].ended) == (LAST, LAST + 5 * DAY)
    assert not Interruption.objects.exists()


def test_days_told_twice_count_once(nor, block):
    add(nor, FIRST, FIRST + 4 * DAY)
    add(nor, FIRST + 2 * DAY, FIRST + 6 * DAY, InterruptionKind.AWAY)

    assert ends(block) == LAST + 7 * DAY


def test_the_end_stops_before_the_next_block_and_says_so(teacher, nor, block):
    after = makers.a_block(nor, first_day=LAST + 3 * DAY)

    moved = add(nor, FIRST, FIRST + 4 * DAY)

    assert ends(block) == LAST + 2 * DAY
    assert [(each.block, each.stopped_by) for each in moved] == [(block, after)]
    assert ends(after) == after.last_day


def test_a_block_without_any_room_stays_and_that_is_said_only_of_the_pause_in_it(nor, block):
    after = makers.a_block(nor, first_day=LAST + DAY)

    inside, elsewhere = add(nor, FIRST, FIRST), add(nor, FIRST - 20 * DAY, FIRST - 10 * DAY)

    assert [(each.has_moved, each.stopped_by) for each in inside] == [(False, after)]
    assert elsewhere == []


def test_a_block_that_was_replaced_keeps_its_end(teacher, nor, block):
    assigned(teacher, nor, FIRST + 10 * DAY, if_running=IfRunning.REPLACE)

    add(nor, FIRST + 2 * DAY, FIRST + 4 * DAY)

    assert ends(block) == FIRST + 9 * DAY


def test_a_block_replaced_in_its_added_days_keeps_its_end_when_the_pause_shrinks(
    teacher, nor, block
):
    add(nor, FIRST, FIRST + 9 * DAY)
    assigned(teacher, nor, LAST + 5 * DAY, if_running=IfRunning.REPLACE)

    pauses.end_interruption(Interruption.objects.get(), last_day=FIRST, moment=NOW)

    assert ends(block) == LAST + 4 * DAY


def test_a_new_block_knows_of_the_holidays_in_it(teacher, nor):
    add(nor, FIRST + 7 * DAY, FIRST + 13 * DAY, InterruptionKind.AWAY)

    block = assigned(teacher, nor, FIRST)

    assert block.last_day == ends(block) == LAST + 7 * DAY


def test_the_next_block_begins_after_the_days_that_were_added(teacher, nor, block):
    add(nor, FIRST, FIRST + 4 * DAY)

    after = assigned(teacher, nor, LAST + DAY, if_running=IfRunning.AFTER)

    assert after.first_day == LAST + 6 * DAY


def test_a_block_that_comes_back_finds_its_room_again(teacher, nor, block):
    other = assigned(teacher, nor, FIRST + 10 * DAY, if_running=IfRunning.REPLACE)
    add(nor, FIRST + 2 * DAY, FIRST + 4 * DAY)

    undo_assign(other.batch, moment=NOW)

    assert ends(block) == LAST + 3 * DAY


def test_a_block_that_comes_back_leaves_a_newer_one_its_days(teacher, nor, block):
    add(nor, FIRST, FIRST + 4 * DAY)
    short = Month(first_day=FIRST + 10 * DAY, length_days=7)
    other = assigned(teacher, nor, short.first_day, month=short, if_running=IfRunning.REPLACE)
    makers.a_block(nor, first_day=LAST + 2 * DAY)

    undone = undo_assign(other.batch, moment=NOW)

    assert undone.taken_back == [nor]
    assert ends(block) == LAST + DAY


def test_another_students_blocks_stay(nor, block):
    sam = makers.a_student(nor.studio, name="Sam")

    assert add(sam, FIRST, FIRST + 4 * DAY) == []
    assert ends(block) == LAST


@pytest.mark.parametrize("failing", ["add", "confirm", "end", "call off"])
def test_a_pause_and_the_end_it_moves_are_written_both_or_neither(nor, block, failing, monkeypatch):
    told = makers.an_interruption(nor, first_day=FIRST, last_day=FIRST + DAY)
    before = list(Interruption.objects.values())

    def fails(_student):
        raise DatabaseError

    monkeypatch.setattr(pauses, "follow_pauses", fails)
    write = {
        "add": lambda: add(nor, FIRST, FIRST),
        "confirm": lambda: pauses.confirm_interruption(told, moment=NOW),
        "end": lambda: pauses.end_interruption(told, last_day=FIRST, moment=NOW),
        "call off": lambda: pauses.call_off_interruption(told),
    }[failing]

    with pytest.raises(DatabaseError):
        write()

    assert list(Interruption.objects.values()) == before


def test_following_twice_moves_nothing_the_second_time(nor, block):
    add(nor, FIRST, FIRST + 4 * DAY)

    assert pauses.follow_pauses(nor) == []
