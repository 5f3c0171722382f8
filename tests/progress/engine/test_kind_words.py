"""The kind sentence: worked by hand, and what it never says."""

from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from progress.engine.kind_words import Answers, Code, KindWord, kind_words

RATING = st.none() | st.integers(1, 5)
DAY = st.builds(Answers, attack=RATING, sound=RATING, evenness=RATING, release=RATING)


def days(**rows):
    """Write a month by its rows; what is not given is a 3 every day."""
    length = len(next(iter(rows.values())))
    full = {name: rows.get(name, [3] * length) for name in ("attack", "sound", "evenness")}
    full["release"] = rows.get("release", [3] * length)
    return [
        Answers(**dict(zip(full, each, strict=True))) for each in zip(*full.values(), strict=True)
    ]


def test_a_month_without_a_check_in_has_nothing_to_say():
    assert kind_words([]) == ()


def test_eighteen_days_whose_endings_rose_say_so():
    # By hand: the first six have the mean 2.5, the last six 3.5.
    endings = [2, 3, 2, 3, 2, 3, 3, 3, 3, 3, 3, 3, 4, 3, 4, 3, 4, 3]

    found = kind_words(days(release=endings))

    assert found == (KindWord(Code.DAYS, 18), KindWord(Code.RELEASE, 1.0))


# Four answers a side by hand: a rise of 2 in their sums is half a point, 1 is a quarter.
@pytest.mark.parametrize(("last", "is_told"), [([3, 3, 4, 4], True), ([3, 3, 3, 4], False)])
def test_half_a_point_is_told_and_less_is_not(last, is_told):
    found = kind_words(days(sound=[3, 3, 3, 3, 5, 5, 5, 5, *last]))

    assert (len(found) == 2) is is_told


def test_eleven_answers_are_too_few_and_twelve_are_enough():
    rising = [1, 1, 1, 1, 1, 1, 1, 1, 5, 5, 5, 5]

    assert kind_words(days(attack=rising[1:])) == (KindWord(Code.DAYS, 11),)
    assert kind_words(days(attack=rising))[1] == KindWord(Code.ATTACK, 4.0)


def test_what_was_not_answered_is_left_out_and_does_not_count_as_low():
    told = [None, 3, 3, 3, 3, None, 3, 3, 3, 3, None, 3, 3, 4, 4]

    assert kind_words(days(evenness=told)) == (
        KindWord(Code.DAYS, 15),
        KindWord(Code.EVENNESS, 0.5),
    )


def test_the_largest_rise_is_told_and_of_equal_ones_the_first_in_a_note():
    one, two = [2] * 4 + [3] * 8, [1] * 4 + [3] * 8

    assert kind_words(days(attack=one, release=two))[1].code is Code.RELEASE
    assert kind_words(days(sound=one, release=one))[1].code is Code.SOUND


@given(st.lists(DAY, max_size=62))
def test_a_fall_is_never_told(month):
    for word in kind_words(month)[1:]:
        answers = [one for day in month if (one := getattr(day, word.code)) is not None]
        third = len(answers) // 3

        assert third >= 4
        assert word.figure == pytest.approx(fmean(answers[-third:]) - fmean(answers[:third]))
        assert word.figure >= 0.5


@given(st.lists(DAY, min_size=1, max_size=62))
def test_the_first_word_is_the_number_of_days_and_at_most_one_more_follows(month):
    found = kind_words(month)

    assert found[0] == KindWord(Code.DAYS, len(month))
    assert len(found) <= 2


def test_a_month_that_only_fell_is_told_by_its_days_alone():
    falling = [5] * 6 + [3] * 6 + [1] * 6

    found = kind_words(days(attack=falling, sound=falling, evenness=falling, release=falling))

    assert found == (KindWord(Code.DAYS, 18),)
