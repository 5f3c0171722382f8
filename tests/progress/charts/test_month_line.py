"""The month line as geometry. Positions on a five-line staff follow common practice: no source."""

from datetime import date, timedelta
from itertools import pairwise

import pytest

from progress.charts.month_line import DayState, LineDay, MonthLine, month_line

MONDAY = date(2026, 3, 2)


def a_month(length: int, **day_by_index: LineDay) -> list[LineDay]:
    """Days from a Monday on, filed with sound 3, but for those given as d0, d1, ..."""
    return [
        day_by_index.get(
            f"d{index}",
            LineDay(day=MONDAY + timedelta(days=index), state=DayState.FILED, sound=3),
        )
        for index in range(length)
    ]


def a_line_of(state: DayState, *, sound: int | None = None, hurt: bool = False) -> MonthLine:
    return month_line([LineDay(day=MONDAY, state=state, sound=sound, hurt=hurt)])


def test_each_answer_for_sound_stands_on_its_own_line_the_best_on_top():
    days = [
        LineDay(day=MONDAY + timedelta(days=sound), state=DayState.FILED, sound=sound)
        for sound in range(1, 6)
    ]

    system = month_line(days).systems[0]

    assert [mark.y for mark in system.marks] == list(reversed(system.line_ys))


def test_the_five_lines_lie_one_staff_space_of_ten_units_apart():
    ys = a_line_of(DayState.FILED, sound=3).systems[0].line_ys

    assert [after - before for before, after in pairwise(ys)] == [10, 10, 10, 10]


def test_a_check_in_without_an_answer_for_sound_stands_below_the_staff():
    system = a_line_of(DayState.FILED).systems[0]

    assert system.line_ys[-1] + 10 < system.marks[0].y < system.height


@pytest.mark.parametrize(
    ("state", "glyph"),
    [
        (DayState.FILED, "head"),
        (DayState.BY_TEACHER, "head-open"),
        (DayState.NOT_TODAY, "rest-eighth"),
        (DayState.DAY_OFF, "rest-quarter"),
    ],
)
def test_each_state_has_its_own_sign(state, glyph):
    assert [mark.glyph for mark in a_line_of(state).systems[0].marks] == [glyph]


@pytest.mark.parametrize("state", [DayState.EMPTY, DayState.AHEAD])
def test_a_day_without_news_stays_empty(state):
    assert a_line_of(state).systems[0].marks == ()


def test_a_rest_stands_on_the_middle_line_whatever_the_answer():
    system = a_line_of(DayState.NOT_TODAY, sound=5).systems[0]

    assert system.marks[0].y == system.line_ys[2]


def test_a_day_that_hurt_carries_a_fermata_above_the_staff():
    hurt = a_line_of(DayState.FILED, sound=5, hurt=True).systems[0]
    well = a_line_of(DayState.FILED, sound=5).systems[0]

    assert hurt.marks[0].fermata_y is not None
    assert 0 < hurt.marks[0].fermata_y < hurt.line_ys[0]
    assert well.marks[0].fermata_y is None


def test_four_weeks_have_four_barlines_of_which_only_the_last_is_final():
    barlines = month_line(a_month(28)).systems[0].barlines

    assert [bar.final for bar in barlines] == [False, False, False, True]


def test_every_barline_falls_between_two_weeks_of_seven_days():
    system = month_line(a_month(28)).systems[0]
    xs = [mark.x for mark in system.marks]

    weeks = [sum(x < bar.x for x in xs) for bar in system.barlines]

    assert weeks == [7, 14, 21, 28]


def test_no_two_signs_of_a_month_touch():
    xs = [mark.x for mark in month_line(a_month(28)).systems[0].marks]

    assert min(after - before for before, after in pairwise(xs)) >= 13


@pytest.mark.parametrize(
    ("length", "weeks"),
    [(7, [1]), (8, [2]), (28, [4]), (31, [5]), (35, [5]), (36, [3, 3]), (62, [5, 4])],
)
def test_a_long_block_breaks_into_systems_of_nearly_equal_length(length, weeks):
    line = month_line(a_month(length))

    assert [len(system.weeks) for system in line.systems] == weeks
    assert sum(len(system.marks) for system in line.systems) == length


def test_weeks_are_numbered_on_through_the_systems():
    line = month_line(a_month(62))

    numbers = [week.number for system in line.systems for week in system.weeks]

    assert numbers == [1, 2, 3, 4, 5, 6, 7, 8, 9]


def test_only_the_last_system_ends_in_a_final_barline_and_all_are_equally_wide():
    first, last = month_line(a_month(62)).systems

    assert [first.barlines[-1].final, last.barlines[-1].final] == [False, True]
    assert first.width == last.width


@pytest.mark.parametrize("length", [7, 8, 27, 28, 31, 62])
@pytest.mark.parametrize("small", [True, False])
def test_everything_drawn_lies_inside_the_picture(length, small):
    for system in month_line(a_month(length), small=small).systems:
        assert system.view_box == f"0 0 {system.width} {system.height}"
        assert all(system.left + 7 <= mark.x <= system.width - 7 for mark in system.marks)
        assert all(bar.x <= system.right < system.width for bar in system.barlines)


def test_a_small_line_has_no_week_numbers_and_less_height():
    small = month_line(a_month(28), small=True)

    assert small.small
    assert small.systems[0].weeks == ()
    assert small.systems[0].height < month_line(a_month(28)).systems[0].height


def test_days_off_and_days_ahead_are_not_asked_and_a_day_of_the_teacher_counts_as_done():
    states = [
        DayState.FILED,
        DayState.BY_TEACHER,
        DayState.NOT_TODAY,
        DayState.EMPTY,
        DayState.DAY_OFF,
        DayState.AHEAD,
    ]
    days = [
        LineDay(day=MONDAY + timedelta(days=index), state=state)
        for index, state in enumerate(states)
    ]

    line = month_line(days)

    assert (line.done, line.asked) == (2, 4)


def test_an_empty_block_draws_nothing():
    line = month_line([])

    assert (line.systems, line.days, line.done, line.asked) == ((), (), 0, 0)


@pytest.mark.parametrize("sound", [0, 6])
def test_an_answer_that_the_check_in_does_not_have_is_refused(sound):
    with pytest.raises(ValueError, match=f"Sound {sound}: choose 1 to 5."):
        LineDay(day=MONDAY, state=DayState.FILED, sound=sound)


def test_a_gap_between_the_days_is_refused():
    days = [LineDay(day=MONDAY + timedelta(days=index), state=DayState.EMPTY) for index in (0, 2)]

    with pytest.raises(ValueError, match="2026-03-04 follows 2026-03-02"):
        month_line(days)
