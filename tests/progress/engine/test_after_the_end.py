"""A block that is over is read as of its last day, unless something of today goes before."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from progress.engine.check_in import Discomfort
from progress.engine.evidence import UNANSWERED, CheckIn, OpenKind, OpenThing
from progress.engine.readiness import Outcome, assess, assess_as_of
from progress.engine.reasons import Code
from tests.progress.engine import vectors
from tests.progress.engine.histories import histories


@pytest.fixture
def evidence():
    """A month that comes to "may be ready" on its last day."""
    scenario = vectors.named("h-ready")
    found = vectors.evidence(scenario)
    days = (vectors.day(scenario) - found.block.start).days + 1
    return replace(found, block=replace(found.block, days=days))


@pytest.fixture
def end(evidence):
    return evidence.block.last_day


def after(end, days):
    return end + timedelta(days=days)


def hurting(day, how=Discomfort.PAIN):
    return CheckIn(day=day, filed=day, ratings=UNANSWERED, discomfort=how)


def with_row(evidence, row):
    return replace(evidence, check_ins=(*evidence.check_ins, row))


@given(histories(), st.integers(0, 27))
def test_while_the_block_runs_it_is_the_assessment_of_the_day(evidence, passed):
    day = min(evidence.block.start + timedelta(days=passed), evidence.block.last_day)

    assert assess_as_of(evidence, day) == assess(evidence, day)


@given(histories(), st.integers(1, 40))
def test_afterwards_it_is_todays_where_something_is_open_or_new_to_ease_off_from(evidence, passed):
    day = after(evidence.block.last_day, passed)

    today, found = assess(evidence, day), assess_as_of(evidence, day)

    assert found.day in {day, evidence.block.last_day}
    assert not today.open_count or found == today
    assert today.outcome is not Outcome.EASE_OFF or found.outcome is Outcome.EASE_OFF
    assert found.day == day or Code.ASK not in {reason.code for reason in found.reasons}


def test_ten_days_later_it_is_still_the_assessment_of_the_last_day(evidence, end):
    assert assess_as_of(evidence, after(end, 10)) == assess(evidence, end)
    assert assess(evidence, end).outcome is Outcome.MAY_BE_READY


def test_pain_since_the_last_day_makes_it_todays(evidence, end):
    hurt = with_row(evidence, hurting(after(end, 3)))

    found = assess_as_of(hurt, after(end, 5))

    assert (found.day, found.outcome) == (after(end, 5), Outcome.EASE_OFF)
    assert [(row.code, row.figure) for row in found.reasons[:1]] == [(Code.PAIN, 2)]


def test_a_pain_after_the_end_takes_nothing_from_where_the_block_stood(evidence, end):
    hurt = with_row(evidence, hurting(after(end, 1)))

    resting, rested = assess(hurt, after(end, 8)), assess(hurt, after(end, 9))

    assert (resting.outcome, rested.outcome) == (Outcome.EASE_OFF, Outcome.MAY_BE_READY)


def test_a_pain_of_the_block_that_is_days_ago_today_is_counted_to_today(evidence, end):
    hurt = with_row(evidence, hurting(after(end, -2)))

    near, far = assess_as_of(hurt, after(end, 4)), assess_as_of(hurt, after(end, 10))

    assert (near.day, near.reasons[0].figure) == (after(end, 4), 6)
    assert (far.day, far.reasons[0].figure) == (end, 2)


def test_discomfort_of_the_block_said_on_its_last_day_is_not_said_anew(evidence, end):
    rows = tuple(
        replace(row, discomfort=Discomfort.MILD) if row.day > after(end, -7) else row
        for row in evidence.check_ins
    )

    found = assess_as_of(replace(evidence, check_ins=rows), after(end, 4))

    assert (found.day, found.outcome) == (end, Outcome.EASE_OFF)
    assert (found.reasons[0].code, len(found.reasons) > 1) == (Code.MILD, True)


@pytest.mark.parametrize("kind", list(OpenKind))
def test_what_is_open_today_makes_it_todays_and_proposes_nothing(evidence, end, kind):
    ill = replace(evidence, open_things=(OpenThing(kind=kind, begins=after(end, 2)),))

    found = assess_as_of(ill, after(end, 4))

    assert (found.day, found.open_count, found.proposal) == (after(end, 4), 1, None)


def test_what_was_open_on_the_last_day_and_is_over_holds_nobody_back(evidence, end):
    spell = OpenThing(kind=OpenKind.ILL, begins=after(end, -1), ends=after(end, 2))
    was_ill = replace(evidence, open_things=(spell,))

    found = assess_as_of(was_ill, after(end, 3))

    assert (found.day, found.open_count) == (end, 0)
    assert found.outcome is Outcome.MAY_BE_READY


def test_a_row_of_the_block_that_came_in_after_the_end_counts(evidence, end):
    late = [replace(row, received=after(end, 2)) for row in evidence.check_ins if row.day == end]
    others = [row for row in evidence.check_ins if row.day != end]
    came_late = replace(evidence, check_ins=(*others, *late))

    before, found = assess_as_of(came_late, after(end, 1)), assess_as_of(came_late, after(end, 3))

    assert len(late) == 1
    assert before.usable_days == found.usable_days - 1
    assert found == assess(evidence, end)


def test_no_next_lesson_is_asked_for_once_the_block_is_over(evidence, end):
    heard = tuple(replace(row, ratings=(4, 4, 4, 4)) for row in evidence.lessons)
    unsure = replace(evidence, lessons=heard)

    running, over = assess(unsure, end), assess_as_of(unsure, after(end, 1))

    assert running.outcome is Outcome.KEEP_GOING
    assert Code.ASK in {reason.code for reason in running.reasons}
    assert Code.ASK not in {reason.code for reason in over.reasons}
