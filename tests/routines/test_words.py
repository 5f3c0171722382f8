"""What the engine says in codes, said in words."""

import pytest

from routines import words
from routines.engine import dynamics


@pytest.mark.parametrize(
    ("text", "day", "said"),
    [
        ("mf", 1, "Medium loud"),
        ("by-day:f,p", 1, "Today: loud"),
        ("by-day:f,p", 2, "Today: soft"),
        ("by-note:f,p", 2, "Note by note: loud, then soft"),
        ("inside:swell", 1, "In each note: soft, grow louder, soft again"),
    ],
)
def test_dynamics_are_said_in_plain_words(text, day, said):
    assert words.dynamics_on(dynamics.parse(text), day) == said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("mf", "medium loud"),
        ("by-day:f,p", "day by day: loud, then soft"),
        ("by-note:f,p", "note by note: loud, then soft"),
        ("inside:fade", "in each note: loud, then softer to the end"),
    ],
)
def test_the_dynamics_of_a_whole_block_stand_within_a_sentence(text, said):
    assert words.dynamics_within(dynamics.parse(text)) == said
