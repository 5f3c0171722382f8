"""The few highest notes of a month."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from progress.engine.high_notes import HighNote, high_points

FIRST = date(2026, 11, 2)


def notes(*midis):
    return [
        HighNote(day=FIRST + timedelta(days=number), note=midi) for number, midi in enumerate(midis)
    ]


def test_eight_or_fewer_are_all_shown():
    month = notes(79, 78, 79, 80, 77, 79, 81, 80)

    assert high_points(month) == tuple(month)
    assert high_points([]) == ()


def test_of_more_each_stretch_shows_its_highest_and_of_equal_ones_the_first():
    # By hand: ten entries in four stretches are 3, 3, 2 and 2 long.
    month = notes(77, 79, 78, 80, 80, 79, 76, 75, 81, 82)

    assert high_points(month, 4) == (month[1], month[3], month[6], month[9])


@given(st.lists(st.integers(50, 96), max_size=62), st.integers(1, 8))
def test_the_highest_note_of_the_month_is_always_among_them_and_days_go_on(midis, most):
    month = notes(*midis)

    chosen = high_points(month, most)

    assert len(chosen) == min(most, len(month))
    assert [one.day for one in chosen] == sorted(one.day for one in chosen)
    if midis:
        assert max(one.note for one in chosen) == max(midis)
