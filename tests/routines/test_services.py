"""Handing blocks out: to one or several, round the blocks they have, and taking them back."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError
from django_scopes import scope

from routines import queries
from routines.engine.dynamics import parse
from routines.engine.plan import Month
from routines.engine.variants import Aim
from routines.models import Block, BlockVersion
from routines.services.assign import IfRunning, Order, assign, undo_assign
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
FIRST = date(2026, 11, 26)
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
def sam(teacher):
    return makers.a_student(makers.studio_of(teacher), name="Sam", instrument="tuba_f")


def an_order(teacher, *students, first_day=FIRST, **values) -> Order:
    plans = [(student, makers.a_plan(student)) for student in students]
    month = Month(first_day=first_day)
    fields = {"plans": plans, "month": month, "by": teacher, "moment": NOW}
    return Order(**(fields | values))


def days_of(student) -> list[tuple[date, date]]:
    return [(row.first_day, row.last_day) for row in queries.blocks_of(student)[::-1]]


def test_a_block_is_stored_as_it_was_asked(teacher, nor):
    plan = makers.a_plan(nor, hold=12, rest=8, tempo=72, top_note=79)

    assign(an_order(teacher, plans=[(nor, plan)], aim=Aim.ENDURANCE,
                    message="Breathe low."))  # fmt: skip

    block = Block.objects.get()
    assert queries.version_on(block, FIRST).plan == plan
    assert block.month == Month(first_day=FIRST)
    assert (block.variant, block.aim, block.message) == ("endurance", "endurance", "Breathe low.")


def test_each_student_gets_a_block_on_their_own_instrument_in_one_batch(teacher, nor, sam):
    assigned = assign(an_order(teacher, nor, sam))

    rows = queries.assigned_together(assigned.batch)
    assert [(row.student, row.instrument) for row in rows] == [
        (nor, "trumpet_bb"),
        (sam, "tuba_f"),
    ]


@pytest.mark.parametrize("overlap", [0, 13, 27])
def test_after_it_begins_on_the_day_after_the_block_that_is_there(teacher, nor, overlap):
    makers.a_block(nor, first_day=FIRST - overlap * DAY)

    assign(an_order(teacher, nor, if_running=IfRunning.AFTER))

    free = FIRST + (28 - overlap) * DAY
    assert days_of(nor)[1] == (free, free + 27 * DAY)


def test_after_it_goes_round_every_block_in_the_way(teacher, nor):
    for weeks in (-1, 3, 9):
        makers.a_block(nor, first_day=FIRST + weeks * 7 * DAY)

    assign(an_order(teacher, nor, if_running=IfRunning.AFTER))

    assert days_of(nor)[-1][0] == FIRST + 13 * 7 * DAY


def test_replace_ends_the_running_block_the_day_before(teacher, nor):
    makers.a_block(nor, first_day=FIRST - 10 * DAY)

    assign(an_order(teacher, nor, if_running=IfRunning.REPLACE))

    assert days_of(nor) == [(FIRST - 10 * DAY, FIRST - DAY), (FIRST, FIRST + 27 * DAY)]


@pytest.mark.parametrize("ahead", [0, 5])
def test_replace_takes_the_place_of_a_block_that_has_not_begun(teacher, nor, ahead):
    makers.a_block(nor, first_day=FIRST + ahead * DAY)

    assign(an_order(teacher, nor, if_running=IfRunning.REPLACE))

    assert days_of(nor) == [(FIRST, FIRST + 27 * DAY)]


def test_skip_leaves_out_who_has_a_block_and_gives_one_to_the_others(teacher, nor, sam):
    makers.a_block(nor, first_day=FIRST - 10 * DAY)

    assigned = assign(an_order(teacher, nor, sam, if_running=IfRunning.SKIP))

    assert assigned.skipped == [nor]
    assert [block.student for block in assigned.blocks] == [sam]


def test_a_block_that_ends_the_day_before_is_no_clash(teacher, nor):
    makers.a_block(nor, first_day=FIRST - 28 * DAY)

    assert queries.clashes([nor], first_day=FIRST, last_day=FIRST + 27 * DAY) == []


def test_a_block_that_ends_on_the_first_day_is_a_clash(teacher, nor):
    block = makers.a_block(nor, first_day=FIRST - 27 * DAY)

    found = queries.clashes([nor], first_day=FIRST, last_day=FIRST + 27 * DAY)

    assert [(clash.student, clash.block) for clash in found] == [(nor, block)]


def test_assigning_to_several_is_all_or_nothing(teacher, nor, sam, monkeypatch):
    real, made = BlockVersion.objects.create, []

    def fails_the_second_time(**values):
        made.append(values)
        if len(made) == 2:
            raise IntegrityError
        return real(**values)

    monkeypatch.setattr(BlockVersion.objects, "create", fails_the_second_time)
    running = makers.a_block(nor, first_day=FIRST - 10 * DAY)
    made.clear()

    with pytest.raises(IntegrityError):
        assign(an_order(teacher, nor, sam, if_running=IfRunning.REPLACE))

    assert list(Block.objects.all()) == [running]
    assert Block.objects.get().ended_on is None


def test_taking_back_restores_the_block_that_was_replaced(teacher, nor):
    makers.a_block(nor, first_day=FIRST - 10 * DAY)
    assigned = assign(an_order(teacher, nor, if_running=IfRunning.REPLACE))

    undone = undo_assign(assigned.batch, moment=NOW + timedelta(minutes=9))

    assert (undone.taken_back, undone.kept) == ([nor], [])
    assert days_of(nor) == [(FIRST - 10 * DAY, FIRST + 17 * DAY)]


def test_replacing_twice_and_taking_the_first_back_changes_nothing(teacher, nor):
    makers.a_block(nor, first_day=FIRST - 10 * DAY)
    first = assign(an_order(teacher, nor, if_running=IfRunning.REPLACE))
    assign(an_order(teacher, nor, first_day=FIRST + 5 * DAY, if_running=IfRunning.REPLACE))
    before = days_of(nor)

    undone = undo_assign(first.batch, moment=NOW)

    assert (undone.taken_back, undone.kept) == ([], [nor])
    assert days_of(nor) == before


def test_replacing_on_the_same_day_twice_and_taking_the_first_back_is_no_error(teacher, nor):
    makers.a_block(nor, first_day=FIRST)
    first = assign(an_order(teacher, nor, if_running=IfRunning.REPLACE))
    assign(an_order(teacher, nor, if_running=IfRunning.REPLACE))

    undone = undo_assign(first.batch, moment=NOW)

    assert undone.kept == [nor]
    assert len(days_of(nor)) == 1


def test_one_who_has_played_does_not_keep_the_other_from_the_old_block(teacher, nor, sam):
    makers.a_block(nor, first_day=FIRST - 10 * DAY)
    makers.a_block(sam, first_day=FIRST - 10 * DAY)
    assigned = assign(an_order(teacher, nor, sam, if_running=IfRunning.REPLACE))
    played = next(block for block in assigned.blocks if block.student == nor)
    makers.a_check_in(nor, block=played, day=FIRST)

    undone = undo_assign(assigned.batch, moment=NOW)

    assert (undone.taken_back, undone.kept) == ([sam], [nor])
    assert days_of(sam) == [(FIRST - 10 * DAY, FIRST + 17 * DAY)]


def test_the_same_order_sent_twice_is_one(teacher, nor):
    order = an_order(teacher, nor, batch="0123456789abcdef", if_running=IfRunning.AFTER)

    twice = [assign(order), assign(order)]

    assert Block.objects.count() == 1
    assert twice[0].blocks == twice[1].blocks


def test_a_form_gone_back_to_and_changed_is_another_order(teacher, nor, sam):
    form = {"batch": "0123456789abcdef", "if_running": IfRunning.REPLACE}
    longer = [(nor, makers.a_plan(nor, hold=12))]

    first = assign(an_order(teacher, nor, **form))
    other = assign(an_order(teacher, sam, **form))
    assign(an_order(teacher, plans=longer, **form))

    assert other.blocks[0].student == sam
    assert first.batch != other.batch
    running = queries.running(queries.blocks_of(nor), FIRST)
    assert running is not None
    assert running.variant == "endurance"


@pytest.mark.parametrize(
    ("changes", "variant"),
    [
        ({"hold": 12, "rest": 8}, "endurance"),
        ({"hold": 4, "rest": 4}, "compact"),
        ({"hold": 2, "rest": 1}, "own"),
        ({"dynamics": parse("by-note:f,p")}, "contrast"),
    ],
)
def test_a_block_is_called_what_its_counts_are(teacher, nor, changes, variant):
    assign(an_order(teacher, plans=[(nor, makers.a_plan(nor, **changes))]))

    assert Block.objects.get().variant == variant


@pytest.mark.parametrize(("minutes", "taken_back"), [(10, 2), (10.1, 0)])
def test_blocks_can_be_taken_back_for_ten_minutes(teacher, nor, sam, minutes, taken_back):
    assigned = assign(an_order(teacher, nor, sam))

    moment = NOW + timedelta(minutes=minutes)

    assert len(undo_assign(assigned.batch, moment=moment).taken_back) == taken_back


def test_a_block_that_was_played_is_not_taken_back(teacher, nor, sam):
    assigned = assign(an_order(teacher, nor, sam))
    played = next(block for block in assigned.blocks if block.student == nor)
    makers.a_check_in(nor, block=played, day=FIRST)

    assert undo_assign(assigned.batch, moment=NOW).taken_back == [sam]
    assert list(Block.objects.all()) == [played]


def test_another_studios_blocks_are_not_taken_back(teacher, nor):
    assigned = assign(an_order(teacher, nor))

    with scope(studio=makers.a_studio()):
        assert undo_assign(assigned.batch, moment=NOW).taken_back == []


def test_the_block_of_a_day_runs_from_its_first_to_its_last_day(teacher, nor):
    block = makers.a_block(nor, first_day=FIRST)
    days = [FIRST - DAY, FIRST, FIRST + 27 * DAY, FIRST + 28 * DAY]

    found = [queries.running([block], day) for day in days]

    assert found == [None, block, block, None]


def test_a_day_is_played_under_the_version_that_stood_then(teacher, nor):
    block = makers.a_block(nor, first_day=FIRST)
    makers.a_version(block, plan=makers.a_plan(nor, tempo=66), from_day=FIRST + 14 * DAY)
    days = [FIRST, FIRST + 13 * DAY, FIRST + 14 * DAY, FIRST + 27 * DAY]

    tempi = [queries.version_on(block, day).tempo for day in days]

    assert tempi == [60, 60, 66, 66]


@pytest.mark.parametrize(
    "values", [{"hold": 1}, {"hold": 33}, {"rest": 33}, {"tempo": 19}, {"tempo": 241},
               {"low_note": 68}, {"top_note": 66}]
)  # fmt: skip
def test_the_database_itself_refuses_what_cannot_be_played(teacher, nor, values):
    block = makers.a_block(nor, first_day=FIRST)

    with pytest.raises(IntegrityError):
        BlockVersion.objects.filter(block=block).update(**values)
