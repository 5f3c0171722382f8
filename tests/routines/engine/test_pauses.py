"""How far a pause moves the end of a block: days counted by hand on a calendar, and properties.

That a pause moves the end is a decision of this program; the days are the Gregorian calendar's.
"""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from progress.engine.evidence import DAYS_LIMITS
from routines.engine.pauses import Pause, extra_days, open_days
from routines.engine.plan import LENGTH_LIMITS, MOST_DAYS, Month

FIRST = date(2026, 11, 2)
DAY = timedelta(days=1)
MONTH = Month(first_day=FIRST)


def a_pause(first: str, last: str | None) -> Pause:
    return Pause(
        first_day=date.fromisoformat(first), last_day=date.fromisoformat(last) if last else None
    )


def end_of(pauses, *, before=None) -> str:
    return str(FIRST + (27 + extra_days(MONTH, pauses, before)) * DAY)


# Four weeks from Monday 2 November end on Sunday 29 November. Counted on a calendar by hand.
@pytest.mark.parametrize(
    ("pauses", "ends"),
    [
        ([], "2026-11-29"),
        ([("2026-11-09", "2026-11-15")], "2026-12-06"),
        ([("2026-11-09", "2026-11-09")], "2026-11-30"),
        # Only the two days inside the block count: 31 October and 1 November come before it.
        ([("2026-10-31", "2026-11-03")], "2026-12-01"),
        # Begun on the last day, it takes that day and all of its own: one day is left to play.
        ([("2026-11-29", "2026-12-05")], "2026-12-06"),
        ([("2026-11-30", "2026-12-05")], "2026-11-29"),
        # Two that overlap are the ten days from 9 to 18 November.
        ([("2026-11-09", "2026-11-15"), ("2026-11-12", "2026-11-18")], "2026-12-09"),
        # The second falls into the days that the first one added.
        ([("2026-11-09", "2026-11-15"), ("2026-12-01", "2026-12-02")], "2026-12-08"),
        # Without the first, the second would lie after the end.
        ([("2026-12-01", "2026-12-02")], "2026-11-29"),
        ([("2026-11-09", None)], "2026-11-29"),
    ],
)
def test_a_block_lasts_until_its_days_outside_the_pauses_have_passed(pauses, ends):
    assert end_of([a_pause(*days) for days in pauses]) == ends


@pytest.mark.parametrize(
    ("before", "ends"),
    [("2026-12-20", "2026-12-06"), ("2026-12-07", "2026-12-06"), ("2026-12-03", "2026-12-02"),
     ("2026-11-30", "2026-11-29"), ("2026-11-20", "2026-11-29")],
)  # fmt: skip
def test_the_day_before_the_next_block_is_the_last_there_is_room_for(before, ends):
    week = [a_pause("2026-11-09", "2026-11-15")]

    assert end_of(week, before=date.fromisoformat(before)) == ends


def test_no_block_grows_longer_than_an_assessment_can_read():
    ever = [Pause(first_day=FIRST, last_day=FIRST + 5000 * DAY)]

    assert MONTH.length_days + extra_days(MONTH, ever) == MOST_DAYS == DAYS_LIMITS[1]


@pytest.mark.parametrize(
    ("first", "last", "count"),
    [("2026-11-09", "2026-11-15", 4), ("2026-11-12", "2026-11-14", 0),
     ("2026-11-15", "2026-11-15", 1), ("2026-11-16", "2026-11-15", 0)],
)  # fmt: skip
def test_open_days_leave_out_the_days_of_a_pause(first, last, count):
    pauses = [a_pause("2026-11-12", "2026-11-14")]

    assert open_days(date.fromisoformat(first), date.fromisoformat(last), pauses) == count


def test_a_pause_without_a_last_day_goes_on():
    pause = a_pause("2026-11-12", None)

    assert [FIRST + n * DAY in pause for n in (9, 10, 300)] == [False, True, True]


days = st.integers(min_value=-20, max_value=80)
pauses = st.lists(
    st.tuples(days, st.integers(min_value=0, max_value=25)).map(
        lambda at: Pause(first_day=FIRST + at[0] * DAY, last_day=FIRST + (at[0] + at[1]) * DAY)
    ),
    max_size=6,
)
months = st.integers(*LENGTH_LIMITS).map(lambda length: Month(first_day=FIRST, length_days=length))


@given(months, pauses)
def test_as_many_days_are_left_to_play_as_the_block_is_long(month, paused):
    whole = Month(
        first_day=FIRST, length_days=month.length_days, extra_days=extra_days(month, paused)
    )
    closed = {
        pause.first_day + n * DAY
        for pause in paused
        for n in range((pause.last_day - pause.first_day).days + 1)
    }

    assert len(set(whole.days()) - closed) == month.length_days
    assert whole.last_day not in closed


@given(months, pauses, st.integers(min_value=1, max_value=120))
def test_the_next_block_never_overlaps_what_a_pause_added(month, paused, ahead):
    before = FIRST + ahead * DAY

    added = extra_days(month, paused, before)

    ends = FIRST + (month.length_days + added - 1) * DAY
    assert added == 0 or ends < before
    assert added <= extra_days(month, paused)


@given(months, pauses, pauses)
def test_more_pauses_never_bring_the_end_nearer_and_order_is_no_matter(month, some, more):
    both = extra_days(month, [*some, *more])

    assert both >= extra_days(month, some)
    assert both == extra_days(month, [*more, *some, *some])
