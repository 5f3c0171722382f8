"""What may be said beside a recording, at its limits, which are choices of this program."""

from math import inf, nan
from typing import Any

import pytest

from progress.engine.held_notes.request import Request, RequestError

ENDS: list[tuple[str, float, float, str]] = [
    ("a4", 380, 480, r"A4 {}: choose 380 to 480 Hz\."),
    ("tempo", 20, 240, r"Tempo {}: choose 20 to 240 counts a minute\."),
    ("hold", 1, 64, r"Hold {}: choose 1 to 64 counts\."),
    ("rest", 0, 64, r"Rest {}: choose 0 to 64 counts\."),
]


def asked(**said: Any) -> Request:
    return Request(**({"tempo": 60} | said))


@pytest.mark.parametrize(("name", "low", "high", "words"), ENDS)
def test_the_ends_are_taken_and_what_lies_beyond_is_refused_in_words(name, low, high, words):
    for value in (low, high):
        assert getattr(asked(**{name: value}), name) == value
    for value in (low - 1, high + 1, nan, inf):
        with pytest.raises(RequestError, match=words.format(f"{value:g}")):
            asked(**{name: value})


def test_an_expected_note_is_one_that_brass_can_sound():
    assert asked(expected=(16, 108)).expected == (16, 108)
    for midi in (15, 109):
        with pytest.raises(RequestError, match=rf"^Expected note {midi}: choose 16 to 108 as a"):
            asked(expected=(60, midi))


def test_two_hundred_expected_notes_are_the_most():
    assert len(asked(expected=(60,) * 200).expected) == 200
    with pytest.raises(RequestError, match=r"^201 expected notes: name at most 200\.$"):
        asked(expected=(60,) * 201)


@pytest.mark.parametrize("counts", [{"hold": 8}, {"rest": 8}])
def test_counts_are_nothing_without_a_tempo(counts):
    with pytest.raises(RequestError, match="name the tempo too"):
        Request(**counts)
