"""What sets the four criteria apart: differences from the mean of a day, worked out by hand."""

import pytest

from progress.engine.criteria import Offsets, heard

NOTHING = (0.0, 0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("ratings", "sums", "counts"),
    [
        ((5, 3, None, None), (1.0, -1.0, 0.0, 0.0), (1.0, 1.0, 0.0, 0.0)),
        ((5, 4, 4, 3), (1.0, 0.0, 0.0, -1.0), (1.0, 1.0, 1.0, 1.0)),
        ((None, 2, None, None), NOTHING, NOTHING),
    ],
)
def test_two_answers_set_criteria_apart_and_a_single_one_does_not(ratings, sums, counts):
    day = heard([ratings])
    assert day is not None

    own, lesson = Offsets().with_own(day), Offsets().with_lesson(day)

    assert (own.own_sums, own.own_counts) == (sums, counts)
    assert (own.lesson_sums, own.lesson_counts) == (NOTHING, NOTHING)
    assert (lesson.lesson_sums, lesson.lesson_counts) == (sums, counts)
    assert (lesson.own_sums, lesson.own_counts) == (NOTHING, NOTHING)


def test_the_rows_of_a_day_are_averaged_before_anything_else():
    day = heard([(5, 3, None, None), (3, None, None, None)])
    assert day is not None

    assert (day.ratings, day.mean, day.answered) == ((4.0, 3.0, None, None), 3.5, 2)


@pytest.mark.parametrize(
    ("ratings", "share"), [((1, 5, 3, 3), 0.5), ((2, 3, 4, 4), 0.0), ((5, 5, None, None), 1.0)]
)
def test_ratings_at_the_ends_of_the_scale_are_counted(ratings, share):
    day = heard([ratings])
    assert day is not None

    assert day.share_at_ends == share


@pytest.mark.parametrize("rows", [[], [(None,) * 4]])
def test_nothing_was_heard_where_nothing_was_answered(rows):
    assert heard(rows) is None
