"""What sets the four criteria apart: differences from the mean of a day, worked out by hand."""

import pytest

from progress.engine.check_in import Criterion
from progress.engine.criteria import Offsets, heard, readings
from progress.engine.level import Level
from progress.engine.parameters import USUAL

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


# A normal mean with a normal prior (A. Gelman et al., Bayesian Data Analysis, 3rd ed., 2.5): the
# weight of what was heard is its precision over the sum of both.
@pytest.mark.parametrize("faded", [1.0, 0.25])
def test_one_day_of_own_ratings_moves_each_criterion_by_its_share_of_precision(faded):
    day = heard([(5, 3, 4, 4)])
    assert day is not None
    offsets = Offsets().with_own(day).faded(faded)
    doubt = USUAL.own_offset_bias_variance + USUAL.own_rating_variance / faded
    share = USUAL.offset_variance / (USUAL.offset_variance + doubt)

    found = readings(Level(4.0, 0.1, 0.0, 0.1), offsets, USUAL, own_count=True)

    assert [one.criterion for one in found] == list(Criterion)
    assert [one.level for one in found] == pytest.approx([4 + share, 4 - share, 4, 4])
    spread = USUAL.offset_variance * (1 - share)
    assert [one.deviation**2 for one in found] == pytest.approx([0.1 + spread] * 4)
    left_out = readings(Level(4.0, 0.1, 0.0, 0.1), offsets, USUAL, own_count=False)
    assert [one.level for one in left_out] == [4.0] * 4
