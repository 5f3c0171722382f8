"""The line of a paper chart. The signs are this program's own; each is tried by hand."""

from datetime import date
from itertools import product
from uuid import UUID

import pytest

from progress.engine.check_in import Discomfort, Effort
from progress.engine.paper import PaperDay, PaperError, key_of, read, write


def the_day(line: str) -> PaperDay:
    found = read(line)
    assert found is not None
    return found


def test_five_squares_are_four_answers_and_the_effort():
    day = the_day("4-351")

    assert day.ratings == (4, None, 3, 5)
    assert day.effort is Effort.VERY_EASY
    assert day.discomfort is Discomfort.NONE


@pytest.mark.parametrize(
    ("line", "told"),
    [("44444h", Discomfort.MILD), ("44444 HH", Discomfort.PAIN), ("hh", Discomfort.PAIN)],
)
def test_h_is_a_little_hurt_and_hh_a_lot(line, told):
    assert the_day(line).discomfort is told


def test_a_day_with_nothing_but_what_hurt_has_no_answers():
    assert the_day("h").ratings == (None, None, None, None)


@pytest.mark.parametrize("line", ["", "   ", "\t"])
def test_an_empty_line_is_a_day_without_practice(line):
    assert read(line) is None


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("4435", "has 4 squares"),
        ("443544", "has 6 squares"),
        ("44954", "'9' is none of 1 to 5"),
        ("44044", "'0' is none of 1 to 5"),
        ("44444hhh", "h for a little"),
        ("44h44", "'h' is none of"),
        ("4435x", "'x' is none of"),
        ("٤٤٤٤٤", "none of 1 to 5"),
    ],
)
def test_what_cannot_be_is_said_with_what_was_given(line, said):
    with pytest.raises(PaperError, match=said):
        read(line)


def test_what_was_given_is_shown_shortly_and_in_plain_signs():
    with pytest.raises(PaperError) as long:
        read(" " + "4" * 30)
    with pytest.raises(PaperError) as odd:
        read("4435\u0664")

    assert str(long.value).startswith("'" + "4" * 23 + " has 30 squares")
    assert str(odd.value).startswith("'4435\\u0664': ")


def test_every_line_is_written_as_it_was_read():
    for squares in product("-135", repeat=5):
        for hurt in ("", "h", "hh"):
            line = "".join(squares) + hurt
            assert write(the_day(line)) == line


def test_the_same_entry_names_a_day_alike_and_two_days_apart():
    entry = UUID(int=7)

    assert key_of(entry, date(2026, 3, 1)) == key_of(entry, date(2026, 3, 1))
    assert key_of(entry, date(2026, 3, 1)) != key_of(entry, date(2026, 3, 2))
